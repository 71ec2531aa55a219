package main

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// csvFile is what docs/csv.md says of a file: its columns, those that end in ± or
// # standing for several, and whether it has a column for each site.
type csvFile struct {
	columns []string
	sites   bool
	fish    bool // columns of the fish table
}

// documentedFiles are the files of docs/csv.md. A name may stand in several lines.
func documentedFiles(t *testing.T) map[string][]csvFile {
	t.Helper()
	page, err := os.ReadFile("../../docs/csv.md")
	require.NoError(t, err)
	_, files, ok := strings.Cut(string(page), "\n## Files\n")
	require.True(t, ok)
	files, _, _ = strings.Cut(files, "\n## ")
	quoted := regexp.MustCompile("`([^`]+)`")
	out := map[string][]csvFile{}
	for _, line := range strings.Split(files, "\n") {
		if !strings.HasPrefix(line, "- `") {
			continue
		}
		names, of, _ := strings.Cut(line, " (")
		_, columns, _ := strings.Cut(of, ": ")
		f := csvFile{sites: strings.Contains(columns, "*SITE*"), fish: strings.Contains(columns, "*fish columns*")}
		for _, m := range quoted.FindAllStringSubmatch(columns, -1) {
			f.columns = append(f.columns, m[1])
		}
		for _, m := range quoted.FindAllStringSubmatch(names, -1) {
			out[m[1]] = append(out[m[1]], f)
		}
	}
	// The averages of a report are as the tables they average.
	for _, name := range []string{"passed", "survival", "detection"} {
		require.Contains(t, out, "averaged_"+name)
		out["averaged_"+name] = out[name]
	}
	return out
}

// summary are the ends of the names of a sample's summary, #.
var summaryEnds = []string{"_n", "_mean", "_sd", "_min", "_median", "_max"}

// undocumented is the first column of a header that f does not have; "" where it
// has all. groups are the columns that categories and the season add.
func (f *csvFile) undocumented(header, groups []string, site func(string) bool) string {
	for _, h := range header {
		known := slices.Contains(groups, h) || slices.Contains(f.columns, h) || f.sites && (site(h) || strings.HasPrefix(h, "move_") && site(h[len("move_"):]))
		for _, end := range []string{"", "_low", "_high"} {
			known = known || strings.HasSuffix(h, end) && slices.Contains(f.columns, strings.TrimSuffix(h, end)+" ±")
		}
		for _, end := range summaryEnds {
			known = known || strings.HasSuffix(h, end) && slices.Contains(f.columns, strings.TrimSuffix(h, end)+" #")
		}
		if !known {
			return h
		}
	}
	return ""
}

// TestCSVPage: docs/csv.md has every file that the commands write and every
// column of it, and names no file that nothing writes.
func TestCSVPage(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	documented := documentedFiles(t)
	root, err := filepath.Abs("../..")
	require.NoError(t, err)
	t.Chdir(t.TempDir())
	dipper := filepath.Join(root, "testdata/published/lebreton1992/dipper.toml")
	const study = "hollin/study.toml"
	commands := [][]string{
		{"demo", "hollin"}, {"check", study}, {"histories", study}, {"histories", study, "--counts"}, {"histories", study, "--next-seen"},
		{"fit", study}, {"fit", dipper, "--survival", "reach", "--detection", "site", "--what-if", "--second-opinion"},
		{"fit", study, "--survival", "reach + fork_length_mm", "--survival-link", "per km", "--detection", "row"},
		{"fit", study, "--interval", "bootstrap", "--replicates", "1-20", "--save", "all.jsonl"}, {"merge", "all.jsonl"},
		{"fit", study, "--as-of", "2025-04-20", "--drift", "reach", "--spread", "reach"},
		{"compare", study}, {"assess", study, "--survival", "reach + fork_length_mm", "--detection", "row"},
		{"travel", study}, {"season", study, "--on", "2025-04-20"}, {"growth", study, "--tag-weight", "0.105"},
		{"plan", study, "--want", "passed at Tidehead ± 3", "--options", "--power", "week 1 vs week 4 at Scar Weir", "--verify", "10"},
		{"simulate", study, "--replicates", "3", "--survival", "reach + fork_length_mm", "--detection", "row", "--outage", "Tidehead 2025-04-22 to 2025-04-28"},
		{"fit", "idle"},
		{"changes", "old.json", study, "--survival", "reach", "--detection", "site"},
		{"report", study, "-o", "page.html", "--replay", "40", "--survival", "reach + fork_length_mm", "--detection", "row"},
	}
	groups := []string{"cohort", "sex", "data_through"}
	site := regexp.MustCompile(`^(Mill Lade|Alder Ford|Scar Weir|Tidehead|19\d\d)(/(upper|lower))?$`).MatchString
	fishColumns := []string{"species", "fork_length_mm", "weight_g"}
	seen := map[string]bool{}
	for i, args := range commands {
		dir := filepath.Join("csv", string(rune('a'+i)))
		if args[0] == "changes" {
			_, out, _ := runHere(t.Context(), t, "fit", study, "--json")
			require.NoError(t, os.WriteFile("old.json", []byte(out), 0o600))
		}
		if args[1] == "idle" {
			code, _, stderr := runHere(t.Context(), t, "simulate", study, "--out", "idle", "--outage", "Tidehead 2025-04-22 to 2025-04-28")
			require.Zero(t, code, stderr)
		}
		_, _, stderr := runHere(t.Context(), t, append(args, "--csv", dir)...)
		files, err := filepath.Glob(filepath.Join(dir, "*.csv"))
		require.NoError(t, err)
		require.NotEmpty(t, files, "%v: %s", args, stderr)
		for _, path := range files {
			file, err := os.Open(path)
			require.NoError(t, err)
			header, err := csv.NewReader(file).Read()
			require.NoError(t, err, path)
			require.NoError(t, file.Close())
			name := strings.TrimSuffix(filepath.Base(path), ".csv")
			if strings.HasPrefix(name, "effect_") {
				name = "effect_PART_NUMBER"
			}
			seen[name] = true
			if !assert.Contains(t, documented, name, "docs/csv.md has no file %s, of unseen %s", name, args[0]) {
				continue
			}
			var missing string
			for _, f := range documented[name] {
				known := groups
				if f.fish {
					known = slices.Concat(groups, fishColumns)
				}
				if missing = f.undocumented(header, known, site); missing == "" {
					break
				}
			}
			assert.Empty(t, missing, "docs/csv.md: %s, of unseen %s, has no column", name, args[0])
		}
	}
	// What these studies do not write is at least written somewhere.
	var source strings.Builder
	for _, dir := range []string{"view", "figure", "changes"} {
		files, err := filepath.Glob(filepath.Join(root, "cmd/unseen/internal", dir, "*.go"))
		require.NoError(t, err)
		for _, f := range files {
			b, err := os.ReadFile(f)
			require.NoError(t, err)
			source.Write(b)
		}
	}
	for name := range documented {
		if !seen[name] {
			assert.Contains(t, source.String(), `"`+name+`"`, "nothing writes %s of docs/csv.md", name)
		}
	}
	assert.Greater(t, len(seen), 50)
}
