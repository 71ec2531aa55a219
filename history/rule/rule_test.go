package rule

import (
	"math"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const day = 86_400_000

// Each record rule alone, and at its very edge; then the order of the rules.
func TestRecordRules(t *testing.T) {
	open := Season{AsOf: math.MaxInt64, LastDayEnd: math.MaxInt64}
	fish := func(change func(*Fish)) *Fish {
		f := Alive(10*day, 0)
		if change != nil {
			change(&f)
		}
		return &f
	}
	windows := []Window{{0, 20 * day}, {30 * day, 40 * day}}
	for name, c := range map[string]struct {
		ms      int64
		site    int
		fish    *Fish
		season  Season
		windows []Window
		want    ID
	}{
		"counts":                     {11 * day, 1, fish(nil), open, nil, None},
		"at the moment of release":   {10 * day, 1, fish(nil), open, nil, None},
		"before release":             {10*day - 1, 1, fish(nil), open, nil, BeforeRelease},
		"last moment before as_of":   {11*day - 1, 1, fish(nil), Season{11 * day, math.MaxInt64}, nil, None},
		"exactly as_of":              {11 * day, 1, fish(nil), Season{11 * day, math.MaxInt64}, nil, AfterAsOf},
		"last moment of last day":    {12*day - 1, 1, fish(nil), Season{math.MaxInt64, 12 * day}, nil, None},
		"after the last day":         {12 * day, 1, fish(nil), Season{math.MaxInt64, 12 * day}, nil, AfterLastDay},
		"at removal":                 {13 * day, 2, fish(func(f *Fish) { f.RemovedAt = 13 * day }), open, nil, None},
		"after removal":              {13*day + 1, 2, fish(func(f *Fish) { f.RemovedAt = 13 * day }), open, nil, AfterRemoval},
		"where removed":              {13 * day, 2, fish(func(f *Fish) { f.RemovedSite = 2 }), open, nil, None},
		"below where removed":        {13 * day, 3, fish(func(f *Fish) { f.RemovedSite = 2 }), open, nil, AfterRemoval},
		"while the tag was in":       {13 * day, 2, fish(func(f *Fish) { f.ShedAt = 13 * day }), open, nil, None},
		"shed":                       {13*day + 1, 2, fish(func(f *Fish) { f.ShedAt = 13 * day }), open, nil, Shed},
		"start of a window":          {30 * day, 1, fish(nil), open, windows, None},
		"end of a window":            {20 * day, 1, fish(nil), open, windows, OutsideWorking},
		"at the release site":        {11 * day, 0, fish(nil), open, nil, AtRelease},
		"at the fish's own entry":    {11 * day, 2, fish(func(f *Fish) { f.Entry = 2 }), open, nil, AtRelease},
		"above the fish's own entry": {11 * day, 1, fish(func(f *Fish) { f.Entry = 2 }), open, nil, AtRelease},
		"below the fish's own entry": {11 * day, 3, fish(func(f *Fish) { f.Entry = 2 }), open, nil, None},
		"as_of before last day":      {50 * day, 0, fish(nil), Season{1, 2}, windows, AfterAsOf},
		"last day before release":    {5 * day, 0, fish(nil), Season{math.MaxInt64, 2}, windows, AfterLastDay},
		"removal before shed":        {25 * day, 0, fish(func(f *Fish) { f.RemovedAt, f.ShedAt = 0, 0 }), open, windows, AfterRemoval},
		"shed before windows":        {25 * day, 0, fish(func(f *Fish) { f.ShedAt = 0 }), open, windows, Shed},
		"windows before entry":       {25 * day, 0, fish(nil), open, windows, OutsideWorking},
	} {
		assert.Equal(t, Of(c.want).ID, Of(Record(c.ms, c.site, c.fish, &c.season, c.windows)).ID, name)
	}
}

func TestTestTag(t *testing.T) {
	assert.True(t, IsTestTag(0, day, 25, true), "every hour for a day")
	assert.False(t, IsTestTag(0, day, 24, true), "not every hour")
	assert.False(t, IsTestTag(0, day-1, 2500, true), "less than a day")
	assert.False(t, IsTestTag(0, day, 2500, false), "at two antennas")
}

func TestParked(t *testing.T) {
	assert.True(t, Parked(0, 3*day, 13, 3))
	assert.False(t, Parked(0, 3*day, 12, 3), "came back now and then")
	assert.False(t, Parked(0, 3*day-1, 1000, 3))
}

func TestTooFast(t *testing.T) {
	km := []float64{58, 36.6, 14.2, 0}
	at := func(site int, ms int64) Passage { return Passage{Site: site, First: ms, Last: ms, Reads: 1} }
	// 21.4 km at 100 km a day take 18,489,600 ms.
	assert.Zero(t, FindTooFast([]Passage{at(1, 18_489_600)}, 0, 0, km, 100))
	assert.EqualValues(t, 1, FindTooFast([]Passage{at(1, 18_489_599)}, 0, 0, km, 100))
	// From a sighting farther up: 36.6 km in a quarter of a day.
	assert.EqualValues(t, 2, FindTooFast([]Passage{at(1, 5*day), at(3, 5*day+day/4)}, 0, 0, km, 100))
	// A passage that is itself too fast accuses no other.
	assert.EqualValues(t, 1, FindTooFast([]Passage{at(1, 1), at(2, day)}, 0, 0, km, 100))
	// An earlier sighting farther down is a matter of order, not of speed.
	assert.Zero(t, FindTooFast([]Passage{at(1, 5*day), at(2, 2*day)}, 0, 0, km, 100))
	// Rows of one site are no distance apart.
	assert.Zero(t, FindTooFast([]Passage{at(1, 5*day), at(1, 5*day+1)}, 0, 0, km, 100))
	// The fish enters at the second site.
	assert.Zero(t, FindTooFast([]Passage{at(2, day)}, 0, 1, km, 23))
	assert.EqualValues(t, 1, FindTooFast([]Passage{at(2, day)}, 0, 1, km, 22))
}

func TestOutOfOrder(t *testing.T) {
	at := func(site int, first int64) Passage { return Passage{Site: site, First: first, Last: first + day} }
	assert.Zero(t, FindOutOfOrder([]Passage{at(1, 1), at(2, 2), at(3, 3)}, 0))
	assert.EqualValues(t, 1, FindOutOfOrder([]Passage{at(1, 5), at(2, 2)}, 0), "came back up")
	assert.Zero(t, FindOutOfOrder([]Passage{at(1, 2), at(2, 2)}, 0), "at the same moment")
	assert.EqualValues(t, 0b011, FindOutOfOrder([]Passage{at(1, 9), at(2, 8), at(3, 7)}, 0), "all but the lowest")
	assert.EqualValues(t, 0b010, FindOutOfOrder([]Passage{at(1, 1), at(1, 9), at(2, 5)}, 0), "one row of two")
	assert.Zero(t, FindOutOfOrder([]Passage{at(1, 9), at(1, 1)}, 0), "rows of one site have no order")
	assert.Zero(t, FindOutOfOrder([]Passage{at(1, 5), at(2, 2)}, 0b10), "what was set aside accuses nobody")
	// The last read does not matter: it lingered above after its first read.
	assert.Zero(t, FindOutOfOrder([]Passage{{Site: 1, First: 1, Last: 9}, at(2, 5)}, 0))
}

func TestOff(t *testing.T) {
	off, err := NewOff([]string{"turned_back", "outage"})
	require.NoError(t, err)
	assert.True(t, off["turned_back"])
	_, err = NewOff([]string{"unknown_tag"})
	assert.ErrorContains(t, err, "no rule that can be switched off")
	_, err = NewOff([]string{"turned_bak"})
	assert.ErrorContains(t, err, `did you mean "turned_back"?`)
}

// docs/rules.md tells of every rule, in the order of the code.
func TestEveryRuleIsDocumented(t *testing.T) {
	b, err := os.ReadFile("../../docs/rules.md")
	require.NoError(t, err)
	at := 0
	for id := Unreadable; id < Count; id++ {
		r := Of(id)
		require.NotEmpty(t, r.Name)
		require.NotEmpty(t, r.Advice)
		row := "\n- `" + r.ID + "`"
		i := strings.Index(string(b)[at:], row)
		require.GreaterOrEqual(t, i, 0, "%s is missing, or stands out of order", r.ID)
		line, _, _ := strings.Cut(string(b)[at+i+1:], "\n")
		assert.Equal(t, r.Choice, strings.HasPrefix(line, row[1:]+" (choice): "), "%s can be switched off", r.ID)
		at += i
	}
	for _, r := range Reports {
		assert.Contains(t, string(b), "\n- `"+r.ID+"`: ")
	}
}
