package ingest

import (
	"context"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

// A fish table at fault is refused with line, column, value and what to do.
func TestFishTableAtFault(t *testing.T) {
	const f1 = "985141421300001,2025-04-03T20:00Z"
	for name, c := range map[string]struct{ extra, fish, want string }{
		"no tag column":           {"", "Nr,released\n1,2025-04-03\n", `no column "tag"`},
		"no released column":      {"", "tag,release\n985141421300001,2025-04-03\n", `no column "released"; the table has tag, release; did you mean "release"?`},
		"no fish":                 {"", "tag,released\n", "a header but no fish"},
		"missing release":         {"", "tag,released\n985141421300001,\n", "fish.csv:2: column \"released\": the release time is missing"},
		"missing tag":             {"", "tag,released\n,2025-04-03\n", "none of 1 records has a tag in column \"tag\""},
		"spreadsheet tag":         {"", "tag,released\n9.85E+14,2025-04-03\n", "power of ten"},
		"bad time":                {"", "tag,released\n985141421300001,2025-02-30\n", `fish.csv:2: column "released": "2025-02-30": no such day`},
		"ambiguous dates":         {"", "tag,released\n985141421300001,3/4/2025\n", "date_order"},
		"died neither yes nor no": {"", "tag,released,died\n" + f1 + ",perhaps\n", `"perhaps" is neither yes nor no`},
		"unknown entry":           {"", "tag,released,site\n" + f1 + ",Alder Frod\n", `no site "Alder Frod"; did you mean "Alder Ford"?`},
		"unknown removal":         {"", "tag,released,removed\n" + f1 + ",Tidehed\n", `neither a site of the study nor a time; did you mean "Tidehead"?`},
		"two removals":            {"", "tag,released,removed,removed_site\n" + f1 + ",Tidehead,Scar Weir\n", `removed at "Tidehead" and at "Scar Weir"`},
		"removed above entry":     {"", "tag,released,site,removed\n" + f1 + ",Scar Weir,Alder Ford\n", `above "Scar Weir" where the fish enters`},
		"removed before release":  {"", "tag,released,removed\n" + f1 + ",2025-04-01\n", "removed before it was released"},
		"removed unseen":          {"", "tag,released,removed\n" + f1 + ",Scar Weir\n", `fish.csv:2: fish 985141421300001 was removed at "Scar Weir", but is not detected there; its last detection is at "Alder Ford"`},
		"mixed column":            {"", "tag,released,size\n" + f1 + ",120\n985141421300002,2025-04-03T20:00Z,big\n", "holds text and numbers"},
		"test tag is a fish":      {"[rules]\ntest_tags = [\"985141421300001\"]\n", "tag,released\n" + f1 + "\n", "test_tags: 985141421300001 is a fish"},
		"bad ghost tag":           {"[rules]\nghost_tags = [\"98514\"]\n", "tag,released\n" + f1 + "\n", "ghost_tags"},
		"no such rule":            {"[rules]\noff = [\"turned_bak\"]\n", "tag,released\n" + f1 + "\n", `did you mean "turned_back"?`},
		"all dead":                {"", "tag,released,died\n" + f1 + ",yes\n", "no fish is left of 1"},
		"alias of nobody":         {"", "tag,released\n" + f1 + "\n", "is no fish of"},
	} {
		st := studyOf(t, c.extra, c.fish, head+"985141421300001,Alder Ford,north,2025-04-05 10:00:00\n")
		if name == "alias of nobody" {
			st.Fish.Aliases = map[string]string{"985141421300009": "985141421300008"}
		}
		_, err := Run(context.Background(), st, Options{})
		if assert.Error(t, err, name) {
			assert.Contains(t, err.Error(), c.want, name)
		}
	}
}

// one reads a study of a few fish and gives what was seen of each.
func one(t *testing.T, extra, fish, array string, opt Options) (*Result, []string) {
	t.Helper()
	res := ingestWorld(t, studyOf(t, extra, fish, array), opt)
	h := res.Histories
	var out []string
	for i := range h.Entry {
		s := h.Tag[i] + " " + h.River.Sites[h.Entry[i]].Name + ":"
		for b := range h.River.Rows() {
			s += string('0' + byte(h.Seen[i]>>b&1))
		}
		if h.End[i] == history.Removed {
			s += " removed"
		}
		out = append(out, s)
	}
	return res, out
}

func TestFishEnterAndLeaveAnywhere(t *testing.T) {
	res, got := one(t, "", `tag,released,site,removed,removed_site,shed
985141421300001,2025-04-03T20:00Z,,,,
985141421300002,2025-04-03T20:00Z,Scar Weir,,,
985141421300003,2025-04-03T20:00Z,,Scar Weir,,
985141421300004,2025-04-03T20:00Z,,2025-04-06,,
985141421300005,2025-04-03T20:00Z,,2025-04-06 12:00,Scar Weir,
985141421300006,2025-04-03T20:00Z,,,,2025-04-06
985141421300007,2025-04-03T20:00Z,,,Mill Lade,
`, head+strings.Join([]string{
		"985141421300001,Alder Ford,north,2025-04-05 10:00:00", "985141421300001,Tidehead,x,2025-04-07 10:00:00",
		"985141421300002,Alder Ford,north,2025-04-05 10:00:00", "985141421300002,Scar Weir,x,2025-04-05 10:00:00", "985141421300002,Tidehead,x,2025-04-05 12:00:00",
		"985141421300003,Scar Weir,x,2025-04-05 10:00:00", "985141421300003,Tidehead,x,2025-04-05 12:00:00",
		"985141421300004,Scar Weir,x,2025-04-06 23:59:59", "985141421300004,Tidehead,x,2025-04-07 00:00:00", // a date counts to its end
		"985141421300005,Scar Weir,x,2025-04-06 12:00:00", "985141421300005,Scar Weir,x,2025-04-06 12:00:01",
		"985141421300006,Scar Weir,x,2025-04-05 12:00:00", "985141421300006,Tidehead,x,2025-04-07 12:00:01",
	}, "\n"), Options{})
	assert.Equal(t, []string{
		"985141421300001 Mill Lade:1001", "985141421300002 Scar Weir:0001", "985141421300003 Mill Lade:0010 removed",
		"985141421300004 Mill Lade:0010 removed", "985141421300005 Mill Lade:0010 removed", "985141421300006 Mill Lade:0010", "985141421300007 Mill Lade:0000 removed",
	}, got)
	assert.Equal(t, map[string]int64{"after_removal": 3, "shed_tag": 1, "at_release": 2}, boxes(&res.Accounting))
	assert.Equal(t, []string{"shed later"}, res.Flags[5].Names())
}

// as_of given to a reading stands over the study's: nothing later counts, no
// fish released later, no removal to come.
func TestAsOf(t *testing.T) {
	fish := `tag,released,removed
985141421300001,2025-04-03T20:00Z,Tidehead
985141421300002,2025-04-06T20:00Z,
`
	array := head + "985141421300001,Scar Weir,x,2025-04-05 10:00:00\n985141421300001,Tidehead,x,2025-04-07 10:00:00\n985141421300002,Tidehead,x,2025-04-08 10:00:00\n"
	_, got := one(t, "", fish, array, Options{})
	assert.Equal(t, []string{"985141421300001 Mill Lade:0011 removed", "985141421300002 Mill Lade:0001"}, got)
	res, got := one(t, "", fish, array, Options{AsOf: time.Date(2025, 4, 6, 0, 0, 0, 0, time.UTC)})
	assert.Equal(t, []string{"985141421300001 Mill Lade:0010"}, got)
	assert.Equal(t, map[string]int64{"after_as_of": 2}, boxes(&res.Accounting))
	require.Len(t, found(res, "released_later"), 1)
	assert.Equal(t, "fish.csv:3", found(res, "released_later")[0].Example)
}

// A date as as_of counts to its end: a fish released at the midnight that ends
// the day does not count, nor a record of that moment; those of the moment
// before do. So too where the clock is put forward or back on that day.
func TestAsOfADateEndsBeforeMidnight(t *testing.T) {
	for _, day := range []struct{ date, last, next string }{
		{"2025-05-07", "2025-05-07 23:59:59.999", "2025-05-08 00:00"},
		{"2025-03-30", "2025-03-30 23:59:59.999", "2025-03-31 00:00"},
		{"2025-10-26", "2025-10-26 23:59:59.999", "2025-10-27 00:00"},
	} {
		fish := "tag,released\n985141421300001,2025-03-03 20:00\n985141421300002," + day.last + "\n985141421300003," + day.next + "\n"
		array := head + "985141421300001,Scar Weir,x," + day.last + "\n985141421300001,Tidehead,x," + day.next + "\n"
		res, got := one(t, "time_zone = \"Europe/Dublin\"\nas_of = "+day.date+"\n", fish, array, Options{})
		assert.Equal(t, []string{"985141421300001 Mill Lade:0010", "985141421300002 Mill Lade:0000"}, got, day.date)
		assert.Equal(t, map[string]int64{"after_as_of": 1}, boxes(&res.Accounting), day.date)
		require.Len(t, found(res, "released_later"), 1, day.date)
		assert.Equal(t, "fish.csv:4", found(res, "released_later")[0].Example)
	}
}

func TestTagForms(t *testing.T) {
	// Bit-reversed words of testdata/published/iso11784.
	st := studyOf(t, "", "tag,released\n985141421356237,2025-04-03T20:00Z\n3D6.3FFFFFFFFF,2025-04-03T20:00Z\n",
		head+"B3257AB7066F0001,Tidehead,x,2025-04-05 10:00:00\nFFFFFFFFFDAF0001,Tidehead,x,2025-04-05 10:00:00\n")
	res := ingestWorld(t, st, Options{})
	assert.Equal(t, map[string]int64{"bad_tag": 2}, boxes(&res.Accounting))
	st.Sightings[0].BitReversed = true
	res = ingestWorld(t, st, Options{})
	assert.EqualValues(t, 2, res.Accounting.Kept)
	st.Sightings[0].BitReversed = false
	st.Sightings[0].BitReversedFiles = st.Sightings[0].Files
	res = ingestWorld(t, st, Options{})
	assert.EqualValues(t, 2, res.Accounting.Kept)
	assert.Equal(t, []string{"985141421356237", "982274877906943"}, res.Histories.Tag)

	// Plain text: blanks at the ends do not count, case does.
	st = studyOf(t, "tag_form = \"text\"\n[rules]\nghost_tags = [\"G1\"]\n", "tag,released\nA1,2025-04-03T20:00Z\na1,2025-04-03T20:00Z\nB2,2025-04-03T20:00Z\n",
		head+" A1 ,Tidehead,x,2025-04-05 10:00:00\na1,Scar Weir,x,2025-04-05 10:00:00\nC3,Scar Weir,x,2025-04-05 10:00:00\nG1,Scar Weir,x,2025-04-05 10:00:00\n,Scar Weir,x,2025-04-05 10:00:00\nA1x,Scar Weir,x,2025-04-05 11:00:00\n")
	st.Fish.Aliases = map[string]string{"A1x": "B2"}
	res = ingestWorld(t, st, Options{})
	assert.Equal(t, []uint64{8, 4, 4}, res.Histories.Seen)
	assert.Equal(t, map[string]int64{"bad_tag": 1, "unknown_tag": 1, "ghost_tag": 1}, boxes(&res.Accounting))
	assert.Equal(t, []string{"tagged twice"}, res.Flags[2].Names())
}

// What a spreadsheet would run as a formula has an apostrophe before it, in the fish
// table as in the files of the arrays.
func TestNamesWithTheApostropheOfAText(t *testing.T) {
	st := studyOf(t, "tag_form = \"text\"\n", "tag,released\n'+A1,2025-04-03T20:00Z\n'=B2,2025-04-03T20:00Z\n@C3,2025-04-03T20:00Z\n",
		head+"'+A1,Tidehead,x,2025-04-05 10:00:00\n=B2,'@Weir,x,2025-04-05 10:00:00\n'@C3,@Weir,x,2025-04-05 10:00:00\n'-D4,Tidehead,x,2025-04-05 10:00:00\n")
	st.Sites[2].Aliases = []string{"@Weir"}
	res := ingestWorld(t, st, Options{})
	assert.Equal(t, []uint64{8, 4, 4}, res.Histories.Seen)
	assert.Equal(t, map[string]int64{"unknown_tag": 1}, boxes(&res.Accounting))
}

// A fish listed as a ghost stays in the study, undetected.
func TestGhostFishIsUndetected(t *testing.T) {
	res, got := one(t, "[rules]\nghost_tags = [\"985141421300001\"]\n", "tag,released\n985141421300001,2025-04-03T20:00Z\n", head+good, Options{})
	assert.Equal(t, []string{"985141421300001 Mill Lade:0000"}, got)
	assert.Equal(t, []string{"ghost tag"}, res.Flags[0].Names())
}

// The zone of a site and the correction of its clock, each in its own words.
func TestZonesAndClocksOfSites(t *testing.T) {
	st := studyOf(t, "time_zone = \"Europe/Dublin\"\n", "tag,released\n985141421300001,2025-04-03 20:00\n", head+
		"985141421300001,Alder Ford,north,2025-04-05 10:00:00\n985141421300001,Scar Weir,x,2025-04-06 10:00:00\n985141421300001,Tidehead,x,2025-04-07T10:00:00Z\n")
	utc := func(d, h, m, s int) int64 { return time.Date(2025, 4, d, h, m, s, 0, time.UTC).UnixMilli() }
	h := ingestWorld(t, st, Options{}).Histories
	assert.Equal(t, utc(3, 19, 0, 0), h.Released[0])
	assert.Equal(t, []int64{utc(5, 9, 0, 0), history.NoTime, utc(6, 9, 0, 0), utc(7, 10, 0, 0)}, h.First)
	ny, err := time.LoadLocation("America/New_York")
	require.NoError(t, err)
	st.Sites[2].TimeZone, st.Sites[2].Location = "America/New_York", ny
	st.Sites[1].Clock = append(st.Sites[1].Clock, clockOf(utc(5, 9, 0, 0), utc(6, 0, 0, 0), -340))
	st.Sites[3].Clock = append(st.Sites[3].Clock, clockOf(utc(7, 10, 0, 1), 0, 60)) // starts a second later
	h = ingestWorld(t, st, Options{}).Histories
	assert.Equal(t, []int64{utc(5, 8, 54, 20), history.NoTime, utc(6, 14, 0, 0), utc(7, 10, 0, 0)}, h.First)
}

func TestRulesSwitchedOff(t *testing.T) {
	fish := "tag,released,species,length_mm,tag_mm\n985141421300001,2025-04-03T20:00Z,trout?,54,9\n985141421300002,2025-04-03T20:00Z,sea trout,60,12\n985141421300003,2025-04-03T20:00Z,sea trout,66,12.5\n"
	array := head + "985141421300001,Tidehead,x,2025-04-05 10:00:00\n985141421300001,Scar Weir,x,2025-04-05 11:00:00\n"
	res, got := one(t, "", fish, array, Options{})
	assert.Equal(t, "985141421300001 Mill Lade:0001", got[0])
	assert.Equal(t, []string{"turned back", "uncertain species", "below minimum length"}, res.Flags[0].Names())
	assert.Equal(t, []string{"below minimum length"}, res.Flags[1].Names())
	assert.Empty(t, res.Flags[2].Names())
	res, got = one(t, "[rules]\noff = [\"turned_back\", \"uncertain_species\", \"below_minimum_length\"]\n", fish, array, Options{})
	assert.Equal(t, "985141421300001 Mill Lade:0011", got[0])
	assert.Empty(t, res.Flags[0].Names())
	assert.Empty(t, res.Accounting.SetAside)
}

// Antennas and rows: by antenna alone, by site alone, by a row's own label.
func TestPlaces(t *testing.T) {
	fish := "tag,released\n985141421300001,2025-04-03T20:00Z\n"
	res, got := one(t, "", fish, "tag,antenna,time\n985141421300001,south,2025-04-05 10:00:00\n985141421300001,Tidehead,2025-04-06 10:00:00\n985141421300001,east,2025-04-06 10:00:00\n", Options{})
	assert.Equal(t, []string{"985141421300001 Mill Lade:0101"}, got)
	assert.Equal(t, map[string]int64{"unknown_antenna": 1}, boxes(&res.Accounting))
	res, got = one(t, "", fish, "tag,site,time\n985141421300001,Alder Ford/upper,2025-04-05 10:00:00\n985141421300001,Alder Ford,2025-04-05 11:00:00\n985141421300001,Alder Frod,2025-04-05 11:00:00\n985141421300001,Scar Weir,2025-04-06 10:00:00\n", Options{})
	assert.Equal(t, []string{"985141421300001 Mill Lade:1010"}, got)
	assert.Equal(t, map[string]int64{"unknown_antenna": 1, "unknown_site": 1}, boxes(&res.Accounting))
	assert.Equal(t, `"Alder Frod" (1); did you mean "Alder Ford"?`, found(res, "unknown_site")[0].About)
	assert.Equal(t, SiteActivity{"Scar Weir", 1, time.Date(2025, 4, 6, 10, 0, 0, 0, time.UTC).UnixMilli(), time.Date(2025, 4, 6, 10, 0, 0, 0, time.UTC).UnixMilli()}, res.Sites[2])
}

func clockOf(from, to int64, seconds float64) study.ClockFix {
	f := study.ClockFix{Seconds: seconds, Window: study.Window{From: time.UnixMilli(from)}}
	if to != 0 {
		f.To = time.UnixMilli(to)
	}
	return f
}

// Two sites may each have an antenna "1", as long as the records name the site.
func TestAntennaNamesMayRepeat(t *testing.T) {
	st := studyOf(t, "", "tag,released\n985141421300001,2025-04-03T20:00Z\n", head+"985141421300001,Alder Ford,1,2025-04-05 10:00:00\n985141421300001,Alder Ford/lower,2,2025-04-05 10:00:00\n985141421300001,Scar Weir,1,2025-04-06 10:00:00\n985141421300001,Scar Weir,2,2025-04-06 10:00:00\n")
	st.Sites[1].Rows[0].Antennas, st.Sites[1].Rows[1].Antennas, st.Sites[2].Antennas = []string{"1"}, []string{"2"}, []string{"1"}
	res := ingestWorld(t, st, Options{})
	assert.EqualValues(t, 0b0111, res.Histories.Seen[0])
	assert.Equal(t, map[string]int64{"unknown_antenna": 1}, boxes(&res.Accounting))
	require.NoError(t, os.WriteFile(st.Sightings[0].Files[0], []byte("tag,antenna,time\n985141421300001,1,2025-04-05 10:00:00\n"), 0o644))
	_, err := Run(context.Background(), st, Options{})
	assert.ErrorContains(t, err, `antenna "1" stands at more than one site`)
}

// Fish left out of the histories do not shift the sightings of those behind
// them.
func TestFishBehindOnesLeftOut(t *testing.T) {
	res, got := one(t, "as_of = 2025-06-01T00:00:00Z\n", `tag,released,died
985141421300001,2025-04-03T20:00Z,yes
985141421300002,2025-04-03T20:00Z,
985141421300003,2025-07-03T20:00Z,
985141421300004,2025-04-03T20:00Z,
985141421300005,2025-04-03T20:00Z,
`, head+`985141421300002,Alder Ford,north,2025-04-05 10:00:00
985141421300004,Scar Weir,x,2025-04-05 10:00:00
985141421300005,Tidehead,x,2025-04-05 10:00:00
985141421300001,Tidehead,x,2025-04-05 10:00:00
985141421300003,Tidehead,x,2025-04-05 10:00:00
`, Options{})
	assert.Equal(t, []string{"985141421300002 Mill Lade:1000", "985141421300004 Mill Lade:0010", "985141421300005 Mill Lade:0001"}, got)
	assert.Equal(t, map[string]int64{"died_in_recovery": 1, "before_release": 1}, boxes(&res.Accounting))
}

// A release is kept to the thousandth, and one far from the others too.
func TestReleasesToTheThousandth(t *testing.T) {
	res, got := one(t, "", `tag,released
985141421300001,2025-04-03T20:00:00.500Z
985141421300002,1950-01-01T00:00Z
985141421300003,2099-01-01T00:00Z
`, head+`985141421300001,Alder Ford,north,2025-04-03T20:00:00.499Z
985141421300001,Scar Weir,x,2025-04-03T20:00:00.500Z
985141421300002,Tidehead,x,1950-01-01T00:00:01Z
985141421300003,Tidehead,x,2098-12-31T23:59:59Z
985141421300003,Scar Weir,x,2099-01-01T00:00:00Z
`, Options{})
	assert.Equal(t, []string{"985141421300001 Mill Lade:0010", "985141421300002 Mill Lade:0001", "985141421300003 Mill Lade:0010"}, got)
	assert.Equal(t, map[string]int64{"before_release": 2}, boxes(&res.Accounting))
}
