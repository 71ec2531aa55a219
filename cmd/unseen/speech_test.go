package main

import (
	"encoding/json"
	"html"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// wordsOfRivers are those that a study of birds and years has no use for.
var wordsOfRivers = regexp.MustCompile(`(?i)\b(fish\w*|rivers?|arrays?|antennas?|pass(ed|es|ing|ages?)?|downstream|upstream|sites?|reach(es)?|smolts?|swim\w*|weirs?|rows?)\b`)

// theirOwn are models as they are written, commands, and titles of others.
var theirOwn = regexp.MustCompile("(?s)survival:\\s[^·]*·\\sdetection:\\s[a-z+ ]+|`[^`]*`|<code>.*?</code>|unseen fit \\S+.*?--json|American Fisheries Society|fish survival experiments|<(style|script)>.*?</(style|script)>|<[^>]*>")

// forPrograms are the keys of texts that programs read: terms, kinds, names.
var forPrograms = []string{"kind", "term", "name", "model", "survival", "detection", "id", "against", "file", "of", "estimate", "check", "what"}

// peopleRead calls f with every text of a document that people read.
func peopleRead(key string, x any, f func(string)) {
	switch x := x.(type) {
	case map[string]any:
		for k, v := range x {
			peopleRead(k, v, f)
		}
	case []any:
		for _, v := range x {
			peopleRead(key, v, f)
		}
	case string:
		if !slices.Contains(forPrograms, key) {
			f(x)
		}
	}
}

// A study that names its animals and occasions is not told of fish and rivers, on
// no screen, in no figure, no text of a document, no refusal and not in the report.
func TestBirdsAreNoFish(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	const folder = "../../testdata/published/lebreton1992/"
	dir := t.TempDir()
	texts := map[string]string{}
	for _, line := range []string{
		"fit dipper.toml", "fit dipper.toml --full", "fit dipper.toml --what-if", "fit dipper.toml --assumptions", "fit dipper_next_seen_by_sex.toml --full",
		"compare dipper.toml --survival same --survival reach", "compare dipper.toml --survival same --survival reach --full",
		"assess dipper.toml", "assess dipper.toml --full --tables", "check dipper.toml", "plan dipper.toml", "plan dipper.toml --options --full", "simulate dipper.toml --replicates 5 --full",
		"fit dipper.toml --second-opinion --full",
		"histories dipper.toml", "histories dipper.toml --counts", "histories dipper.toml --next-seen",
	} {
		args := strings.Fields(line)
		args[1] = folder + args[1]
		code, out, stderr := runHere(t.Context(), t, args...)
		require.Equal(t, exitUsable, code, "%s: %s", line, stderr)
		texts[line] = out
	}
	for line, message := range map[string]string{
		"fit dipper.toml --survival flod":               `nothing in this study is called "flod"; there are same, cohort, reach, flood, sex; did you mean flood?`,
		"growth dipper.toml":                            "the birds have no length and no weight",
		"travel dipper.toml":                            "travel times need the time of every sighting",
		"plan dipper.toml --want passed+at+1999+±+3":    `there is no "1999"`,
		"compare dipper.toml --survival km":             "nothing in this study is called",
		"fit dipper.toml --as-of 1985-01-01":            "needs the times of releases",
		"simulate dipper.toml --truth " + dir + "/none": "say what is wanted",
	} {
		args := strings.Fields(line)
		args[1] = folder + args[1]
		args[len(args)-1] = strings.ReplaceAll(args[len(args)-1], "+", " ")
		code, _, stderr := runHere(t.Context(), t, args...)
		require.NotEqual(t, exitUsable, code, line)
		assert.Contains(t, stderr, message, line)
		texts[line] = regexp.MustCompile(`there are same, [a-z, ]+|"[^"]*"|\[\w+\]`).ReplaceAllString(strings.ReplaceAll(stderr, folder, ""), "")
	}
	for _, line := range []string{"fit dipper.toml --what-if --json", "compare dipper.toml --survival same --survival reach --json", "assess dipper.toml --json", "check dipper.toml --json",
		"histories dipper.toml --json", "plan dipper.toml --options --json", "simulate dipper.toml --replicates 5 --json"} {
		args := strings.Fields(line)
		args[1] = folder + args[1]
		code, out, stderr := runHere(t.Context(), t, args...)
		require.Equal(t, exitUsable, code, "%s: %s", line, stderr)
		var doc any
		require.NoError(t, json.Unmarshal([]byte(out), &doc))
		var read []string
		peopleRead("", doc, func(s string) { read = append(read, s) })
		texts[line] = strings.Join(read, "\n")
	}
	assert.Contains(t, texts["fit dipper.toml --what-if --json"], "no birds are detected later. Only their product is estimable. Another year would separate them.")

	report, figures := filepath.Join(dir, "report.html"), filepath.Join(dir, "figures")
	code, _, stderr := runHere(t.Context(), t, "report", folder+"dipper.toml", "-o", report, "--csv", filepath.Join(dir, "csv"))
	require.Equal(t, exitUsable, code, stderr)
	code, texts["figures"], stderr = runHere(t.Context(), t, "figures", folder+"dipper.toml", "-o", figures, "--format", "svg")
	require.Equal(t, exitUsable, code, stderr)
	drawn, err := filepath.Glob(filepath.Join(figures, "[a-z]*"))
	require.NoError(t, err)
	require.Greater(t, len(drawn), 4)
	for _, path := range append(drawn, report) {
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		texts[filepath.Base(path)] = html.UnescapeString(string(text))
	}
	for name, text := range texts {
		if name == "figures" {
			text = regexp.MustCompile(`passage\S*`).ReplaceAllString(text, "") // the names of files
		}
		if name == "captions.txt" {
			text = regexp.MustCompile(`(?m)^passage$`).ReplaceAllString(text, "")
		}
		plain := theirOwn.ReplaceAllString(text, " ")
		for _, at := range wordsOfRivers.FindAllStringIndex(plain, -1) {
			t.Errorf("%s: …%s…", name, plain[max(0, at[0]-60):min(len(plain), at[1]+40)])
		}
	}
	assert.Contains(t, texts["fit dipper.toml"], "Of 209 tagged birds released before 1986, 26.7 % (21.3–32.6 %) survived to 1986; 24.9 % were seen")
	assert.Contains(t, texts["fit dipper.toml --full"], "model: survival: reach · detection: site"[7:], "a model is written as it is typed")
	assert.Contains(t, texts["report.html"], "fish survival experiments", "titles of others are as they are")
	assert.Contains(t, texts["assess dipper.toml"], "the check on whether detected and missed birds are")

	// A study that is made of this one speaks as it does.
	code, _, stderr = runHere(t.Context(), t, "histories", folder+"dipper.toml", "--csv", filepath.Join(dir, "again"))
	require.Equal(t, exitUsable, code, stderr)
	code, again, stderr := runHere(t.Context(), t, "fit", filepath.Join(dir, "again", "histories.toml"))
	require.Equal(t, exitUsable, code, stderr)
	assert.Equal(t, texts["fit dipper.toml"], again)

	// What programs read is the same for all.
	columns, err := os.ReadFile(filepath.Join(dir, "csv", "passed.csv"))
	require.NoError(t, err)
	assert.Contains(t, string(columns), "site,")
	assert.Contains(t, string(columns), "passed_percent")
	warnings, err := os.ReadFile(filepath.Join(dir, "csv", "warnings.csv"))
	require.NoError(t, err)
	assert.Contains(t, string(warnings), "no birds are detected later", "but for texts, which are for people")
	code, out, stderr := runHere(t.Context(), t, "fit", folder+"dipper.toml", "--json")
	require.Equal(t, exitUsable, code, stderr)
	var doc struct {
		Animal, Occasion string
		Passed           []any
	}
	require.NoError(t, json.Unmarshal([]byte(out), &doc))
	assert.Equal(t, "bird", doc.Animal)
	assert.Equal(t, "year", doc.Occasion)
	assert.NotEmpty(t, doc.Passed)
}
