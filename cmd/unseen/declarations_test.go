package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// declaration is something a study, or the line, can declare: what a study that
// must hear it says without it and with it, each by an independent calculation.
type declaration struct {
	name string // its row in docs/declarations.md
	// without and with are the study; extra are files beside it.
	without, with string
	extra         map[string]string
	flags         []string // with it
	// number is where the answer stands in the JSON of fit; before and after
	// what it must be (NaN: null).
	number        string
	before, after float64
	// stays is a number that the declaration must not move.
	stays string
}

const twoSites = `
[[site]]
name = "Mill Lade"
km = 30
[[site]]
name = "Tidehead"
km = 0
`

const allSeen = `
[[hold]]
site = "Tidehead"
detection = 1
`

// counted is a study of 100 fish of which 30 were seen at the only site.
const counted = "[histories]\nfile = \"counted.csv\"\n" + twoSites

// tagged is a study of 100 fish let go on 1 April 10:00, and sightings.
const tagged = "tag_form = \"text\"\n[fish]\nfile = \"fish.csv\"\n[sightings]\nfiles = [\"seen.csv\"]\n" + twoSites + allSeen

// stoodStill: the site did not work from 8 to 11 April.
const stoodStill = "working = [[2025-04-01, 2025-04-08], [2025-04-12, 2025-06-01]]\n"

// sightings of the fish numbered from on, fish by fish at so many days and hours
// after the first of April.
func sightings(from int, times ...string) string {
	var b strings.Builder
	for i, at := range times {
		fmt.Fprintf(&b, "F%02d,Tidehead,%s\n", from+i, at)
	}
	return b.String()
}

// days are the same hour of days in April, each so often.
func days(hour int, first, last, each int) (out []string) {
	for d := first; d <= last; d++ {
		for range each {
			out = append(out, fmt.Sprintf("2025-04-%02d %02d:00:00", d, hour))
		}
	}
	return out
}

func declarations() []declaration {
	const header = "tag,site,time\n"
	early := sightings(0, days(12, 3, 7, 4)...)      // fish 0 to 19
	late := sightings(20, days(12, 12, 21, 1)...)    // fish 20 to 29
	twice := strings.ReplaceAll(late, "F", "second") // of the same, by another tag
	aliases := "aliases = { "
	for i := 20; i < 30; i++ {
		aliases += fmt.Sprintf("second%d = \"F%d\", ", i, i)
	}
	aliases = strings.TrimSuffix(aliases, ", ") + " }\n"
	removed := "[histories]\nfile = \"removed.csv\"\n" + `
[[site]]
name = "Mill Lade"
[[site]]
name = "Alder Ford"
[[site]]
name = "Tidehead"
[[hold]]
site = "Alder Ford"
detection = 1
` + allSeen
	weeks := "tag,released,cohort\n"
	for i := range 100 {
		weeks += fmt.Sprintf("F%02d,2025-04-%02d 10:00:00,week %d\n", i, 1+14*(i/50), 1+i/50)
	}
	cohorts := strings.Replace(tagged, "fish.csv", "weeks.csv", 1) + "[conditions]\nfile = \"flow.csv\"\n" +
		"[[model]]\nname = \"one\"\ndetection = \"site\"\nsurvival = "
	flow := "date,site,flow\n"
	for d := 1; d <= 30; d++ {
		flow += fmt.Sprintf("2025-04-%02d,Tidehead,%d\n", d, 5+10*(d/15))
	}
	files := func(extra ...string) map[string]string {
		m := map[string]string{}
		for i := 0; i < len(extra); i += 2 {
			m[extra[i]] = extra[i+1]
		}
		return m
	}
	seen := files("seen.csv", header+early+late)
	removedFiles := "Mill Lade,Alder Ford,Tidehead,count%s\n1,1,1,20%s\n1,1,0,20%s\n1,1,0,20%s\n1,0,0,40%s\n"
	return []declaration{
		{name: "`[[hold]]`", without: counted, with: counted + "[[hold]]\nsite = \"Tidehead\"\ndetection = 0.6\n",
			number: "passed.0.passed_percent.estimate", before: math.NaN(), after: 100 * 0.3 / 0.6},
		{name: "`[[test_passes]]`", without: counted, with: counted + "[[test_passes]]\nsite = \"Tidehead\"\npasses = 60\nread = 45\n",
			number: "passed.0.passed_percent.estimate", before: math.NaN(), after: 100 * 0.3 / (45.0 / 60)},
		{name: "`[retention]`", without: counted + allSeen, with: counted + allSeen + "[retention]\nheld = 60\nkept = 48\n",
			number: "passed.0.passed_percent_with_retention.estimate", before: math.NaN(), after: 100 * 0.3 / (48.0 / 60), stays: "passed.0.passed_percent.estimate"},
		{name: "`removed`", without: removed, with: strings.ReplaceAll(removed, "removed.csv", "taken.csv"),
			extra: files("removed.csv", fmt.Sprintf(removedFiles, "", "", "", "", ""),
				"taken.csv", fmt.Sprintf(removedFiles, ",removed", ",", ",", ",Alder Ford", ",")),
			// 60 of 100 came to Alder Ford; 20 of 60, or of the 40 let go again.
			number: "passed.1.passed_percent.estimate", before: 100 * 0.6 * 20 / 60, after: 100 * 0.6 * 20 / 40},
		{name: "`aliases`", without: tagged, with: strings.Replace(tagged, "[sightings]", aliases+"[sightings]", 1), extra: files("seen.csv", header+early+twice),
			number: "passed.0.passed_percent.estimate", before: 20, after: 30},
		{name: "`ghost_tags`", without: tagged, with: tagged + "[rules]\nghost_tags = [\"F20\", \"F21\", \"F22\", \"F23\", \"F24\"]\n", extra: seen,
			number: "passed.0.passed_percent.estimate", before: 30, after: 25},
		// 15 of the fish swam past an hour after their release by a clock two
		// hours slow: an hour before it.
		{name: "`clock`", without: tagged, with: strings.Replace(tagged, "km = 0\n", "km = 0\nclock = [ { seconds = 7200 } ]\n", 1),
			extra:  files("seen.csv", header+early+late+sightings(30, days(9, 1, 1, 15)...)),
			number: "passed.0.passed_percent.estimate", before: 30, after: 45},
		{name: "`last_day`", without: tagged, with: "last_day = 2025-04-10\n" + tagged, extra: seen,
			number: "passed.0.passed_percent.estimate", before: 30, after: 20},
		// All that had passed were seen: what passed so far is the count.
		{name: "`as_of`", without: tagged, with: "as_of = 2025-04-10\n" + tagged, extra: seen,
			number: "passed.0.passed_so_far_percent.estimate", before: math.NaN(), after: 20},
		// While the site stood still nobody was seen, and as many as by the law
		// fitted to the others passed: testdata/outages/declared.py.
		{name: "`working`", without: tagged, with: strings.Replace(tagged, "km = 0\n", "km = 0\n"+stoodStill, 1), extra: seen,
			number: "passed.0.passed_percent.estimate", before: 30, after: 40.366929},
		// Two flows for two cohorts are a value for each: 20 of 50 early fish.
		{name: "`[conditions]`", without: cohorts + "\"same\"\n", with: cohorts + "\"flow\"\n",
			extra:  files("flow.csv", flow, "weeks.csv", weeks, "seen.csv", header+early+sightings(50, days(12, 17, 21, 2)...)),
			number: "passed.1.passed_percent.estimate", before: 30, after: 40},
		{name: "`--variance-inflation`", without: counted + allSeen, with: counted + allSeen, flags: []string{"--variance-inflation", "4"},
			number: "passed.0.passed_percent.se", before: 100 * math.Sqrt(0.3*0.7/100), after: 100 * math.Sqrt(4*0.3*0.7/100), stays: "passed.0.passed_percent.estimate"},
	}
}

// TestEveryDeclarationCounts: what is told the program moves the answer, by as
// much as it must; docs/declarations.md has a row for each with the numbers.
func TestEveryDeclarationCounts(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	page, err := os.ReadFile("../../docs/declarations.md")
	require.NoError(t, err)
	fish := "tag,released\n"
	for i := range 100 {
		fish += fmt.Sprintf("F%02d,2025-04-01 10:00:00\n", i)
	}
	list := declarations()
	for _, d := range list {
		t.Run(d.name, func(t *testing.T) {
			dir := t.TempDir()
			write := func(name, text string) {
				require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
			}
			write("fish.csv", fish)
			write("counted.csv", "Mill Lade,Tidehead,count\n1,1,30\n1,0,70\n")
			for name, text := range d.extra {
				write(name, text)
			}
			answer := func(study string, flags ...string) any {
				write("study.toml", study)
				code, out, stderr := runHere(t.Context(), t, append([]string{"fit", filepath.Join(dir, "study.toml"), "--json"}, flags...)...)
				require.Zero(t, code, stderr)
				var doc any
				require.NoError(t, json.Unmarshal([]byte(out), &doc))
				return doc
			}
			before, after := answer(d.without), answer(d.with, d.flags...)
			check := func(want float64, doc any) {
				t.Helper()
				got := numberAt(t, doc, d.number)
				if math.IsNaN(want) {
					assert.Nil(t, got, d.number)
					return
				}
				// The search ends within 1e-6 standard errors of the maximum.
				assert.InDelta(t, want, got, 1e-4, d.number)
			}
			check(d.before, before)
			check(d.after, after)
			if d.stays != "" {
				assert.InDelta(t, numberAt(t, before, d.stays), numberAt(t, after, d.stays), 1e-9, d.stays)
			}
		})
		shown := func(x float64) string {
			if math.IsNaN(x) {
				return "–"
			}
			return strconv.FormatFloat(x, 'f', 1, 64)
		}
		row := fmt.Sprintf("- %s: %s → %s, ", d.name, shown(d.before), shown(d.after))
		assert.Contains(t, string(page), row, "docs/declarations.md")
	}
	// Every row is one of these, or says in words why it is not.
	rows := 0
	for _, line := range strings.Split(string(page), "\n") {
		if strings.HasPrefix(line, "- `") {
			rows++
		}
	}
	assert.Equal(t, len(list), rows)
}

// numberAt is what stands in a document at keys and indices joined by points.
func numberAt(t *testing.T, doc any, path string) any {
	t.Helper()
	for _, key := range strings.Split(path, ".") {
		switch x := doc.(type) {
		case map[string]any:
			doc = x[key]
		case []any:
			i, err := strconv.Atoi(key)
			require.NoError(t, err, path)
			require.Less(t, i, len(x), path)
			doc = x[i]
		default:
			require.Fail(t, "nothing there", path)
		}
	}
	return doc
}
