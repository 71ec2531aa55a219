package history

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// hollin is a river with an undivided and a divided site below the release.
func hollin() River {
	return River{Sites: []Site{{Name: "Mill Lade", Km: 58}, {Name: "Alder Ford", Km: 36.6}, {Name: "Tidehead", Km: 0, Rows: []string{"upper", "lower"}}}}
}

// sound are histories with everything that histories can have.
func sound(t *testing.T) *Histories {
	t.Helper()
	let := time.UnixMilli(1000)
	h, err := NewHistories(hollin(), []Record{
		{Tag: "a", Cohort: "late", Seen: []Sighting{{Row: "Alder Ford", First: time.UnixMilli(2000)}, {Row: "Tidehead/lower", First: time.UnixMilli(3000), Last: time.UnixMilli(3500)}},
			Count: 3, Released: let, Levels: map[string]string{"sex": "male"}, Values: map[string]float64{"length": 120}},
		{Tag: "b", Cohort: "early", Entry: "Alder Ford", End: Removed, Released: let, Again: true, Levels: map[string]string{"sex": "female"}},
	})
	require.NoError(t, err)
	return h
}

// Records by name become columns: cohorts and levels in natural order, rows
// as bits, what is not known as missing.
func TestNewHistories(t *testing.T) {
	h := sound(t)
	assert.Equal(t, []string{"early", "late"}, h.Cohorts)
	assert.Equal(t, "cohort", h.CohortColumn)
	assert.Equal(t, []int32{1, 0}, h.Cohort)
	assert.Equal(t, []uint8{0, 1}, h.Entry)
	assert.Equal(t, []uint64{0b101, 0}, h.Seen)
	assert.Equal(t, []End{Open, Removed}, h.End)
	assert.Equal(t, []int32{3, 1}, h.Count)
	assert.Equal(t, []bool{false, true}, h.Again)
	assert.Equal(t, []int64{2000, NoTime, 3000, NoTime, NoTime, NoTime}, h.First)
	assert.Equal(t, []int64{2000, NoTime, 3500, NoTime, NoTime, NoTime}, h.Last)
	assert.Equal(t, []string{"female", "male"}, h.Column("sex").Levels)
	assert.Equal(t, []int32{1, 0}, h.Column("sex").Level)
	assert.Equal(t, 120.0, h.Column("length").Value[0])
	assert.True(t, math.IsNaN(h.Column("length").Value[1]))

	plain, err := NewHistories(hollin(), []Record{{Seen: At("Tidehead/upper", "Alder Ford")}, {}})
	require.NoError(t, err)
	assert.Equal(t, &Histories{River: plain.River, Entry: []uint8{0, 0}, Seen: []uint64{0b011, 0}, End: []End{Open, Open}, Cohort: []int32{0, 0}, Cohorts: []string{"all"}}, plain)
}

func TestNewHistoriesRefuses(t *testing.T) {
	for _, c := range []struct {
		says    string
		records []Record
	}{
		{`record 2 (x): the river has no site "Alder Frod"; did you mean "Alder Ford"?`, []Record{{}, {Tag: "x", Entry: "Alder Frod"}}},
		{`no row "Tidehead" lies below the first site; there are Alder Ford, Tidehead/upper, Tidehead/lower`, []Record{{Seen: At("Tidehead")}}},
		{`no row "Mill Lade" lies below`, []Record{{Seen: At("Mill Lade")}}},
		{"detected at Alder Ford twice", []Record{{Seen: At("Alder Ford", "Alder Ford")}}},
		{"record 1 is detected at Alder Ford, which is not below Alder Ford, where it enters", []Record{{Entry: "Alder Ford", Seen: At("Alder Ford")}}},
		{"stands for -1 fish", []Record{{Count: -1}}},
		{"sex is a number here and a category elsewhere", []Record{{Levels: map[string]string{"sex": "male"}}, {Values: map[string]float64{"sex": 1}}}},
		{"sex is a number here and a category elsewhere", []Record{{Levels: map[string]string{"sex": "male"}, Values: map[string]float64{"sex": 1}}}},
		{`+Inf in the column "length"`, []Record{{Values: map[string]float64{"length": math.Inf(1)}}}},
		{"ends in the way 7", []Record{{End: 7}}},
		{"last sighting at Alder Ford before its first", []Record{{Seen: []Sighting{{"Alder Ford", time.UnixMilli(5), time.UnixMilli(4)}}}}},
	} {
		_, err := NewHistories(hollin(), c.records)
		assert.ErrorContains(t, err, c.says)
	}
	_, err := NewHistories(River{}, nil)
	assert.ErrorContains(t, err, "no site")
}

// Every way in which histories can be broken is refused with what is wrong and
// what would be right.
func TestHistoriesCheck(t *testing.T) {
	require.NoError(t, sound(t).Check())
	for _, c := range []struct {
		says  string
		spoil func(h *Histories)
	}{
		{"Seen has 1 values for 2 records; it needs 2", func(h *Histories) { h.Seen = h.Seen[:1] }},
		{"End has 1 values", func(h *Histories) { h.End = h.End[:1] }},
		{"Cohort has 0 values", func(h *Histories) { h.Cohort = nil }},
		{"Tag has 3 values", func(h *Histories) { h.Tag = append(h.Tag, "c") }},
		{"Again has 1 values", func(h *Histories) { h.Again = h.Again[:1] }},
		{"Count has 1 values", func(h *Histories) { h.Count = h.Count[:1] }},
		{"Released has 0 values", func(h *Histories) { h.Released = h.Released[:0] }},
		{"First has 5 values for 2 records; it needs 6", func(h *Histories) { h.First = h.First[:5] }},
		{"times of first or of last sightings alone", func(h *Histories) { h.Last = nil }},
		{"no cohort", func(h *Histories) { h.Cohorts = nil }},
		{`cohort "early" stands twice`, func(h *Histories) { h.Cohorts[1] = "early" }},
		{"record 1 (a) is of cohort number 2; there are 0 to 1", func(h *Histories) { h.Cohort[0] = 2 }},
		{"of cohort number -1", func(h *Histories) { h.Cohort[0] = -1 }},
		{"enters at site number 3; there are 0 to 2", func(h *Histories) { h.Entry[0] = 3 }},
		{"bit 3 of Seen set, but the sites below the first have 3 rows", func(h *Histories) { h.Seen[0] = 1 << 3 }},
		{"detected at Alder Ford, which is not below Alder Ford", func(h *Histories) { h.Seen[1] = 1 }},
		{"ends in the way 3", func(h *Histories) { h.End[0] = 3 }},
		{"stands for -3 fish", func(h *Histories) { h.Count[0] = -3 }},
		{`column "sex" stands twice`, func(h *Histories) { h.Columns[0].Name = "sex" }},
		{"a column of the fish has no name", func(h *Histories) { h.Columns[0].Name = "" }},
		{`"length" has 1 values for 2 records`, func(h *Histories) { h.Columns[0].Value = []float64{1} }},
		{`"sex" has both levels and values`, func(h *Histories) { h.Columns[1].Value = []float64{1, 2} }},
		{`level "male" of the column "sex" stands twice`, func(h *Histories) { h.Columns[1].Levels[0] = "male" }},
		{`has level number 2 of the column "sex"; there are 0 to 1, and -1 for a missing one`, func(h *Histories) { h.Columns[1].Level[0] = 2 }},
		{`has level number -2`, func(h *Histories) { h.Columns[1].Level[0] = -2 }},
		{"has a time at Tidehead/upper, where it was not detected", func(h *Histories) { h.First[1], h.Last[1] = 5, 5 }},
		{"last sighting at Alder Ford before its first", func(h *Histories) { h.Last[0] = 1 }},
		{`site "Alder Ford" stands twice`, func(h *Histories) { h.River.Sites[2].Name = "Alder Ford" }},
		{`site "Tidehead" has the row "upper" twice`, func(h *Histories) { h.River.Sites[2].Rows[1] = "upper" }},
		{"+Inf km", func(h *Histories) { h.River.Sites[1].Km = math.Inf(1) }},
		{"its attribute gate is NaN", func(h *Histories) { h.River.Sites[1].Attributes = map[string]float64{"gate": math.NaN()} }},
	} {
		h := sound(t)
		c.spoil(h)
		assert.ErrorContains(t, h.Check(), c.says)
	}
	assert.ErrorContains(t, (*Histories)(nil).Check(), "no detection histories")
}

// Conditions without a table for every site are refused, not indexed.
func TestConditionsOfOtherSites(t *testing.T) {
	h := sound(t)
	utc := []*time.Location{time.UTC, time.UTC, time.UTC}
	for _, c := range []struct {
		says string
		c    *Conditions
	}{
		{"there are no conditions", nil},
		{"zones of 1 sites", &Conditions{Names: []string{"flow"}, Value: make([][]map[int32]float64, 1), Zone: utc[:1]}},
		{"flow has tables of 0 sites; there are 3", &Conditions{Names: []string{"flow"}, Value: make([][]map[int32]float64, 1), Zone: utc}},
		{"at Mill Lade have no zone", &Conditions{Zone: make([]*time.Location, 3)}},
	} {
		_, err := h.CohortConditions(c.c)
		assert.ErrorContains(t, err, c.says)
	}
}
