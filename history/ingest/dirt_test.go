package ingest

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math/bits"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"example.org/unseen/history"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/sighting"
	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
	"example.org/unseen/history/tagcode"
)

// reading is a sighting before it is written down.
type reading struct {
	tag           string
	site, antenna string
	at            time.Time
	raw           string // a whole line instead
}

// world is a made-up study whose truth is known.
type world struct {
	fish  []string // records of the fish table
	reads []reading
	// boxes is how many records each rule must set aside.
	boxes map[string]int64
}

const worldFish = "tag,released,cohort,fork_length_mm,removed,removed_site,died,shed"

const worldStudy = `
time_zone = "Europe/Dublin"
as_of     = 2025-06-20T12:00:00Z
last_day  = 2025-06-10

[fish]
file    = "fish.csv"
cohort  = "cohort"
aliases = { "985141421900001" = "985141421300003" }

[sightings]
files = ["arrays"]

[rules]
fastest_km_per_day = 100
test_tags  = ["999000000000001"]
ghost_tags = ["985141421800001"]

[[site]]
name = "Mill Lade"
km   = 58.0
[[site]]
name = "Alder Ford"
km   = 36.6
rows = { upper = ["north", "middle"], lower = ["south"] }
[[site]]
name = "Scar Weir"
km   = 14.2
working = [[2025-04-01T00:00:00Z, 2025-05-30T00:00:00Z]]
[[site]]
name = "Tidehead"
km   = 0.0
antennas = ["bank"]
`

func tagOf(n int) string { return fmt.Sprint(985141421300000 + n) }

// cleanWorld has nothing in it that a rule sets aside.
func cleanWorld(seed uint64) *world {
	r := rand.New(rand.NewPCG(seed, 1))
	w := &world{boxes: map[string]int64{}}
	start := time.Date(2025, 4, 3, 20, 0, 0, 0, time.UTC)
	for i := range 300 {
		released := start.AddDate(0, 0, i%20)
		removed, at := "", -1
		if i%29 == 7 {
			removed, at = "Scar Weir", 2
		}
		w.fish = append(w.fish, fmt.Sprintf("%s,%s,week %d,%d,,%s,,", tagOf(i), released.Format("2006-01-02T15:04Z"), i%20/7+1, 100+i%60, removed))
		days := 1 + 3*r.Float64()
		stops := []struct {
			site, antenna string
			after         float64
		}{{"Alder Ford", "north", 1}, {"Alder Ford", "middle", 1.001}, {"Alder Ford", "south", 1.01}, {"Scar Weir", "fishway", 2}, {"Tidehead", "bank", 3}}
		alive := r.IntN(5) + 1
		for k, s := range stops {
			if k > alive && at < 0 || r.Float64() > 0.7 && !(at == 2 && k == 3) || at == 2 && k > 3 {
				continue
			}
			t := released.Add(time.Duration(s.after * days * 24 * float64(time.Hour))).Truncate(time.Second)
			for n := range 1 + r.IntN(4) {
				tag := tagOf(i)
				if i == 3 && n > 0 {
					tag = "985141421900001"
				}
				w.reads = append(w.reads, reading{tag: tag, site: s.site, antenna: s.antenna, at: t.Add(time.Duration(n*7) * time.Second)})
			}
		}
	}
	// The last second that counts of the last day, which ends at midnight in
	// Dublin: no rule may take it.
	late := reading{tag: tagOf(1), site: "Tidehead", antenna: "bank", at: time.Date(2025, 6, 10, 22, 59, 59, 0, time.UTC)}
	w.reads = append(w.reads, late)
	return w
}

// soil adds every kind of dirt and keeps count.
func (w *world) soil(seed uint64) {
	r := rand.New(rand.NewPCG(seed, 2))
	day := time.Date(2025, 4, 28, 12, 0, 0, 0, time.UTC)
	add := func(rule string, reads ...reading) {
		w.boxes[rule] += int64(len(reads))
		w.reads = append(w.reads, reads...)
	}
	clean := slices.Clone(w.reads)
	seen := func(tag string, sites ...string) bool {
		return slices.ContainsFunc(clean, func(x reading) bool { return x.tag == tag && slices.Contains(sites, x.site) })
	}
	good := clean[0].tag + ",Alder Ford,north,2025-04-28 12:00:00"
	for _, line := range []string{
		"985141421300001,Alder Ford,north", good + ",more", "half a line", good[:len(good)-9] + `"12:00:00`,
		`"` + good, good + "\x00", `985141421300001,Alder "Ford",north,2025-04-28 12:00:00`,
		strings.Repeat("x", table.MaxRecord+1), ",,", "\x00",
	} {
		add("unreadable", reading{raw: line})
	}
	for _, tag := range []string{"9.85E+14", "98514142135623", "982274877906944", "", "no tag", "3D6.4000000000", "000000000000000"} {
		add("bad_tag", reading{raw: tag + ",Alder Ford,north,2025-04-28 12:00:00"})
	}
	for _, at := range []string{"", "2025-02-30 12:00:00", "25-04-28 12:00", "2025-04-28 12:61:00", "noon", "45780.5"} {
		add("bad_time", reading{raw: tagOf(1) + ",Alder Ford,north," + at})
	}
	for i := range 20 {
		add("test_tag", reading{tag: "999000000000001", site: "Tidehead", antenna: "bank", at: day.Add(time.Duration(i) * time.Hour)})
	}
	for i := range 31 {
		add("test_tag", reading{tag: "900000000000077", site: "Tidehead", antenna: "bank", at: day.Add(time.Duration(i) * 50 * time.Minute)})
	}
	// As regular, but at two antennas: no test tag.
	for i := range 31 {
		add("unknown_tag", reading{tag: "900000000000078", site: "Alder Ford", antenna: []string{"north", "south"}[i%2], at: day.Add(time.Duration(i) * 50 * time.Minute)})
	}
	for i := range 12 {
		add("unknown_tag", reading{tag: fmt.Sprint(900000000000001 + i%5), site: "Tidehead", antenna: "bank", at: day.Add(time.Duration(r.IntN(1000)) * time.Minute)})
	}
	add("unknown_tag", reading{tag: "900000000000002", site: "Workshop", antenna: "bench", at: day})
	w.fish = append(w.fish,
		"985141421500001,2025-04-03T20:00Z,week 1,120,,,,", "985141421500001,2025-04-04T20:00Z,week 1,130,,,,",
		"985141421500002,2025-04-03T20:00Z,week 1,120,,,yes,", "985141421500003,2025-04-03T20:00Z,week 1,120,,,,yes",
		"985141421900001,2025-04-05T20:00Z,week 9,120,,,,", // the second tag of fish 3
		w.fish[10], // a copy
	)
	for i := range 4 {
		add("shared_tag", reading{tag: "985141421500001", site: "Scar Weir", antenna: "x", at: day.Add(time.Duration(i) * time.Second)})
	}
	for range 3 {
		add("died_in_recovery", reading{tag: "985141421500002", site: "Alder Ford", antenna: "north", at: day})
	}
	for range 2 {
		add("shed_tag", reading{tag: "985141421500003", site: "Alder Ford", antenna: "south", at: day})
	}
	for range 5 {
		add("ghost_tag", reading{tag: "985141421800001", site: "Alder Ford", antenna: "south", at: day})
	}
	for range 6 {
		add("unknown_site", reading{tag: tagOf(r.IntN(300)), site: "Workshop", antenna: "north", at: day})
	}
	for _, x := range []reading{{site: "Alder Ford", antenna: "bank"}, {site: "Alder Ford"}, {site: "Tidehead", antenna: "north"}, {site: "Tidehead", antenna: "Bank"}} {
		x.tag, x.at = tagOf(5), day
		add("unknown_antenna", x)
	}
	for range 3 {
		add("after_as_of", reading{tag: tagOf(r.IntN(300)), site: "Alder Ford", antenna: "north", at: time.Date(2025, 6, 20, 12, 0, 1, 0, time.UTC)})
	}
	// The last day ends at midnight in Dublin, 23:00 UTC.
	add("after_last_day", reading{tag: tagOf(8), site: "Tidehead", antenna: "bank", at: time.Date(2025, 6, 10, 23, 0, 0, 0, time.UTC)})
	for range 7 {
		add("before_release", reading{tag: tagOf(r.IntN(300)), site: "Alder Ford", antenna: "north", at: time.Date(2025, 4, 3, 19, 59, 59, 0, time.UTC)})
	}
	for range 3 {
		add("after_removal", reading{tag: tagOf(7), site: "Tidehead", antenna: "bank", at: day})
	}
	for range 4 {
		add("outside_working", reading{tag: tagOf(9), site: "Scar Weir", antenna: "any", at: time.Date(2025, 5, 30, 0, 0, 0, 0, time.UTC)})
	}
	for range 5 {
		add("at_release", reading{tag: tagOf(r.IntN(300)), site: "Mill Lade", antenna: "trap", at: day})
	}
	// Fish not detected from Scar Weir down, carried to the mouth at once.
	n := 0
	for i := 20; n < 3 && i < 300; i += 20 { // released on the first evening
		if i%29 != 7 && !seen(tagOf(i), "Scar Weir", "Tidehead") {
			n++
			for k := range 2 {
				add("too_fast", reading{tag: tagOf(i), site: "Tidehead", antenna: "bank", at: time.Date(2025, 4, 3, 21, 0, k, 0, time.UTC)})
			}
		}
	}
	// Fish missed at Alder Ford that came back to it from farther down.
	n = 0
	for i := 2; n < 4 && i < 300; i++ {
		if seen(tagOf(i), "Scar Weir", "Tidehead") && !seen(tagOf(i), "Alder Ford") && i%29 != 7 {
			n++
			for k := range n {
				add("turned_back", reading{tag: tagOf(i), site: "Alder Ford", antenna: "north", at: time.Date(2025, 5, 20, 21, 0, k, 0, time.UTC)})
			}
		}
	}
	// Copies of good records are repeats.
	w.reads = append(w.reads, clean[:25]...)
}

// way is how a world is written down.
type way struct {
	delim   string
	files   int
	ending  string // ".csv", ".csv.gz", ".csv.zst", ".xlsx"
	shuffle uint64
	quote   bool
	crlf    bool
	bom     bool
	hex     bool
	layout  string // of times
	workers int
}

func (w *world) write(t testing.TB, how way) *study.Study { return w.writeStudy(t, worldStudy, how) }

func (w *world) writeStudy(t testing.TB, text string, how way) *study.Study {
	dir := t.TempDir()
	write := func(name, text string) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
	}
	write("study.toml", text)
	write("fish.csv", worldFish+"\n"+strings.Join(w.fish, "\n")+"\n")
	require.NoError(t, os.Mkdir(filepath.Join(dir, "arrays"), 0o755))
	if how.delim == "" {
		how.delim = ","
	}
	if how.layout == "" {
		how.layout = "2006-01-02 15:04:05"
	}
	dublin, err := time.LoadLocation("Europe/Dublin")
	require.NoError(t, err)
	fields := func(x reading) []string {
		if x.raw != "" {
			return strings.Split(x.raw, ",")
		}
		tag := x.tag
		if how.hex {
			c, err := tagcode.Parse(tag)
			require.NoError(t, err)
			tag = c.Hex()
		}
		return []string{tag, x.site, x.antenna, x.at.In(dublin).Format(how.layout)}
	}
	reads := slices.Clone(w.reads)
	if how.shuffle > 0 {
		r := rand.New(rand.NewPCG(how.shuffle, 3))
		r.Shuffle(len(reads), func(i, j int) { reads[i], reads[j] = reads[j], reads[i] })
	}
	n := max(1, how.files)
	for f := range n {
		part := reads[len(reads)*f/n : len(reads)*(f+1)/n]
		rows := [][]string{{"tag", "site", "antenna", "time"}}
		for _, x := range part {
			rows = append(rows, fields(x))
		}
		path := filepath.Join(dir, "arrays", fmt.Sprintf("%02d%s", f, how.ending))
		if how.ending == ".xlsx" {
			writeSheet(t, path, rows)
			continue
		}
		var b bytes.Buffer
		if how.bom {
			b.WriteString("\xef\xbb\xbf")
		}
		for _, row := range rows {
			if how.quote {
				for i := range row {
					row[i] = `"` + strings.ReplaceAll(row[i], `"`, `""`) + `"`
				}
			}
			b.WriteString(strings.Join(row, how.delim))
			if how.crlf {
				b.WriteByte('\r')
			}
			b.WriteByte('\n')
		}
		writeCompressed(t, path, b.Bytes())
	}
	st, err := study.Load(filepath.Join(dir, "study.toml"))
	require.NoError(t, err)
	return st
}

func writeSheet(t testing.TB, path string, rows [][]string) {
	x := excelize.NewFile()
	for i, row := range rows {
		cell, err := excelize.CoordinatesToCellName(1, i+1)
		require.NoError(t, err)
		require.NoError(t, x.SetSheetRow("Sheet1", cell, &row))
	}
	require.NoError(t, x.SaveAs(path))
}

func writeCompressed(t testing.TB, path string, text []byte) {
	f, err := os.Create(path)
	require.NoError(t, err)
	var w io.WriteCloser = f
	switch {
	case strings.HasSuffix(path, ".gz"):
		w = gzip.NewWriter(f)
	case strings.HasSuffix(path, ".zst"):
		w, err = zstd.NewWriter(f)
		require.NoError(t, err)
	}
	_, err = w.Write(text)
	require.NoError(t, err)
	require.NoError(t, w.Close())
	if w != f {
		require.NoError(t, f.Close())
	}
}

func ingestWorld(t testing.TB, st *study.Study, opt Options) *Result {
	res, err := Run(context.Background(), st, opt)
	require.NoError(t, err)
	require.Equal(t, res.Accounting.Read, res.Accounting.Sum())
	return res
}

// shown is all of the histories, as text.
func shown(h *history.Histories) string { return fmt.Sprintf("%+v", *h) }

func boxes(a *history.Accounting) map[string]int64 {
	out := map[string]int64{}
	for _, b := range a.SetAside {
		out[b.Rule] = b.Records
	}
	return out
}

// A clean study with every kind of dirt in it gives the clean study's
// histories, and every box holds exactly what was put there.
func TestDirtGoesToItsBoxes(t *testing.T) {
	clean := cleanWorld(7)
	before := ingestWorld(t, clean.write(t, way{ending: ".csv"}), Options{})
	require.Empty(t, before.Accounting.SetAside)
	require.EqualValues(t, len(clean.reads), before.Accounting.Read)

	dirty := cleanWorld(7)
	dirty.soil(7)
	for id := rule.Unreadable; id < rule.Count; id++ {
		require.NotZero(t, dirty.boxes[rule.Of(id).ID], "no dirt for %s", rule.Of(id).ID)
	}
	for seed := range uint64(3) {
		after := ingestWorld(t, dirty.write(t, way{ending: ".csv", shuffle: seed}), Options{})
		assert.Equal(t, dirty.boxes, boxes(&after.Accounting))
		assert.Equal(t, before.Accounting.Kept, after.Accounting.Kept)
		assert.Equal(t, before.Accounting.Repeats+25, after.Accounting.Repeats)
		assert.EqualValues(t, len(dirty.reads), after.Accounting.Read)
		assert.Equal(t, shown(before.Histories), shown(after.Histories))
		ids := map[string]bool{}
		for _, f := range after.Findings {
			ids[f.ID] = true
		}
		for _, id := range []string{"shared_tag", "copied_fish", "tagged_twice", "died_before_release", "shed_before_release"} {
			assert.True(t, ids[id], "no finding %s", id)
		}
	}
}

// What is set aside can be listed, each record with its own line and box, and
// the first of each box is the box's example.
func TestSetAsideListsEveryRecord(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	w := cleanWorld(8)
	w.soil(8)
	st := w.write(t, way{ending: ".csv", shuffle: 5, files: 3})
	got, first := map[string]int64{}, map[string]string{}
	res := ingestWorld(t, st, Options{SetAside: func(s sighting.SetAside) error {
		if got[s.Rule]++; got[s.Rule] == 1 {
			first[s.Rule] = fmt.Sprintf("%s:%d", s.File, s.Line)
		}
		if s.Rule == "bad_time" || s.Rule == "bad_tag" {
			assert.NotEmpty(t, s.Reason)
		}
		text, err := os.ReadFile(filepath.Join(filepath.Dir(st.Path), s.File))
		require.NoError(t, err)
		line := strings.Split(string(text), "\n")[s.Line-1]
		if s.Rule != "unreadable" {
			assert.Contains(t, line, s.Tag+","+s.Site+","+s.Antenna)
		}
		return nil
	}})
	assert.Equal(t, w.boxes, got)
	for _, b := range res.Accounting.SetAside {
		assert.Equal(t, first[b.Rule], b.Example, b.Rule)
	}
	for _, workers := range []int{1, 4} {
		again := ingestWorld(t, st, Options{Workers: workers})
		assert.Equal(t, res.Accounting, again.Accounting)
		assert.Equal(t, res.Findings, again.Findings)
		assert.Equal(t, res.Flags, again.Flags)
	}
	stop := fmt.Errorf("enough")
	_, err := Run(context.Background(), st, Options{SetAside: func(sighting.SetAside) error { return stop }})
	assert.ErrorIs(t, err, stop)
}

// However the records are written down, the histories are the same bytes.
func TestHowItIsWrittenDoesNotMatter(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	w := cleanWorld(9)
	w.soil(9)
	// Without the records that not every way can carry.
	w.reads = slices.DeleteFunc(w.reads, func(x reading) bool { return x.raw != "" })
	want := ingestWorld(t, w.write(t, way{ending: ".csv"}), Options{})
	for _, how := range []way{
		{ending: ".csv", shuffle: 1}, {ending: ".csv", files: 7}, {ending: ".csv.gz", files: 2, shuffle: 2}, {ending: ".csv.zst"},
		{ending: ".xlsx", files: 2}, {ending: ".csv", delim: ";"}, {ending: ".tsv", delim: "\t"}, {ending: ".txt", delim: "|"},
		{ending: ".csv", quote: true}, {ending: ".csv", crlf: true, bom: true}, {ending: ".csv", hex: true},
		{ending: ".csv", layout: "2006-01-02T15:04:05-07:00"}, {ending: ".csv", layout: "2/1/2006 15:04:05"}, {ending: ".csv", layout: "01/02/2006 3:04:05 PM"},
		{ending: ".csv", workers: 1}, {ending: ".csv", workers: 5, shuffle: 4, files: 3},
	} {
		got := ingestWorld(t, w.write(t, how), Options{Workers: how.workers})
		assert.Equal(t, shown(want.Histories), shown(got.Histories), "%+v", how)
		assert.Equal(t, boxes(&want.Accounting), boxes(&got.Accounting), "%+v", how)
		assert.Equal(t, want.Accounting.Kept, got.Accounting.Kept)
		assert.Equal(t, want.Flags, got.Flags)
		assert.Equal(t, fmt.Sprint(want.WorkingShare), fmt.Sprint(got.WorkingShare)) // NaN is not itself
	}
}

func TestDuplicates(t *testing.T) {
	w := cleanWorld(10)
	n := len(w.reads)
	w.reads = append(w.reads, w.reads[:40]...)
	w.reads = append(w.reads, w.reads[5])
	// The same but for one field each is no duplicate.
	other := w.reads[5]
	other.antenna += "2"
	third := w.reads[5]
	third.at = third.at.Add(time.Second / 2).Truncate(time.Second).Add(100 * time.Hour)
	w.reads = append(w.reads, other, third)
	st := w.write(t, way{ending: ".csv"})
	got, err := Duplicates(context.Background(), st, Options{})
	require.NoError(t, err)
	assert.Equal(t, &sighting.DuplicateCount{Read: int64(n + 43), Duplicates: 41,
		Example: fmt.Sprintf("arrays/00.csv:%d", n+2), First: "arrays/00.csv:2"}, got)
}

// The first record that a passage rule set aside is named though it stands far
// down, where the files are read from their middle, and where they cannot be.
func TestExamplesFarDown(t *testing.T) {
	const fish = "985141421300001"
	var b strings.Builder
	b.WriteString(head)
	for range 20_000 {
		b.WriteString(good) // at the last site, on the 5th
	}
	b.WriteString(fish + ",Scar Weir,x,2025-04-06 10:00:00\n")
	for range 20_000 {
		b.WriteString(good)
	}
	for _, name := range []string{"array.csv", "array.csv.gz", "array.csv.zst"} {
		st := studyOf(t, "", "tag,released\n"+fish+",2025-04-03T20:00Z\n", "")
		path := filepath.Join(filepath.Dir(st.Path), name)
		writeCompressed(t, path, []byte(b.String()))
		st.Sightings[0].Files, st.Sightings[0].Written = []string{path}, []string{name}
		res := ingestWorld(t, st, Options{Workers: 2})
		require.Len(t, res.Accounting.SetAside, 1, name)
		box := res.Accounting.SetAside[0]
		assert.Equal(t, "turned_back", box.Rule)
		assert.EqualValues(t, 1, box.Records)
		assert.Equal(t, name+":20002", filepath.Base(box.Example))
	}
}

// The same characters are one tag in one file and another in the next, where the
// readers print the bits the other way round.
func TestTagsMetHoldForOneFile(t *testing.T) {
	const fish = "985141421300001"
	word := func(reversed bool) string {
		c, err := tagcode.Parse(fish)
		require.NoError(t, err)
		w := c.Word()
		if reversed {
			w = bits.Reverse64(w)
		}
		return fmt.Sprintf("%016X", w)
	}
	// A reversed word is none the right way round, and the reverse.
	st := studyOf(t, "", "tag,released\n"+fish+",2025-04-03T20:00Z\n", "")
	dir := filepath.Dir(st.Path)
	lines := strings.Repeat(word(true)+",Scar Weir,x,2025-04-05 10:00:00\n", 3) + strings.Repeat(word(false)+",Tidehead,x,2025-04-06 10:00:00\n", 2)
	st.Sightings[0].Files, st.Sightings[0].Written = nil, nil
	for _, name := range []string{"a.csv", "b.csv", "c.csv"} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(head+lines), 0o644))
		st.Sightings[0].Files, st.Sightings[0].Written = append(st.Sightings[0].Files, filepath.Join(dir, name)), append(st.Sightings[0].Written, name)
	}
	st.Sightings[0].BitReversedFiles = []string{filepath.Join(dir, "b.csv")}
	for _, workers := range []int{1, 4} {
		res := ingestWorld(t, st, Options{Workers: workers})
		assert.Equal(t, map[string]int64{"bad_tag": 3 + 2 + 3}, boxes(&res.Accounting))
		assert.EqualValues(t, 2, res.Accounting.Kept)
	}
}

// An empty site and an empty antenna are two things, whoever counts them.
func TestNamesNotKnown(t *testing.T) {
	const fish = "985141421300001"
	lines := strings.Repeat(fish+",,north,2025-04-05 10:00:00\n", 30_000) + strings.Repeat(fish+",Alder Frod,north,2025-04-05 10:00:00\n", 3) +
		strings.Repeat(fish+",Alder Ford,,2025-04-05 10:00:00\n", 20_000) + fish + ",Alder Ford,nort,2025-04-05 10:00:00\n"
	st := studyOf(t, "", "tag,released\n"+fish+",2025-04-03T20:00Z\n", head+lines)
	for _, workers := range []int{1, 3} {
		about := map[string]string{}
		for _, f := range ingestWorld(t, st, Options{Workers: workers}).Findings {
			about[f.ID] = f.About
		}
		assert.Equal(t, `an empty field (30,000), "Alder Frod" (3); did you mean "Alder Ford"?`, about["unknown_site"])
		assert.Equal(t, `an empty field (20,000), "nort" (1); did you mean "north"?`, about["unknown_antenna"])
	}
}

// A record that cannot be read shows nothing of the one that stood in its place
// before, whether or not its block holds quotes.
func TestUnreadableShowsNothing(t *testing.T) {
	want := func(line int) sighting.SetAside {
		return sighting.SetAside{File: "array.csv", Line: line, Rule: "unreadable", Name: "unreadable record"}
	}
	for text, aside := range map[string][]sighting.SetAside{
		"a,b\n": {want(102)},
		"a,b\n" + strings.Repeat(good, 100) + "\"open\n": {want(102), want(203)},
	} {
		var got []sighting.SetAside
		ingestWorld(t, tinyStudy(t, head+strings.Repeat(good, 100)+text), Options{SetAside: func(s sighting.SetAside) error {
			got = append(got, s)
			return nil
		}})
		assert.Equal(t, aside, got)
	}
}
