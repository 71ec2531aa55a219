package plan_test

import (
	"os"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/plan"
)

// TestDocument: the plan file shown in docs/planning.md can be planned, with
// all its options, and every message has its heading there.
func TestDocument(t *testing.T) {
	text, err := os.ReadFile("../../docs/planning.md")
	require.NoError(t, err)
	block := regexp.MustCompile("(?s)```toml\n(.*?)```").FindSubmatch(text)
	require.NotNil(t, block)
	file, err := plan.Parse("docs/planning.md", block[1])
	require.NoError(t, err)
	p, err := plan.FromFile(file)
	require.NoError(t, err)
	f := forecast(t, p)
	assert.Empty(t, f.Cannot)
	assert.Empty(t, f.Cautions)
	w, err := p.ParseWant(file.Want)
	require.NoError(t, err)
	options, err := f.Compare(t.Context(), w, file.Options)
	require.NoError(t, err)
	assert.Len(t, options, len(plan.Kinds))
	for _, o := range options {
		assert.Empty(t, o.Why, o.Name)
	}
	for _, id := range plan.WarningIDs {
		assert.Contains(t, string(text), "\n### "+id+"\n")
	}
}
