package study_test

import (
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history/study"
)

// strange is a key near none, so that its refusal lists those there are.
const strange = "zzzzqqqqzzzz"

// TestEveryKeyIsDocumented asks the reader of study files for its keys, table
// by table, and finds each in the table's section of docs/study-file.md; and no
// key there that the reader does not know.
func TestEveryKeyIsDocumented(t *testing.T) {
	page, err := os.ReadFile("../../docs/study-file.md")
	require.NoError(t, err)
	for section, file := range map[string]string{
		"The top of the file": strange + " = 1",
		"[fish]":              "[fish]\n" + strange + " = 1",
		"[sightings]":         "[sightings]\n" + strange + " = 1",
		"[histories]":         "[histories]\n" + strange + " = 1",
		"[next_seen]":         "[next_seen]\n" + strange + " = 1",
		"[conditions]":        "[conditions]\n" + strange + " = 1",
		"[recaptures]":        "[recaptures]\n" + strange + " = 1",
		"[[site]]":            "[[site]]\n" + strange + " = 1",
		"clock":               "[[site]]\nclock = [{ " + strange + " = 1 }]",
		"[[test_passes]]":     "[[test_passes]]\n" + strange + " = 1",
		"[[hold]]":            "[[hold]]\n" + strange + " = 1",
		"[[model]]":           "[[model]]\n" + strange + " = 1",
		"[retention]":         "[retention]\n" + strange + " = 1",
		"[rules]":             "[rules]\n" + strange + " = 1",
	} {
		_, err := study.Parse("study.toml", []byte(file+"\n"))
		require.Error(t, err)
		m := regexp.MustCompile(`unknown key "` + strange + `".*; there are: (.*)`).FindStringSubmatch(err.Error())
		require.NotNil(t, m, "%s: %v", section, err)
		known := strings.Split(m[1], ", ")
		assert.ElementsMatch(t, known, documented(t, string(page), section), section)
	}
}

// documented are the keys that the items of a section's list begin with.
func documented(t *testing.T, page, section string) []string {
	t.Helper()
	heading := regexp.MustCompile(`(?m)^##+ ` + regexp.QuoteMeta(section) + `$`).FindStringIndex(page)
	require.NotNil(t, heading, section)
	text := page[heading[1]:]
	if next := regexp.MustCompile(`(?m)^##`).FindStringIndex(text); next != nil {
		text = text[:next[0]]
	}
	var out []string
	for _, line := range strings.Split(text, "\n") {
		if !strings.HasPrefix(line, "- `") {
			continue
		}
		first, _, _ := strings.Cut(line, ":")
		for _, m := range regexp.MustCompile("`([a-z_]+)`").FindAllStringSubmatch(first, -1) {
			assert.False(t, slices.Contains(out, m[1]), "%s stands twice in %s", m[1], section)
			out = append(out, m[1])
		}
	}
	return out
}

// TestDocumentedStudyIsRead: the study shown on the page is one.
func TestDocumentedStudyIsRead(t *testing.T) {
	page, err := os.ReadFile("../../docs/study-file.md")
	require.NoError(t, err)
	block := regexp.MustCompile("(?s)```toml\n(.*?)```").FindSubmatch(page)
	require.NotNil(t, block)
	st, err := study.Parse("docs/study-file.md", block[1])
	require.NoError(t, err)
	assert.Len(t, st.Sites, 3)
	assert.Equal(t, map[string]float64{"gate": 1}, st.Sites[2].Attributes)
	assert.Len(t, st.Sites[1].Working, 2)
}
