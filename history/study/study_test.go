package study_test

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
	"example.org/unseen/testdata/pieces"
)

const (
	dipper = "../../testdata/published/lebreton1992/"
	hard   = "../../testdata/hard/study/"
)

func TestDipperStudies(t *testing.T) {
	s, err := study.Load(dipper + "dipper.toml")
	require.NoError(t, err)
	river := s.River()
	require.NoError(t, river.Check())
	require.Len(t, s.Sites, 7)
	require.Equal(t, 1.0, s.Sites[2].Attributes["flood"])
	require.True(t, math.IsNaN(s.Sites[2].Km))
	require.Equal(t, filepath.Join(dipper, "histories.csv"), s.Histories.File)
	require.Equal(t, "histories.csv", s.Histories.Written)

	s, err = study.Load(dipper + "dipper_next_seen_by_sex.toml")
	require.NoError(t, err)
	require.Equal(t, "sex", s.NextSeen.Cohort)
	require.Equal(t, study.Pos{File: s.Path, Line: 7, Column: 1}, s.NextSeen.CohortPos)
}

// whole holds every key of the language once.
const whole = `title     = "Hollin Water sea trout smolts, spring 2025"
time_zone = "Europe/Dublin"
as_of     = 2025-05-20T12:00:00
last_day  = 2025-06-30
date_order = "day first"
tag_form  = "text"
missing   = "mean"

[fish]
file    = "fish.csv"
columns = { tag = "Tag", fork_length_mm = "FL", cohort = "Batch" }
kinds   = { batch = "category" }
cohort  = "cohort"
aliases = { "B2" = "A1" }

[sightings]
files = ["arrays/*.csv.gz", "/abs/late.csv"]
columns = { time = "When", site = ["Place", "Ort"] }
bit_reversed = ["arrays/old.csv"]

[conditions]
file = "flow.csv"

[recaptures]
file = "caught.csv"

[[site]]
name = "Mill Lade"
km   = 58.0

[[site]]
name = "Alder Ford"
km   = 36.6
rows = { upper = ["north", "middle"], lower = "south" }
working = [[2025-04-01, 2025-04-20T06:00:00], [2025-04-21T00:00:00Z, 2025-06-01]]
time_zone = "UTC"

[[site.clock]]
from = 2025-04-10T00:00:00
seconds = -340

[[site]]
name = "Tidehead"
km   = 0
rows = { gate = ["g1"] }
attributes = { gate = true, days = 3.5 }
clock = [{ to = 2025-05-01, seconds = 5 }]

[[test_passes]]
site = "Alder Ford"
row = "lower"
passes = 60
read = 41

[[hold]]
reach = "Mill Lade to Alder Ford"
survival = 1
where = { cohort = 3 }

[[hold]]
site = "Alder Ford"
detection = 0.0

[[model]]
name = "reach + cohort"
survival  = "reach + cohort"
detection = "site"
survival_link = "per km"
detection_link = "linear"
drift  = "cohort"
spread = "same"
rest   = "sex"

[retention]
held = 500
kept = 492

[rules]
test_tags = ["T1"]
ghost_tags = "G1"
fastest_km_per_day = 80
minimum_length_mm = 60
parked_days = 2.5
off = ["turned-back"]
`

// A date as as_of counts whole, in the study's zone: also on the days of 23 and
// of 25 hours, 30 March and 26 October 2025 in Dublin. A moment is itself.
func TestAsOfIsADateOrAMoment(t *testing.T) {
	for said, want := range map[string]string{
		"2025-05-07":                "2025-05-07T23:00:00Z",
		"2025-03-30":                "2025-03-30T23:00:00Z",
		"2025-10-26":                "2025-10-27T00:00:00Z",
		"2025-12-31":                "2026-01-01T00:00:00Z",
		"2025-05-07T00:00:00":       "2025-05-06T23:00:00Z",
		"2025-05-07T12:00:00+02:00": "2025-05-07T10:00:00Z",
	} {
		s, err := study.Parse("study.toml", []byte(strings.Replace(whole, "2025-05-20T12:00:00", said, 1)))
		require.NoError(t, err, said)
		assert.Equal(t, want, s.AsOf.UTC().Format(time.RFC3339), said)
	}
	s, err := study.Parse("study.toml", []byte(strings.Replace(whole, "2025-06-30", "2025-10-26", 1)))
	require.NoError(t, err)
	assert.Equal(t, "2025-10-27T00:00:00Z", s.LastDayEnd().UTC().Format(time.RFC3339))
	assert.True(t, new(study.Study).LastDayEnd().IsZero())
}

func TestWholeLanguage(t *testing.T) {
	s, err := study.Parse("rivers/hollin.toml", []byte("\ufeff"+strings.ReplaceAll(whole, "\n", "\r\n")))
	require.NoError(t, err)
	dublin := s.Location
	require.Equal(t, "Europe/Dublin", dublin.String())
	assert.Equal(t, "Hollin Water sea trout smolts, spring 2025", s.Title)
	// 12:00 summer time in Dublin is 11:00 UTC (IANA database).
	assert.True(t, s.AsOf.Equal(time.Date(2025, 5, 20, 11, 0, 0, 0, time.UTC)))
	assert.True(t, s.LastDay.Equal(time.Date(2025, 6, 29, 23, 0, 0, 0, time.UTC)))
	assert.Equal(t, "day first", s.DateOrder)
	assert.Equal(t, "text", s.TagForm)
	assert.Equal(t, "mean", s.Missing)

	assert.Equal(t, filepath.Join("rivers", "fish.csv"), s.Fish.File)
	assert.Equal(t, "FL", s.Fish.Column("fork_length_mm"))
	assert.Equal(t, "weight_g", s.Fish.Column("weight_g"))
	assert.Equal(t, map[string]string{"batch": "category"}, s.Fish.Kinds)
	assert.Equal(t, "cohort", s.Fish.Cohort)
	assert.Equal(t, map[string]string{"B2": "A1"}, s.Fish.Aliases)
	assert.Equal(t, 14, s.Fish.AliasesPos.Line)
	assert.Equal(t, []string{filepath.Join("rivers", "arrays", "*.csv.gz"), filepath.FromSlash("/abs/late.csv")}, s.Sightings[0].Files)
	assert.Equal(t, []string{"arrays/*.csv.gz", filepath.FromSlash("/abs/late.csv")}, s.Sightings[0].Written)
	assert.Equal(t, map[string][]string{"time": {"When"}, "site": {"Place", "Ort"}}, s.Sightings[0].Columns)
	assert.False(t, s.Sightings[0].BitReversed)
	assert.Equal(t, []string{filepath.Join("rivers", "arrays", "old.csv")}, s.Sightings[0].BitReversedFiles)
	assert.Equal(t, "flow.csv", s.Conditions.Written)
	assert.Equal(t, "caught.csv", s.Recaptures.Written)

	require.Len(t, s.Sites, 3)
	ford, tide := s.Sites[1], s.Sites[2]
	// The order of the rows is the file's: upstream first.
	assert.Equal(t, []study.Row{{Name: "upper", Antennas: []string{"north", "middle"}}, {Name: "lower", Antennas: []string{"south"}}}, ford.Rows)
	assert.Equal(t, time.UTC.String(), ford.Location.String())
	require.Len(t, ford.Working, 2)
	assert.Equal(t, time.Date(2025, 4, 1, 0, 0, 0, 0, time.UTC), ford.Working[0].From.UTC())
	assert.Equal(t, time.Date(2025, 4, 20, 6, 0, 0, 0, time.UTC), ford.Working[0].To.UTC())
	require.Len(t, ford.Clock, 1)
	assert.Equal(t, -340.0, ford.Clock[0].Seconds)
	assert.True(t, ford.Clock[0].To.IsZero())
	assert.Empty(t, tide.Rows, "one row is an undivided site")
	assert.Equal(t, []string{"g1"}, tide.Antennas)
	assert.Equal(t, map[string]float64{"gate": 1, "days": 3.5}, tide.Attributes)
	assert.Equal(t, 3.5, tide.Days)
	assert.Equal(t, dublin, tide.Location)

	require.Len(t, s.TestPasses, 1)
	p := s.TestPasses[0]
	assert.Equal(t, [4]any{"Alder Ford", "lower", 60, 41}, [4]any{p.Site, p.Row, p.Passes, p.Read})
	require.Len(t, s.Holds, 2)
	assert.Equal(t, 1.0, s.Holds[0].Survival)
	assert.True(t, math.IsNaN(s.Holds[0].Detection))
	assert.Equal(t, map[string]string{"cohort": "3"}, s.Holds[0].Where)
	assert.Equal(t, 0.0, s.Holds[1].Detection)
	require.Len(t, s.Models, 1)
	m := s.Models[0]
	assert.Equal(t, [][2]string{{"name", "reach + cohort"}, {"survival", "reach + cohort"}, {"detection", "site"},
		{"survival_link", "per km"}, {"detection_link", "linear"}, {"drift", "cohort"}, {"spread", "same"}, {"rest", "sex"}}, m.Keys())
	lines := strings.Split(whole, "\n")
	assert.Equal(t, `survival  = "reach + cohort"`, lines[m.At["survival"].Line-1])
	assert.Equal(t, `detection = "site"`, lines[m.At["detection"].Line-1])
	assert.Equal(t, `survival_link = "per km"`, lines[m.At["survival_link"].Line-1])
	assert.Equal(t, `drift  = "cohort"`, lines[m.At["drift"].Line-1])
	assert.Equal(t, `spread = "same"`, lines[m.At["spread"].Line-1])
	assert.Equal(t, `rest   = "sex"`, lines[m.At["rest"].Line-1])
	assert.Equal(t, [2]int{500, 492}, [2]int{s.Retention.Held, s.Retention.Kept})
	r := s.Rules
	assert.Equal(t, []string{"T1"}, r.TestTags)
	assert.Equal(t, []string{"G1"}, r.GhostTags)
	assert.Equal(t, [3]float64{80, 60, 2.5}, [3]float64{r.FastestKmPerDay, r.MinimumLengthMM, r.ParkedDays})
	assert.Equal(t, []string{"turned-back"}, r.Off)
	assert.Equal(t, `off = ["turned-back"]`, lines[r.OffPos.Line-1])
}

// The length of a reach in days is an attribute, wherever it is written.
func TestDays(t *testing.T) {
	for _, written := range []string{"days = 3", "attributes = { days = 3 }", "days = 3.0\nattributes = { days = 3 }"} {
		s, err := study.Parse("s.toml", []byte("[histories]\nfile = \"h.csv\"\n[[site]]\nname = \"A\"\n[[site]]\nname = \"B\"\n"+written))
		require.NoError(t, err)
		require.Equal(t, 3.0, s.Sites[1].Days)
		require.Equal(t, map[string]float64{"days": 3}, s.Sites[1].Attributes)
		require.True(t, math.IsNaN(s.Sites[0].Days))
	}
}

type fault struct {
	line int
	says string
}

// check holds an error to be exactly the faults wanted: as many, on their
// lines, in order, each saying what it should.
func check(t *testing.T, err error, file string, want []fault) {
	t.Helper()
	var got *history.Faults
	if !assert.True(t, errors.As(err, &got), "%v", err) {
		return
	}
	for i, f := range got.List {
		assert.Equal(t, file, f.Pos.File)
		if assert.Less(t, i, len(want), "not expected: %v", f) {
			assert.Equal(t, want[i].line, f.Pos.Line, f.Message)
			assert.Contains(t, f.Message, want[i].says)
		}
	}
	assert.Len(t, got.List, len(want))
}

// The museum of studies that must be refused, each fault by its line.
func TestRefusals(t *testing.T) {
	cases := map[string][]fault{
		"words.toml": {
			{2, `unknown key "titel"; did you mean "title"?`},
			{3, `no time zone is called "Europe/Dublinn"`},
			{4, `as_of must be a date or time without quotes, such as 2025-05-20T12:00:00, or "today", not the text "2025-05-20"`},
			{5, `last_day must be a date without a time and without quotes, such as 2025-05-20, not the text "2025-05-20"`},
			{6, `date_order cannot be "day fist"; did you mean "day first"?`},
			{7, `missing cannot be "average"; there are: drop, mean`},
			{9, "[fish] needs file"},
			{10, `unknown key "fiel" in [fish]; did you mean "file"?`},
			{11, "columns.tag must be text in quotes, not the number 7"},
			{11, `"by" is a word of the model language`},
			{12, `kinds.batch is "catagory"; a kind is "number" or "category"`},
			{15, "files must be text in quotes, or a list of texts, not the number 3"},
			{16, `[sightings] has no column "tgs"; did you mean "tag"?`},
			{20, `km must be a number, not the text "58"`},
			{21, `"reach" is a word of the model language`},
			{21, `attributes.gate must be a number, not the text "open"`},
			{25, "km must be a finite number"},
			{26, "working must be a list of windows, each [from, to]"},
			{26, "the window from 2025-06-01T00:00:00Z to 2025-04-01T00:00:00Z is empty"},
			{27, "clock needs seconds"},
			{28, `no time zone is called "Local"`},
			{32, `survival_link cannot be "per mile"; there are: logit, linear, per km, per day`},
			{34, "a [[model]] needs a name"},
			{35, "survival must be text in quotes, not the number 3"},
			{37, `unknown key "weather"; there are: title, animal, occasion, time_zone`},
		},
		"sites.toml": {
			{10, `antenna "north" stands at Alder Ford/upper and at Alder Ford/lower`},
			{17, `km goes from 36.6 at "Alder Ford" to 40.2 at "Scar Weir"`},
			{20, `site "Alder Ford" stands twice; first on line 10`},
			{25, `name "Tide/head" cannot hold "/"`},
			{28, "leave out antennas"},
			{30, `[[test_passes]] at "Mill Lade": fish are released there`},
			{35, `site "Alder Ford" has rows; say which with row = … (upper, lower)`},
			{38, "read is 61 of 60 passes"},
			{40, `the study has no site "Scar Wier"; did you mean "Scar Weir"?`},
			{42, "passes is 0"},
			{45, "[[test_passes]] needs read, a whole number"},
			{45, `site "Alder Ford" has no row "uper"; did you mean "upper"?`},
			{48, "passes must be a whole number from 0 to 2147483647, not the number 60.5"},
		},
		"holds.toml": {
			{6, "more than one way: [histories] and [next_seen]; keep one"},
			{13, `site "Alder Ford" has no km while site "Mill Lade" has`},
			{20, `the study has no reach "Mill Lade to Alder Frod"; did you mean "Mill Lade to Alder Ford"?`},
			{26, "survival is 1.5; it must lie between 0 and 1"},
			{28, "[[hold]] needs survival (of a reach) or detection (at a site)"},
			{31, "survival or detection, not both"},
			{36, "survival is held for a reach"},
			{40, `site "Tidehead" is undivided; leave out row`},
			{47, `survival_link "per day" needs days at every site below the first`},
			{49, `model "rates" stands twice; first on line 45`},
			{51, `survival_link "per km" needs km at every site; "Alder Ford" has none`},
			{55, "kept is 501 of 500 held"},
			{58, "fastest_km_per_day is -5; it must be above 0"},
		},
		"half.toml": {
			{1, "[fish] needs [sightings] beside it"},
			{4, `"Mill Lade" is the only site`},
		},
		"empty.toml": {
			{1, "the study has no data"},
			{1, "the study has no site"},
		},
		"bracket.toml": {
			{1, "the study has no site"},
			{4, "write [[site]] with two brackets"},
		},
		"syntax.toml": {{1, "the file cannot be read"}},
		"twice.toml":  {{3, "key file is already defined"}},
	}
	files, err := filepath.Glob(hard + "*.toml")
	require.NoError(t, err)
	require.Len(t, files, len(cases), "each file of the museum has its case")
	for name, want := range cases {
		t.Run(name, func(t *testing.T) {
			_, err := study.Load(hard + name)
			check(t, err, hard+name, want)
		})
	}
}

// Faults of one line, each alone in a study that is sound otherwise.
func TestRefusalsOneByOne(t *testing.T) {
	const sound = "[histories]\nfile = \"h.csv\"\n[[site]]\nname = \"A\"\n[[site]]\nname = \"B\"\n"
	_, err := study.Parse("s.toml", []byte(sound))
	require.NoError(t, err)
	for _, c := range []struct{ add, says string }{
		{"[rules]\nfastest_km_per_day = 80\n", "needs the km of the sites"},
		{"[[hold]]\nsite = \"B\"\ndetection = 0.5\n[[hold]]\nsite = \"B\"\ndetection = 0.4\n", "the same value is held on line 7"},
		{"[[hold]]\nreach = \"B to A\"\nsurvival = 0.5\n", `the study has no reach "B to A"`},
		{"[[hold]]\nsite = \"A\"\ndetection = 0.5\n", "fish are released there"},
		{"[[hold]]\nsite = \"C\"\nrow = \"x\"\ndetection = 0.5\n", `the study has no site "C"`},
		{"[[hold]]\nsite = \"B\"\ndetection = -0.1\n", "between 0 and 1"},
		{"[[site]]\nname = \"C\"\nrows = []\n", "rows is empty"},
		{"[[site]]\nname = \"C\"\nrows = [\"u\", \"u\"]\n", `row "u" stands twice`},
		{"[[site]]\nname = \"C\"\nrows = 3\n", "rows must be a table of antennas by row"},
		{"[[site]]\nname = \"C\"\ndays = -1\n", "days is -1; it must be above 0"},
		{"[[site]]\nname = \"C\"\ndays = 2\nattributes = { days = 3 }\n", "days is 2 here and 3 among the attributes"},
		{"[[site]]\nname = \"C\"\nattributes = { days = 0 }\n", "must be above 0"},
		{"[[site]]\nname = \"  \"\n", "name is empty"},
		{"[[site]]\nkm2 = 3\nname = \"C\"\n", `unknown key "km2" in [[site]]; did you mean "km"?`},
		{"[[site]]\nname = \"C\"\nclock = \"+1h\"\n", "clock must be a list of corrections, such as clock = [{ seconds = 3600 }], not "},
		{"[[site]]\nname = \"C\"\nclock = { seconds = 3600 }\n", "clock must be a list of corrections, such as clock = [{ seconds = 3600 }], not "},
		{"[[site]]\nname = \"C\"\nworking = [[2025-04-21, 2025-05-03], [2025-04-03, 2025-04-22]]\n", "working: the window from 2025-04-21T00:00:00Z to 2025-05-03T00:00:00Z begins before that from 2025-04-03T00:00:00Z to 2025-04-22T00:00:00Z ends"},
		{"[[site]]\nname = \"C\"\nworking = [[2025-04-03, 2025-05-22], [2025-04-05, 2025-04-06], [2025-05-01, 2025-05-02]]\n", "from 2025-05-01T00:00:00Z to 2025-05-02T00:00:00Z begins before that from 2025-04-03T00:00:00Z to 2025-05-22T00:00:00Z ends"},
		{"[[site]]\nname = \"C\"\nclock = 3\n", "clock must be a list of corrections, such as clock = [{ seconds = 3600 }], not "},
		{"[[model]]\nname = \"m\"\nsurvival = \"\"\n", "survival is empty"},
		{"[retention]\nheld = 0\nkept = 0\n", "held is 0"},
		{"[retention]\nheld = 5\n", "needs kept"},
		{"[[test_passes]]\npasses = 5\nread = -1\n", "needs site"},
		{"model = 3\n", "unknown key \"model\""},
	} {
		_, err := study.Parse("s.toml", []byte(sound+c.add))
		require.ErrorContains(t, err, c.says, c.add)
	}
	// 65 rows below the first site.
	many := sound
	for i := range 64 {
		many += "[[site]]\nname = \"C" + string(rune('0'+i/10)) + string(rune('0'+i%10)) + "\"\n"
	}
	_, err = study.Parse("s.toml", []byte(many))
	require.ErrorContains(t, err, "65 antenna rows below the first site; at most 64")
}

func TestNoSuchStudy(t *testing.T) {
	_, err := study.Load(filepath.Join(t.TempDir(), "none.toml"))
	require.ErrorIs(t, err, os.ErrNotExist)
}

// someStudies are study files from the plain to the broken.
func someStudies(t testing.TB) (texts []string) {
	for _, glob := range []string{hard + "*.toml", dipper + "*.toml"} {
		files, err := filepath.Glob(glob)
		require.NoError(t, err)
		require.NotEmpty(t, files)
		for _, name := range files {
			data, err := os.ReadFile(name)
			require.NoError(t, err)
			texts = append(texts, string(data))
		}
	}
	return append(texts, whole)
}

func FuzzStudy(f *testing.F) { pieces.Fuzz(f, soundStudy, someStudies(f)...) }

func TestComposedStudies(t *testing.T) { pieces.Texts(t, 500, soundStudy, someStudies(t)...) }

// soundStudy: whatever the file holds, it is read or every fault has its line.
func soundStudy(t *testing.T, data []byte) {
	s, err := study.Parse("s.toml", data)
	if err == nil {
		r := s.River()
		require.NoError(t, r.Check())
		return
	}
	var faults *history.Faults
	require.ErrorAs(t, err, &faults)
	require.NotEmpty(t, faults.List)
	lines := 1 + strings.Count(string(data), "\n")
	for _, x := range faults.List {
		require.Equal(t, "s.toml", x.Pos.File)
		require.True(t, 1 <= x.Pos.Line && x.Pos.Line <= lines && x.Pos.Column >= 1, "%v", x)
		require.NotEmpty(t, x.Message)
	}
}

// Keys in keys in keys are refused before they take all memory.
func TestKeysTooLong(t *testing.T) {
	long := strings.Repeat("a", 600)
	for text, line := range map[string]int{
		"\n" + strings.Repeat("a.", 1<<14) + "a = 1":                           2,
		"\n[" + strings.Repeat("a.", 1<<14) + "a]\nb = 1":                      2,
		"\n[" + long + "]\nx = 1\n":                                            2,
		"title = \"x\"\n[[a]]\n[[a." + long + "]]\n":                           3,
		"a = " + strings.Repeat("[", 5000) + strings.Repeat("]", 5000):         1,
		"a = " + strings.Repeat("{a=", 5000) + "1" + strings.Repeat("}", 5000): 1,
		"\n\nx = [\n[{ y = 1 }],\n[{ " + long + " = 1 }]]":                     5,
	} {
		_, err := study.Parse("s.toml", []byte(text))
		require.ErrorContains(t, err, fmt.Sprintf("s.toml:%d: this key, with those that it stands in, is longer than 500 characters", line))
	}
}

func TestJoinedColumns(t *testing.T) {
	const rest = "\n[[site]]\nname = \"A\"\n[[site]]\nname = \"B\"\n"
	st, err := study.Parse("s.toml", []byte("[fish]\nfile = \"f\"\nreleased_at = \"00:00\"\ncolumns = { tag = \"T\", released = { join = [\"Day\", \"Hour\"] } }\n"+
		"[sightings]\nfiles = [\"a\"]\ncolumns = { time = { join = [\"D\", \"H\"] } }"+rest))
	require.NoError(t, err)
	require.Equal(t, map[string]string{"tag": "T", "released": "Day"}, st.Fish.Columns)
	require.Equal(t, map[string]string{"released": "Hour"}, st.Fish.Joined)
	require.Zero(t, *st.Fish.ReleasedAt, "midnight, if the study says so")
	require.Equal(t, map[string][]string{"date": {"D"}, "time": {"H"}}, st.Sightings[0].Columns)
	st, err = study.Parse("s.toml", []byte("[fish]\nfile = \"f\"\ncolumns = { tag = { join = [\"C\", \"N\"] }, released = { join = [\"Y\", \"M\", \"D\"] } }\n"+
		"[sightings]\nfiles = [\"a\"]\nheader_line = 0\ncolumns = { tag = 1, site = 2, time = { join = [5, 4, 3, 6] } }"+rest))
	require.NoError(t, err)
	require.Equal(t, map[string]string{"tag": "C + N", "released": "Y + M + D"}, st.Fish.Columns)
	require.Equal(t, []study.Join{{Name: "C + N", Columns: []string{"C", "N"}, Tag: true}, {Name: "Y + M + D", Columns: []string{"Y", "M", "D"}}}, st.Fish.Joins)
	require.Equal(t, []study.Join{{Name: "5 + 4 + 3 + 6", Columns: []string{"5", "4", "3", "6"}}}, st.Sightings[0].Joins)
	for text, want := range map[string]string{
		"[fish]\nfile = \"f\"\ncolumns = { released = { join = [\"Day\"] } }":           "join must name two columns",
		"[fish]\nfile = \"f\"\ncolumns = { tag = { join = [\"a\", \"b\", \"c\"] } }":    "columns.tag: join must name two columns",
		"[fish]\nfile = \"f\"\ncolumns = { site = { join = [\"a\", \"b\"] } }":          "columns.site must be text in quotes",
		"[fish]\nfile = \"f\"\nreleased_at = \"8 pm\"":                                  "it must be a time of day in quotes",
		"[fish]\nfile = \"f\"\ncolumns = { released = { joint = [\"Day\"] } }":          "unknown key \"joint\"",
		"[histories]\nfile = \"f\"\ncolumns = { released = { join = [\"a\", \"b\"] } }": "columns.released must be text in quotes",
		"[sightings]\nfiles = [\"a\"]\ncolumns = { site = { join = [\"a\", \"b\"] } }":  "join is for time",
	} {
		_, err := study.Parse("s.toml", []byte(text+rest))
		require.ErrorContains(t, err, want)
	}
}

// Windows may touch, in any order, and rows have theirs apart.
func TestWindowsThatTouch(t *testing.T) {
	_, err := study.Parse("study.toml", []byte(`[fish]
file = "fish.csv"
[sightings]
files = ["a.csv"]
[[site]]
name = "Trap"
km = 2
[[site]]
name = "Weir"
km = 1
rows = { upper = ["a"], lower = ["b"] }
working = { upper = [[2025-04-21, 2025-05-03], [2025-04-03, 2025-04-21]], lower = [[2025-04-10, 2025-04-22]] }
`))
	require.NoError(t, err)
}
