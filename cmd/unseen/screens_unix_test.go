//go:build unix

package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/creack/pty"
	"github.com/rivo/uniseg"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cmd/unseen/internal/explain"
)

// onTerminal runs the program with its answer, or with errors alone its
// complaints, on a pseudo-terminal of so many columns and returns what it shows.
func onTerminal(t *testing.T, columns int, errors bool, args ...string) (code int, screen string) {
	t.Helper()
	screenEnd, programEnd, err := pty.Open()
	require.NoError(t, err)
	require.NoError(t, pty.Setsize(programEnd, &pty.Winsize{Cols: uint16(columns), Rows: 40}))
	shown := make(chan string)
	go func() {
		var b strings.Builder
		io.Copy(&b, screenEnd) // ends with an error once the other end is closed
		shown <- b.String()
	}()
	var out, complaints io.Writer = programEnd, io.Discard
	if errors {
		out, complaints = complaints, out
	}
	code = run(t.Context(), append([]string{"unseen"}, args...), strings.NewReader(""), out, complaints)
	programEnd.Close()
	screen = strings.ReplaceAll(clock.ReplaceAllString(<-shown, ""), "\r\n", "\n")
	screenEnd.Close()
	return code, screen
}

// clock is what a terminal is shown where a run takes long.
var clock = regexp.MustCompile("(\r\x1b\\[Kworking: \\d+ s)+\r\x1b\\[K")

// boundless is a terminal on which nothing need be broken.
const boundless = 5000

var underline = regexp.MustCompile(`^─+$`)

// fits fails where a line is wider than the terminal, but for one word that is,
// and where a word is not one of those that a boundless terminal shows.
func fits(t *testing.T, columns int, screen, whole string) {
	t.Helper()
	words := map[string]bool{}
	for _, w := range strings.Fields(whole) {
		words[w] = true
	}
	for _, line := range strings.Split(screen, "\n") {
		all := strings.Fields(line)
		if uniseg.StringWidth(line) > columns && len(all) > 1 {
			t.Errorf("%d wide, not %d: %s", uniseg.StringWidth(line), columns, line)
		}
		for _, w := range all {
			if !words[w] && !underline.MatchString(w) {
				t.Errorf("a broken word: %s\nin: %s", w, line)
			}
		}
	}
}

// The study of the widest screens: 20 cohorts and 12 sites with long names, one
// of them a single word, made up with a seed.
func longNames(t *testing.T) string {
	t.Helper()
	var b strings.Builder
	b.WriteString("title = \"A river with many arrays whose names are long, and a title that is longer than eighty columns\"\n")
	for k := range 12 {
		name := fmt.Sprintf("Long Reach below the Old Stone Bridge %d", k+1)
		if k == 5 {
			name = "Upper-Middle-Array-at-the-Old-Stone-Weir"
		}
		fmt.Fprintf(&b, "[[site]]\nname = %q\nkm = %d\n", name, 240-20*k)
		if k > 0 {
			b.WriteString("survival = 0.9\ndetection = 0.7\n")
		}
	}
	for c := range 20 {
		fmt.Fprintf(&b, "[[cohort]]\nname = \"released in week %d from the hatchery\"\nfish = 60\n", c+1)
	}
	dir := t.TempDir()
	plan := filepath.Join(dir, "plan.toml")
	require.NoError(t, os.WriteFile(plan, []byte(b.String()), 0o644))
	study := filepath.Join(dir, "study")
	code, _, stderr := runHere(t.Context(), t, "simulate", plan, "--out", study)
	require.Zero(t, code, stderr)
	file := filepath.Join(study, "study.toml")
	data, err := os.ReadFile(file)
	require.NoError(t, err)
	models := "\n[[model]]\nname = \"cohorts alike in pattern\"\nsurvival = \"reach + cohort\"\ndetection = \"site\"\n\n[[model]]\nname = \"all alike\"\nsurvival = \"reach\"\ndetection = \"site\"\n"
	before, _, _ := strings.Cut(string(data), "[[model]]")
	require.NoError(t, os.WriteFile(file, []byte(before+models), 0o644))
	return file
}

// oneArray is a study with one site below the release.
func oneArray(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "h.csv"), []byte("Mill Lade,Scar Weir,count\n1,1,310\n1,0,690\n"), 0o644))
	file := filepath.Join(dir, "study.toml")
	require.NoError(t, os.WriteFile(file, []byte("title = \"One array\"\n[histories]\nfile = \"h.csv\"\n[[site]]\nname = \"Mill Lade\"\n[[site]]\nname = \"Scar Weir\"\n"), 0o644))
	return file
}

// TestScreensFit runs every command on terminals of 80, 100 and 120 columns: no
// line is wider and no word is broken.
func TestScreensFit(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	const demo = "internal/demo/files"
	dir := t.TempDir()
	saved := func(name string, args ...string) string {
		path := filepath.Join(dir, name)
		if args[0] == "fit" {
			_, out, _ := runHere(t.Context(), t, append(args, "--json")...)
			require.NoError(t, os.WriteFile(path, []byte(out), 0o644))
		}
		return path
	}
	earlier := saved("earlier.json", "fit", demo, "--as-of", "2025-05-01")
	replicates := filepath.Join(dir, "replicates.jsonl")
	code, _, stderr := runHere(t.Context(), t, "fit", demo, "--interval", "bootstrap", "--replicates", "1-4", "--save", replicates)
	require.Zero(t, code, stderr)
	tables := filepath.Join(dir, "tables")
	require.NoError(t, os.CopyFS(tables, os.DirFS(demo)))
	require.NoError(t, os.Remove(filepath.Join(tables, "study.toml")))
	page := filepath.Join(dir, "report.html")
	long, one := longNames(t), oneArray(t)
	calls := [][]string{
		{"demo"}, {"new", "--output", filepath.Join(dir, "new.toml"), "--force", tables},
		{"check", demo}, {"check", demo, "--as-of", "2025-05-01"}, {"check", long}, {"check", dipper},
		{"histories", demo}, {"histories", demo, "--counts"}, {"histories", demo, "--next-seen"}, {"histories", long, "--next-seen"}, {"histories", long, "--counts"},
		{"fit", demo}, {"fit", demo, "--as-of", "2025-05-01"}, {"fit", dipper}, {"fit", one}, {"fit", long, "--interval", "logit"},
		{"fit", demo, "--what-if"}, {"fit", dipper, "--what-if"}, {"fit", demo, "--full"}, {"fit", demo, "--full", "--as-of", "2025-05-01"}, {"fit", long, "--full", "--interval", "logit"}, {"compare", demo, "--full"}, {"fit", dipper, "--second-opinion"}, {"fit", demo, "--survival", "reach + fork_length_mm"},
		{"fit", demo, "--interval", "bootstrap", "--replicates", "1-4"}, {"fit", "--assumptions"},
		{"compare", demo}, {"compare", long, "--survival", "reach", "--survival", "same", "--detection", "site"}, {"compare", dipper, "--survival", "same", "--survival", "reach", "--detection", "site", "--test", "survival: same · detection: site", "--against", "survival: reach · detection: site"},
		{"assess", demo}, {"assess", demo, "--tables"}, {"assess", long, "--survival", "reach", "--detection", "site"}, {"assess", dipper, "--tables"},
		{"plan", demo, "--want", "passed at Tidehead ± 3", "--options"}, {"plan", long, "--full", "--survival", "reach", "--detection", "site"}, {"plan", long, "--survival", "reach", "--detection", "site"}, {"plan", dipper},
		{"simulate", demo, "--replicates", "3"}, {"simulate", long, "--replicates", "2", "--survival", "reach", "--detection", "site"}, {"simulate", dipper, "--replicates", "3"}, {"merge", replicates},
		{"travel", demo}, {"travel", demo, "--full"}, {"travel", demo, "--as-of", "2025-05-01"}, {"travel", long, "--full", "--survival", "reach", "--detection", "site"}, {"season", demo, "--every", "40"},
		{"growth", demo}, {"growth", demo, "--tag-weight", "0.105"}, {"changes", earlier, demo},
		{"figures", dipper, "--output", filepath.Join(dir, "figures"), "--format", "svg"}, {"report", dipper, "--output", page},
		{"explain"}, {"--help"}, {"--version"},
	}
	for _, c := range newApp(nil, io.Discard, io.Discard).Commands {
		shown := slices.ContainsFunc(calls, func(args []string) bool { return args[0] == c.Name })
		assert.True(t, shown || c.Name == "open" || c.Name == "completion", "no screen of %s", c.Name) // what they show is for a browser or a shell
		calls = append(calls, []string{c.Name, "--help"})
	}
	for _, e := range explain.Entries() {
		calls = append(calls, []string{"explain", e.ID})
	}
	code, screen := onTerminal(t, 80, false, "report", dipper)
	assert.Equal(t, exitCall, code, "a page is not shown on a terminal")
	assert.Empty(t, screen)
	for _, args := range calls {
		t.Run(strings.Join(args, " "), func(t *testing.T) {
			_, whole := onTerminal(t, boundless, false, args...)
			for _, columns := range []int{80, 100, 120} {
				code, screen := onTerminal(t, columns, false, args...)
				assert.NotEqual(t, exitCall, code, "the call is wrong")
				assert.NotEmpty(t, screen, "what goes into a file says so")
				fits(t, columns, screen, whole)
			}
		})
	}
}

// A fit ends on one screen, at 80 columns too: at most 45 lines, and what the
// warnings take besides. With --full it shows all that it showed, and more.
func TestAFitEndsOnOneScreen(t *testing.T) {
	if testing.Short() && !raced {
		t.Skip("long")
	}
	const demo = "internal/demo/files"
	for _, args := range [][]string{
		{"demo"}, {"fit", demo}, {"fit", demo, "--as-of", "2025-05-01"}, {"fit", demo, "--as-of", "2025-04-04"},
		{"fit", demo, "--survival", "reach by cohort"}, {"fit", dipper}, {"fit", oneArray(t)},
	} {
		_, screen := onTerminal(t, 80, false, args...)
		lines := 0
		warning := false
		for _, line := range strings.Split(strings.TrimSpace(screen), "\n") {
			warning = strings.HasPrefix(line, "! ") || warning && strings.HasPrefix(line, "  ")
			if !warning {
				lines++
			}
		}
		assert.LessOrEqual(t, lines, 45, "%v\n%s", args, screen)
		assert.Contains(t, screen, "\nVerdict: converged")
		_, full := onTerminal(t, 80, false, append(args, "--full")...)
		assert.Greater(t, strings.Count(full, "\n"), strings.Count(screen, "\n"))
		for _, line := range strings.Split(screen, "\n") {
			if strings.HasPrefix(line, "! ") || strings.HasPrefix(line, "Verdict") || strings.Contains(line, "were seen there") {
				assert.Contains(t, full, line)
			}
		}
		assert.Contains(t, full, "unseen fit --assumptions")
	}
}

// Other answers end on one screen as well; with --full they show more, where there is
// more.
func TestAnswersEndOnOneScreen(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	const demo = "internal/demo/files"
	_, out, _ := runHere(t.Context(), t, "fit", demo, "--survival", "reach", "--detection", "row", "--json")
	earlier := filepath.Join(t.TempDir(), "earlier.json")
	require.NoError(t, os.WriteFile(earlier, []byte(out), 0o644))
	for _, args := range [][]string{
		{"histories", demo}, {"histories", demo, "--counts"}, {"compare", demo}, {"assess", demo}, {"season", demo}, {"changes", earlier, demo},
	} {
		_, screen := onTerminal(t, 80, false, args...)
		assert.LessOrEqual(t, strings.Count(screen, "\n"), 45, "%v\n%s", args, screen)
		assert.Contains(t, screen, "--full")
		_, full := onTerminal(t, 80, false, append(args, "--full")...)
		assert.Greater(t, strings.Count(full, "\n"), strings.Count(screen, "\n"))
		assert.NotContains(t, full, "--full")
		answer := strings.Split(screen, "\n\n")[1]
		assert.Contains(t, full, answer, "the answer comes first in both")
	}
}

// Errors are told in lines of the terminal's width, and whole in a pipe.
func TestErrorsFit(t *testing.T) {
	calls := [][]string{
		{"fit", dipper, "--variance-inflation", "0.5"}, {"fti"}, {"fit", "a-folder/that-is-not-there/and-has-a-long-name/study.toml"},
		{"fit", "../../testdata/hard/study/words.toml"}, {"fit", "../../testdata/hard/study/sites.toml"}, {"nonsense"}, {"explain", "nonsense"},
		{"simulate", dipper}, {"fit", dipper, "--survival", "nonsense + reach"},
	}
	for _, args := range calls {
		_, _, piped := runHere(t.Context(), t, args...)
		for _, columns := range []int{80, 100, 120} {
			code, screen := onTerminal(t, columns, true, args...)
			assert.NotEqual(t, exitUsable, code)
			fits(t, columns, screen, piped)
			assert.Equal(t, strings.Fields(piped), strings.Fields(screen))
		}
	}
}

// A pipe is 100 columns wide, and so is a terminal's file.
func TestAPipeIsAHundredWide(t *testing.T) {
	_, piped, _ := runHere(t.Context(), t, "fit", dipper)
	_, screen := onTerminal(t, 100, false, "fit", dipper)
	assert.Equal(t, piped, screen)
	_, narrower := onTerminal(t, 80, false, "fit", dipper)
	assert.NotEqual(t, piped, narrower)
	_, unknown := onTerminal(t, 0, false, "fit", dipper)
	assert.Equal(t, narrower, unknown, "a terminal that tells no width has 80")
}
