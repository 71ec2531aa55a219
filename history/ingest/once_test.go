package ingest

import (
	"bytes"
	"context"
	"os"
	"testing"

	"example.org/unseen/history/study"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A column that the study names and the table lacks is told once, and a cohort that
// is missing does not accuse the column that has its name.
func TestMissingColumnIsToldOnce(t *testing.T) {
	for _, c := range []struct {
		extra, want string
	}{
		{`columns = { released = "Let go" }`, `has no column "Let go" for released; it has tag, released, cohort`},
		{`columns = { fork_length_mm = "FL" }`, `has no column "FL" for fork_length_mm; it has tag, released, cohort`},
		{`cohort = "week"`, `has no column "week" to be the cohort; it has tag, released, cohort`},
	} {
		st := studyOf(t, "", "tag,released,cohort\n985141421300001,2025-04-03,1\n", head)
		text, err := os.ReadFile(st.Path)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(st.Path, bytes.Replace(text, []byte("[fish]"), []byte("[fish]\n"+c.extra), 1), 0o644))
		st, err = study.Load(st.Path)
		require.NoError(t, err)
		_, err = Run(context.Background(), st, Options{})
		if assert.Error(t, err, c.extra) {
			assert.Contains(t, err.Error(), c.want)
			assert.NotContains(t, err.Error(), "\n", "one fault: %s", c.extra)
		}
	}
}
