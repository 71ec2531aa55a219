package fishtable

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history/rule"
	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
	"example.org/unseen/history/tagindex"
)

// largeTable is a tagging table that is large enough to be read in parts, with
// something of everything that a table may hold.
func largeTable(delim string) []string {
	r := rand.New(rand.NewPCG(2, 71))
	filler := strings.Repeat("remarks of no importance ", 8)
	lines := []string{"tag,released,cohort,fork_length_mm,origin,site,removed,removed_site,shed,died,remark"}
	for i := range 14_000 {
		day, length, origin, site, removed, removedSite, shed, died := 3+i/600, fmt.Sprint(90+r.IntN(90)), "wild", "Mill Lade", "", "", "", ""
		switch r.IntN(40) {
		case 0:
			length = "NA"
		case 1:
			length += ".5"
		case 2:
			site = "Alder Ford"
		case 3:
			removed = fmt.Sprintf("2025-05-%02d", 1+r.IntN(28))
		case 4:
			removed = "Scar Weir"
		case 5:
			removedSite, removed = "Tidehead", "yes"
		case 6:
			shed = fmt.Sprintf("2025-05-%02d 12:00", 1+r.IntN(28))
		case 7:
			shed = "yes"
		case 8:
			died = "1"
		}
		if i > 4000 && i < 9000 { // whole parts without any
			origin = ""
		} else if r.IntN(2) == 0 {
			origin = fmt.Sprintf("hatchery %d", 1+i/3000)
		}
		tag := 985141421300000 + i
		if r.IntN(500) == 0 {
			tag -= r.IntN(min(i, 5000) + 1) // shared with another
		}
		lines = append(lines, strings.Join([]string{fmt.Sprint(tag), fmt.Sprintf("2025-04-%02d %02d:%02d", day, r.IntN(24), r.IntN(60)), fmt.Sprint("week ", 1+i/3000),
			length, origin, site, removed, removedSite, shed, died, filler}, ","))
		if r.IntN(700) == 0 {
			lines = append(lines, lines[len(lines)-1])
		}
		if i%1700 == 9 {
			last := lines[len(lines)-1]
			lines = append(lines, last[strings.Index(last, ","):], "Total,,"+strings.Repeat(",", 8)) // without a tag; a sum
		}
		if r.IntN(900) == 0 {
			lines = append(lines, "")
		}
	}
	for i := range lines {
		lines[i] = strings.ReplaceAll(lines[i], ",", delim)
	}
	return lines
}

// studyOf writes a study with a tagging table; its sightings are not read.
func studyOf(t *testing.T, fish string) *study.Study {
	dir := t.TempDir()
	const text = "[fish]\nfile = \"fish.csv\"\n[sightings]\nfiles = [\"array.csv\"]\n[[site]]\nname = \"Mill Lade\"\n[[site]]\nname = \"Alder Ford\"\n" +
		"rows = { upper = [\"north\"], lower = [\"south\"] }\n[[site]]\nname = \"Scar Weir\"\n[[site]]\nname = \"Tidehead\"\n"
	require.NoError(t, os.WriteFile(filepath.Join(dir, "study.toml"), []byte(text), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "fish.csv"), []byte(fish), 0o644))
	st, err := study.Load(filepath.Join(dir, "study.toml"))
	require.NoError(t, err)
	return st
}

// readFishOf reads a tagging table with so many workers. A table whose header
// is quoted is read as one; fits tells whether the parts of another suffice.
func readFishOf(t *testing.T, lines []string, quoted, fits bool, workers int) (*Table, error) {
	text := strings.Join(lines, "\n") + "\n"
	if quoted {
		text = strings.Replace(text, "tag", `"tag"`, 1)
	}
	st := studyOf(t, text)
	p := table.OpenParts(t.Context(), &st.Fish.Table)
	require.Equal(t, quoted, p == nil)
	if p != nil {
		_, _, parts := readParts(p, st, tagindex.Form{}, workers)
		assert.Equal(t, fits, parts != nil)
	}
	return Read(t.Context(), st, rule.SeasonOf(st, time.Time{}), tagindex.Form{}, workers)
}

// A table read in parts says what it says when it is read as one, whatever the
// number of workers.
func TestPartsAreTheWhole(t *testing.T) {
	for name, table := range map[string]func() []string{
		"commas":         func() []string { return largeTable(",") },
		"semicolons":     func() []string { return largeTable(";") },
		"decimal commas": func() []string { return replaced(largeTable(";"), ".5;", ",5;") },
		"line ends":      func() []string { return replaced(largeTable(","), "importance ", "importance \r") },
		"day first":      func() []string { return dayFirst(largeTable(","), 1) },
		"seen late":      func() []string { return dayFirst(largeTable(","), 13_000) }, // which of the two comes first
	} {
		t.Run(name, func(t *testing.T) {
			if testing.Short() && name != "commas" {
				t.Skip("the same code again")
			}
			lines := table()
			want, err := readFishOf(t, lines, true, true, 2)
			require.NoError(t, err)
			require.Greater(t, len(want.Histories.Columns), 2)
			for _, workers := range []int{1, 3} {
				got, err := readFishOf(t, lines, false, name != "seen late", workers)
				require.NoError(t, err)
				assert.Equal(t, fmt.Sprintf("%+v", want.Histories), fmt.Sprintf("%+v", got.Histories))
				assert.Equal(t, want.Flags, got.Flags)
				assert.Equal(t, want.Findings, got.Findings)
				assert.Equal(t, want.Notes, got.Notes)
				assert.Equal(t, want.removals, got.removals)
				assert.Equal(t, want.Special, got.Special)
				assert.Equal(t, want.Known, got.Known)
				assert.Equal(t, want.Index, got.Index)
			}
		})
	}
}

// dayFirst writes dates with the day first; from that line on, a date tells so.
func dayFirst(lines []string, from int) []string {
	iso, day := regexp.MustCompile(`(\d{4})-(\d\d)-(\d\d)`), regexp.MustCompile(`^(\d+,)\d\d/`)
	for i := range lines {
		lines[i] = iso.ReplaceAllString(lines[i], "$3/$2/$1")
		switch {
		case i == from:
			lines[i] = day.ReplaceAllString(lines[i], "${1}25/")
		case i < from: // none of these tells
			lines[i] = day.ReplaceAllString(lines[i], "${1}05/")
			lines[i] = regexp.MustCompile(`\d\d/05/2025`).ReplaceAllString(lines[i], "06/05/2025")
		}
	}
	return lines
}

// replaced replaces in every line.
func replaced(lines []string, pairs ...string) []string {
	r := strings.NewReplacer(pairs...)
	for i := range lines {
		lines[i] = r.Replace(lines[i])
	}
	return lines
}

// Whatever is wrong with a large table is said as of a small one.
func TestPartsAtFault(t *testing.T) {
	spoil := func(row int, from, to string) func([]string) {
		return func(lines []string) {
			for ; !strings.Contains(lines[row], from); row++ {
			}
			lines[row] = strings.Replace(lines[row], from, to, 1)
		}
	}
	for name, c := range map[string]struct {
		spoil func([]string)
		want  string
	}{
		"a field too few":      {spoil(9000, ",week", ""), "fields where the header names 11 columns"},
		"a bad tag":            {spoil(12_000, "9851414", "98514x4"), "is no digit of a tag code"},
		"a bad time":           {spoil(13_000, "2025-04", "2025-02-30 2025-04"), "column \"released\""},
		"no such day":          {spoil(13_000, "2025-04-24", "2025-04-31"), "no such day"},
		"no such site":         {spoil(8000, "Mill Lade", "Mill Ladle"), `did you mean "Mill Lade"?`},
		"no length but a word": {func(l []string) { l[7000] = "985141421309999,2025-04-05 10:00,week 1,long,,Mill Lade,,,,," }, "holds text and numbers"},
		"a serial time":        {func(l []string) { l[7000] = "985141421309999,45770.5,week 1,100,,Mill Lade,,,,," }, "written in another way"},
		// No part holds both: between them there is none of either.
		"words in whole parts": {func(l []string) {
			for i := 6000; i < len(l); i++ {
				if f := strings.Split(l[i], ","); len(f) > 3 {
					f[3] = map[bool]string{true: "NA", false: "long"}[i < 10_000]
					l[i] = strings.Join(f, ",")
				}
			}
		}, "holds text and numbers"},
		"another decimal sign": {func(l []string) {
			copy(l, largeTable(";"))
			replaced(l[:6000], ".5;", ",5;")
			replaced(l[6000:10_000], ".5;", ";")
		}, "has a decimal point, while line"},
		"a NUL":           {spoil(9000, "remarks", "re\x00arks"), "NUL byte"},
		"a line too long": {spoil(9000, "remarks", strings.Repeat("r", 1<<20)), "longer than 1 MiB"},
	} {
		t.Run(name, func(t *testing.T) {
			if testing.Short() && name != "a bad time" {
				t.Skip("the same code again")
			}
			lines := largeTable(",")
			c.spoil(lines)
			_, want := readFishOf(t, lines, true, false, 2)
			_, got := readFishOf(t, lines, false, false, 2)
			require.Error(t, want)
			require.Error(t, got)
			assert.Contains(t, got.Error(), c.want)
			dir := func(err error) string { // the two stand in folders of their own
				s := err.Error()
				return s[strings.LastIndex(s, string(os.PathSeparator)):]
			}
			assert.Equal(t, dir(want), dir(got))
			assert.Equal(t, strings.Count(want.Error(), "\n"), strings.Count(got.Error(), "\n"))
		})
	}
}
