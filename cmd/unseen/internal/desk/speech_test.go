package desk

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
)

// wordsOfRivers are those that a study of birds and years has no use for.
var wordsOfRivers = regexp.MustCompile(`(?i)\b(fish\w*|rivers?|arrays?|antennas?|pass(ed|es|ing|ages?)?|downstream|upstream|sites?|reach(es)?|smolts?|swim\w*|weirs?|rows?|below (a|it|the last))\b`)

// keys are what is written so: IDs, models, lists of their names, sections of a study file.
var keys = regexp.MustCompile(`[a-z]+(-[a-z]+)+|survival: [^·]* · detection: [a-z+ ]+|there are same, [a-z, ]+|\[+\w+\]+|"[^"]*"`)

// shown are the texts of a page that a reader sees or hears: what stands in code,
// and what is no language, left out.
func shown(page string) []string {
	var out []string
	skip, depth, value := "", 0, ""
	z := html.NewTokenizer(strings.NewReader(page))
	for {
		kind := z.Next()
		t := z.Token()
		stays := false
		for _, a := range t.Attr {
			switch a.Key {
			case "title", "aria-label", "placeholder", "alt":
				out = append(out, a.Val)
			case "translate":
				stays = a.Val == "no"
			case "value":
				value = a.Val
			}
		}
		switch {
		case kind == html.ErrorToken:
			return out
		case kind == html.StartTagToken && skip == "" && (slices.Contains([]string{"code", "pre", "textarea", "script", "style"}, t.Data) || stays):
			skip, depth = t.Data, 1
		case kind == html.StartTagToken && t.Data == skip:
			depth++
		case kind == html.EndTagToken && t.Data == skip:
			if depth--; depth == 0 {
				skip = ""
			}
		case kind == html.TextToken && skip == "" && t.Data != value && strings.TrimSpace(t.Data) != "":
			out = append(out, strings.TrimSpace(t.Data))
		}
	}
}

// The page of a study that names its animals and occasions speaks of no fish and no
// river, in none of its parts, and neither does a refusal.
func TestPageOfBirds(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	dir := t.TempDir()
	for from, to := range map[string]string{"dipper.toml": studyName, "histories.csv": "histories.csv"} {
		text, err := os.ReadFile(filepath.Join("../../../../testdata/published/lebreton1992", from))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, to), text, 0o600))
	}
	d := open(t, dir)
	paths := []string{"tables", "check", "answer", "answer?site=1983", "answer?survival=flod", "answer?survival=flood+%2B+sex", "trust", "season", "plan", "take"}
	for _, id := range []string{"few-fish", "inseparable", "model-alone", "boundary-estimate", "separated", "not-estimable-here", "passed-below-seen"} {
		paths = append(paths, "answer?why="+id)
		assert.Contains(t, get(t, d, "/answer?why="+id), `<h2 translate="no">`+id+"</h2><p>", "what an ID means")
	}
	for _, path := range paths {
		texts := shown(get(t, d, "/"+path))
		assert.Greater(t, len(texts), 20)
		for _, text := range texts {
			if at := wordsOfRivers.FindStringIndex(keys.ReplaceAllString(text, " ")); at != nil {
				t.Errorf("%s: %s", path, text)
			}
		}
		if path == "answer" {
			assert.Contains(t, get(t, d, "/answer"), `<span translate="no">reach</span>`, "a term is written as it is typed")
			assert.Contains(t, strings.ReplaceAll(strings.Join(texts, "\n"), "\u00a0", " "), "Of 209 tagged birds released before 1986, 26.7 % (21.3–32.6 %) survived to 1986")
		}
	}
	figure := get(t, d, "/get/figure/passage.svg")
	assert.Contains(t, figure, "birds")
	assert.NotContains(t, figure, "fish")
}
