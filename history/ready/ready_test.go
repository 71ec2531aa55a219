package ready_test

import (
	"cmp"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"example.org/unseen/history"
	"example.org/unseen/history/ready"
	"example.org/unseen/history/study"
)

const dipper = "../../testdata/published/lebreton1992/"

func load(t *testing.T, path string) *study.Study {
	t.Helper()
	s, err := study.Load(path)
	require.NoError(t, err)
	return s
}

// 294 birds, and 426 releases above the last year: Lebreton et al. 1992.
func TestDipperHistories(t *testing.T) {
	h, from, err := ready.Read(load(t, dipper+"dipper.toml"))
	require.NoError(t, err)
	require.Equal(t, 294, h.Fish())
	require.Equal(t, "histories.csv", from.Input().File)
	require.Len(t, from.Input().SHA256, 64)
	sex := h.Column("sex")
	require.Equal(t, []string{"female", "male"}, sex.Levels)
	total := 0
	for _, n := range released(h) {
		total += n
	}
	require.Equal(t, 426, total)
}

// nextSeen counts for each release site and site, or 0 for none, the fish next
// seen there, from records of undivided sites, one level of the first column
// at a time (-1: all).
func nextSeen(h *history.Histories, level int32) map[[2]int]int {
	out := map[[2]int]int{}
	last := len(h.River.Sites) - 1
	for i := range h.Len() {
		if level >= 0 && h.Columns[0].Level[i] != level {
			continue
		}
		from := int(h.Entry[i])
		for k := from + 1; k <= last; k++ {
			if h.Seen[i]&(1<<(k-1)) != 0 {
				out[[2]int{from, k}] += h.Weight(i)
				from = k
			}
		}
		if from < last && h.End[i] == history.Open {
			out[[2]int{from, 0}] += h.Weight(i)
		}
	}
	return out
}

func released(h *history.Histories) map[int]int {
	out := map[int]int{}
	for cell, n := range nextSeen(h, -1) {
		out[cell[0]] += n
	}
	return out
}

// cohort is the part of h that is one cohort.
func cohort(h *history.Histories, cohort int32) *history.Histories {
	out := &history.Histories{River: h.River}
	for i := range h.Len() {
		if h.Cohort[i] == cohort {
			out.Entry = append(out.Entry, h.Entry[i])
			out.Seen = append(out.Seen, h.Seen[i])
			out.End = append(out.End, h.End[i])
			out.Count = append(out.Count, int32(h.Weight(i)))
			out.Again = append(out.Again, !h.New(i))
		}
	}
	return out
}

// The dipper's histories and the next-seen tables made of them say the same,
// and the pooled table is the published one (Lebreton et al. 1992).
func TestNextSeenAgreesWithHistories(t *testing.T) {
	full, _, err := ready.Read(load(t, dipper+"dipper.toml"))
	require.NoError(t, err)
	pooled, from, err := ready.Read(load(t, dipper+"dipper_next_seen.toml"))
	require.NoError(t, err)
	require.Equal(t, "next_seen_pooled.csv", from.Input().File)
	require.Equal(t, nextSeen(full, -1), nextSeen(pooled, -1))
	require.Equal(t, map[int]int{0: 22, 1: 60, 2: 78, 3: 80, 4: 88, 5: 98}, released(pooled))
	require.Equal(t, []string{"all"}, pooled.Cohorts)
	require.Empty(t, pooled.CohortColumn)
	// Birds first caught in the last year are in no next-seen table.
	newly := 0
	for i := range full.Len() {
		if full.Entry[i] < 6 {
			newly++
		}
	}
	require.Equal(t, newly, pooled.Fish())

	bySex, _, err := ready.Read(load(t, dipper+"dipper_next_seen_by_sex.toml"))
	require.NoError(t, err)
	require.Equal(t, "sex", bySex.CohortColumn)
	require.Equal(t, []string{"female", "male"}, bySex.Cohorts)
	require.Equal(t, newly, bySex.Fish())
	for k := range int32(2) {
		require.Equal(t, nextSeen(full, k), nextSeen(cohort(bySex, k), -1))
	}
}

// table writes a study and its table into a folder of their own.
func table(t *testing.T, toml, csv string) *study.Study {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "t.csv"), []byte(csv), 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "study.toml"), []byte(toml), 0o600))
	return load(t, filepath.Join(dir, "study.toml"))
}

const hollin = `
[[site]]
name = "Mill Lade"
[[site]]
name = "Alder Ford"
rows = { upper = [], lower = [] }
[[site]]
name = "Tidehead"
`

// Every kind of column, a fish entering below the first site, removals, and
// counts.
func TestEveryColumn(t *testing.T) {
	st := table(t, `
time_zone = "Europe/Dublin"
date_order = "day first"
[histories]
file = "t.csv"
cohort = "week"
kinds = { batch = "category" }
columns = { fish = "Tag", week = "Woche", fork_length_mm = "FL", Tidehead = "TH" }
`+hollin, `Tag;Woche;FL;batch;released;removed;count;Mill Lade;Alder Ford/upper;Alder Ford/lower;TH
f1;10;71,5;2;01.04.2025 12:00;;1;1;1;0;1
f2;9;NA;10;2.4.2025 00:30;Alder Ford;2;1;1;1;0

f3;10;70;;;;3;0;0;1;1
f4;9;69;2;03.04.2025 12:00;;1;0;0;0;1
f5;9;68;2;03.04.2025 12:00;Mill Lade;1;1;0;0;0
`)
	h, _, err := ready.Read(st)
	require.NoError(t, err)
	require.Equal(t, []string{"f1", "f2", "f3", "f4", "f5"}, h.Tag)
	require.Equal(t, []uint8{0, 0, 1, 2, 0}, h.Entry)
	// Rows: upper is bit 0, lower 1, Tidehead 2; those of the entry are not seen.
	require.Equal(t, []uint64{0b101, 0b011, 0b100, 0, 0}, h.Seen)
	require.Equal(t, []history.End{history.Open, history.Removed, history.Open, history.Open, history.Removed}, h.End)
	require.Equal(t, []int32{1, 2, 3, 1, 1}, h.Count)
	require.Equal(t, 8, h.Fish())
	require.Equal(t, "week", h.CohortColumn)
	require.Equal(t, []string{"9", "10"}, h.Cohorts, "in natural order")
	require.Equal(t, []int32{1, 0, 1, 0, 0}, h.Cohort)
	require.Len(t, h.Columns, 2, "the cohort is none of the other attributes")
	length := h.Column("fork_length_mm")
	require.True(t, math.IsNaN(length.Value[1]))
	require.Equal(t, 71.5, length.Value[0])
	require.Equal(t, history.Column{Name: "batch", Levels: []string{"2", "10"}, Level: []int32{0, 1, -1, 0, 0}}, *h.Column("batch"))
	// Summer time in Dublin is one hour ahead of UTC (IANA database).
	require.Equal(t, time.Date(2025, 4, 1, 11, 0, 0, 0, time.UTC).UnixMilli(), h.Released[0])
	require.Equal(t, time.Date(2025, 4, 1, 23, 30, 0, 0, time.UTC).UnixMilli(), h.Released[1])
	require.Equal(t, int64(history.NoTime), h.Released[2])
}

// What was settled about a table without being asked is said.
func TestNotes(t *testing.T) {
	st := table(t, "[histories]\nfile = \"t.csv\"\n"+hollin,
		"released;Mill Lade;Alder Ford/upper;Alder Ford/lower;Tidehead\n13.04.2025;1;0;0;0\n")
	_, from, err := ready.Read(st)
	require.NoError(t, err)
	notes := from.Notes()
	require.Len(t, notes, 2)
	require.Contains(t, notes[0], "dates are day first, as line 2 shows: 13.04.2025")
	require.Contains(t, notes[1], "fields parted by semicolons")
}

// A column called almost as an optional one is told, or refused where the table
// has no place for it.
func TestNearNames(t *testing.T) {
	conf := "[histories]\nfile = \"t.csv\"\n" + hollin
	head, record := "Mill Lade,Alder Ford/upper,Alder Ford/lower,Tidehead,", "\n1,0,0,0,1\n"
	for name, findings := range map[string]int{"counts": 1, "count": 0, "size": 0} {
		_, from, err := ready.Read(table(t, conf, head+name+record))
		require.NoError(t, err)
		require.Len(t, from.Findings, findings, name)
		for _, f := range from.Findings {
			require.Equal(t, "near_name", f.ID)
			require.Equal(t, `column "counts" of t.csv is not read as "count", which it resembles`, f.Message)
		}
	}
	_, _, err := ready.Read(table(t, "[next_seen]\nfile = \"t.csv\"\n[[site]]\nname = \"A\"\n[[site]]\nname = \"B\"\n", "cohrt,release_site,released,B\nx,A,5,3\n"))
	require.ErrorContains(t, err, `column "cohrt" has no place in a next-seen table; it holds cohort, release_site, released and a column for each site; did you mean "cohort"?`)
}

// Levels and cohorts do not depend on the order of the records.
func TestRecordOrderIsIrrelevant(t *testing.T) {
	const head = "fish,cohort,batch,Mill Lade,Alder Ford/upper,Alder Ford/lower,Tidehead\n"
	records := []string{"a,week 10,b1,1,0,0,0\n", "b,week 9,b10,1,1,0,0\n", "c,week 1,b2,0,0,1,1\n"}
	toml := "[histories]\nfile = \"t.csv\"\n" + hollin
	forth, _, err := ready.Read(table(t, toml, head+records[0]+records[1]+records[2]))
	require.NoError(t, err)
	back, _, err := ready.Read(table(t, toml, head+records[2]+records[1]+records[0]))
	require.NoError(t, err)
	require.Equal(t, []string{"week 1", "week 9", "week 10"}, forth.Cohorts)
	require.Equal(t, forth.Cohorts, back.Cohorts)
	require.Equal(t, forth.Columns[0].Levels, back.Columns[0].Levels)
	for i := range 3 {
		require.Equal(t, forth.Seen[i], back.Seen[2-i])
		require.Equal(t, forth.Cohort[i], back.Cohort[2-i])
	}
}

// The release site may stand in the table as one column or by its rows.
func TestDividedReleaseSite(t *testing.T) {
	toml := "[histories]\nfile = \"t.csv\"\n[[site]]\nname = \"A\"\nrows = [\"u\", \"l\"]\n[[site]]\nname = \"B\"\n"
	one, _, err := ready.Read(table(t, toml, "A,B\n1,1\n0,1\n"))
	require.NoError(t, err)
	two, _, err := ready.Read(table(t, toml, "A/u,A/l,B\n0,1,1\n0,0,1\n"))
	require.NoError(t, err)
	require.Equal(t, []uint8{0, 1}, one.Entry)
	require.Equal(t, []uint64{1, 0}, one.Seen)
	one.River = two.River // NaN is not equal to itself
	require.Equal(t, one, two)
}

// A next-seen table by hand: 40 + 10 new fish at A and B, 30 of the 32 seen at
// B put back; at C more were seen than released, so some were removed.
func TestNextSeenRecords(t *testing.T) {
	const toml = `[next_seen]
file = "t.csv"
[[site]]
name = "A"
[[site]]
name = "B"
[[site]]
name = "C"
[[site]]
name = "D"
`
	h, _, err := ready.Read(table(t, toml, "release_site,released,B,C,D\nC,12,,0,7\nB,42,,10,5\nA,50,32,4,\n"))
	require.NoError(t, err)
	type record struct {
		entry uint8
		seen  uint64
		end   history.End
		again bool
		count int32
	}
	var got []record
	for i := range h.Len() {
		got = append(got, record{h.Entry[i], h.Seen[i], h.End[i], h.Again[i], h.Count[i]})
	}
	require.Equal(t, []record{
		{0, 0b001, history.Continued, false, 32},
		{0, 0b010, history.Continued, false, 4},
		{0, 0, history.Open, false, 14},
		// 42 released, 32 seen there: 10 new. They are all of the first cell.
		{1, 0b010, history.Continued, false, 10},
		{1, 0b100, history.Continued, true, 5},
		{1, 0, history.Open, true, 27},
		// 12 released of 14 seen: none new.
		{2, 0b100, history.Continued, true, 7},
		{2, 0, history.Open, true, 5},
	}, got)
	require.Equal(t, 60, h.Fish())

	// New fish that end within a cell split it.
	h, _, err = ready.Read(table(t, toml, "release_site,released,B,C,D\nA,50,35,,\nB,42,,10,5\n"))
	require.NoError(t, err)
	require.Equal(t, 57, h.Fish())
	require.Equal(t, []int32{35, 15, 7, 3, 5, 27}, h.Count)
	require.Equal(t, []bool{false, false, false, true, true, true}, h.Again)
}

type fault struct {
	line int
	says string
}

// The museum of tables that must be refused, each fault by its line.
func TestRefusals(t *testing.T) {
	cases := map[string][]fault{
		"histories/records.csv": {
			{3, `column "Alder Ford/upper": "2" is not 0 or 1`},
			{4, `column "Alder Ford/upper": "" is not 0 or 1`},
			{5, "the fish was detected at no site"},
			{6, `fish "f01" stands twice; first on line 2`},
			{7, "the cohort is missing"},
			{8, `column "length": holds text and numbers: "long", and "71" on line 2`},
			{9, `removed at "Tidehead", where the fish was not detected: its last 1 is at "Alder Ford"`},
			{10, `removed at "Alder Ford", but detected later at "Tidehead"`},
			{11, `the study has no site "Alder Frod"; did you mean "Alder Ford"?`},
			{12, `"0" is not a whole number from 1`},
			{13, `"1.5" is not a whole number from 1`},
			{14, "the fish has no name"},
			{15, "7 fields where the header names 9 columns"},
			{16, `column "Mill Lade": "yes" is not 0 or 1`},
		},
		"histories/header.csv": {
			{1, `no column "Alder Ford/upper"; the table has fish, reach, Mill Lade, Alder Ford/uper, Alder Ford/lower; did you mean "Alder Ford/uper"?`},
			{1, `no column "Tidehead"; the table has fish, reach`},
			{1, `"reach" is a word of the model language and cannot name a column`},
		},
		"histories/none.csv":  {{1, "the table has a header but no fish"}},
		"histories/dates.csv": {{1, "set date_order"}},
		"histories/no_such_day.csv": {
			{3, `"2025-04-31": no such day`},
			{4, `"3.4.25": a year of two digits`},
		},
		"next_seen/records.csv": {
			{2, "100 were released, but 101 of them next seen"},
			{3, `3 fish released at "Alder Ford" cannot be next seen at "Alder Ford"`},
			{4, `"-1" is not a whole number`},
			{5, `the study has no site "Alder Frod"`},
			{6, `the releases of this cohort at "Mill Lade" stand twice; first on line 2`},
			{7, "the cohort is missing"},
			{8, `"many" is not a whole number`},
			{9, `"1.5" is not a whole number`},
		},
		"next_seen/header.csv": {
			{1, `no column "release_site"; the table has release_sites, released, Alder Ford, never; did you mean "release_sites"?`},
			{1, `no column "Tidehead"`},
			{1, `column "release_sites" has no place in a next-seen table`},
			{1, `column "never" has no place in a next-seen table`},
		},
		"next_seen/no_fish.csv": {{2, `cohort "early" has no fish`}},
		"next_seen/none.csv":    {{1, "the table has a header but no releases"}},
	}
	const hard = "../../testdata/hard/"
	files, err := filepath.Glob(hard + "*/*.csv")
	require.NoError(t, err)
	require.Len(t, files, len(cases), "each file of the museum has its case")
	for name, want := range cases {
		t.Run(name, func(t *testing.T) {
			st := load(t, hard+filepath.Dir(name)+"/study.toml")
			cmp.Or(st.Histories, st.NextSeen).File = hard + name
			_, _, err := ready.Read(st)
			var got *history.Faults
			require.ErrorAs(t, err, &got)
			for i, f := range got.List {
				require.Equal(t, hard+name, f.Pos.File)
				require.Less(t, i, len(want), "not expected: %v", f)
				require.Equal(t, want[i].line, f.Pos.Line, f.Message)
				require.Contains(t, f.Message, want[i].says)
			}
			require.Len(t, got.List, len(want))
		})
	}
}

// Faults of how the study and its table fit together; they name the study's
// line where it is at fault.
func TestStudyAgainstTable(t *testing.T) {
	const head = "fish,sex,Mill Lade,Alder Ford/upper,Alder Ford/lower,Tidehead\nf1,male,1,0,0,0\n"
	for _, c := range []struct{ conf, head, says string }{
		{"columns = { fish = \"Tag\" }", head, `study.toml:3: `},
		{"columns = { fish = \"Tag\" }", head, `no column "Tag" for fish`},
		{"columns = { weight = \"W\" }", head, `no column "W" for weight`},
		{"columns = { fish = \"sex\", removed = \"sex\" }", head, `column "sex" is used twice`},
		{"cohort = \"sxe\"", head, `it has fish, sex, Mill Lade, Alder Ford/upper, Alder Ford/lower, Tidehead; did you mean "sex"?`},
		{"kinds = { sxe = \"category\" }", head, `kinds names "sxe", which is no attribute`},
		{"", strings.Replace(head, "sex", "site", 1), `"site" is a word of the model language`},
		{"cohort = \"sex\"", strings.Replace(head, "fish", "cohort", 1), `"cohort" is a word of the model language`},
		{"columns = { length = \"sex\" }", strings.Replace(head, "fish", "length", 1), `two columns are called "length"`},
	} {
		_, _, err := ready.Read(table(t, "[histories]\nfile = \"t.csv\"\n"+c.conf+"\n"+hollin, c.head))
		require.ErrorContains(t, err, c.says)
	}
	_, _, err := ready.Read(table(t, "[next_seen]\nfile = \"t.csv\"\n"+hollin, "release_site,released\n"))
	require.ErrorContains(t, err, `site "Alder Ford" has rows; a next-seen table cannot tell`)
	_, _, err = ready.Read(load(t, "../../cmd/unseen/internal/demo/files/study.toml"))
	require.ErrorContains(t, err, "the study has no [histories]")
}
