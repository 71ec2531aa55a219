package likelihood

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestNewLayoutRefuses(t *testing.T) {
	for says, rows := range map[string][]int{
		"a layout needs a site":        nil,
		"site 1 has 0 rows":            {0, 0},
		"site 2 has -1 rows":           {0, 1, -1},
		"the sites have more than 64 ": {0, 60, 5},
	} {
		_, err := NewLayout(rows)
		assert.ErrorContains(t, err, says)
	}
	l := layoutOf([]int{0, 60, 4})
	assert.Equal(t, 64, l.RowCount())
	_, err := l.Timed([]float64{1, 2}, nil, false)
	assert.ErrorContains(t, err, "2 places for 3 sites")
	_, err = l.Timed([]float64{1, math.NaN(), 2}, nil, false)
	assert.ErrorContains(t, err, "site 1 lies at NaN km")
	_, err = l.Timed([]float64{9, 5, 2}, []int{0}, false)
	assert.ErrorContains(t, err, "1 laws of travel for 2 reaches")
	_, err = l.Timed([]float64{9, 5, 2}, []int{0, 2}, false)
	assert.ErrorContains(t, err, "reach 1 has law of travel 2")
}

// Every way in which a design can be broken is refused.
func TestDesignCheck(t *testing.T) {
	require.NoError(t, twoCohorts().Check())
	require.NoError(t, twoCohorts().WithLimits([][]float64{{1, 0, 0, 0, 0}}).Check())
	for _, c := range []struct {
		says  string
		spoil func(d *Design)
	}{
		{"no layout", func(d *Design) { d.Layout = nil }},
		{"no layout", func(d *Design) { d.Layout = &Layout{} }},
		{"the layout was changed", func(d *Design) { d.Layout.Rows = d.Layout.Rows[:2] }},
		{"the layout was changed", func(d *Design) { d.Layout.Km = []float64{58, 36, 0} }},
		{"has -1 columns", func(d *Design) { d.Columns = -1 }},
		{"and 0 numbers", func(d *Design) { d.Numbers = 0 }},
		{"slots of 2 classes and links of 1", func(d *Design) { d.Links = d.Links[:1] }},
		{"class 0 has 3 slots and 4 links; the layout has 4", func(d *Design) { d.Slots[0] = d.Slots[0][:3] }},
		{"class 1, slot 2: 1 times number 1 in column 9; there are 5 columns and 2 numbers", func(d *Design) { d.Slots[1][2][1].Column = 9 }},
		{"in column -1", func(d *Design) { d.Slots[1][2][1].Column = -1 }},
		{"times number 2", func(d *Design) { d.Slots[1][2][1].Number = 2 }},
		{"NaN times", func(d *Design) { d.Slots[1][2][1].Value = math.NaN() }},
		{"there is no link 9", func(d *Design) { d.Links[0][0].Kind = 9 }},
		{"a rate over a length of 0", func(d *Design) { d.Links[0][0].Kind = Rate }},
		{"held at 1.5", func(d *Design) { d.Links[0][0] = Link{Kind: Fixed, Value: 1.5} }},
	} {
		d := twoCohorts()
		c.spoil(d)
		assert.ErrorContains(t, d.Check(), c.says)
	}
	assert.ErrorContains(t, (*Design)(nil).Check(), "no layout")
	d := twoCohorts()
	assert.NoError(t, d.CheckColumns(make([]float64, 5)))
	assert.ErrorContains(t, d.CheckColumns(make([]float64, 4)), "4 coefficients for 5 columns")
	assert.ErrorContains(t, d.CheckColumns([]float64{0, 0, math.Inf(1), 0, 0}), "coefficient 2 is +Inf")
}

// Data that do not fit the design are refused; NewCJS, which takes what is
// known to, panics.
func TestDataCheck(t *testing.T) {
	d := twoCohorts()
	one := []float64{1, 0}
	sound := func() *Data {
		u := NewUnit(d.Layout, 1, one)
		return &Data{Units: []Unit{u}, HistoryGroups: []HistoryGroup{{Class: 1, Last: 1, N: 2, Z: [][]float64{{0.5, -0.5}}, Weight: []float64{1, 3}}}}
	}
	require.NoError(t, sound().Check(d))
	for _, c := range []struct {
		says  string
		spoil func(x *Data)
	}{
		{"unit 0: class 2; the design has 2", func(x *Data) { x.Units[0].Class = 2 }},
		{"unit 0: the numbers [1]", func(x *Data) { x.Units[0].Z = one[:1] }},
		{"Alive has 1 counts; the layout asks for 2", func(x *Data) { x.Units[0].Alive = one[:1] }},
		{"strand 0: class -1", func(x *Data) { x.HistoryGroups[0].Class = -1 }},
		{"enter at site 2 and are last seen at 1", func(x *Data) { x.HistoryGroups[0].Entry = 2 }},
		{"last seen at 3; there are the sites 0 to 2", func(x *Data) { x.HistoryGroups[0].Last = 3 }},
		{"enter at site -1", func(x *Data) { x.HistoryGroups[0].Entry = -1 }},
		{"0 numbers of the fish; the design has 1 beside the constant", func(x *Data) { x.HistoryGroups[0].Z = nil }},
		{"a number of 1 fish; there are 2", func(x *Data) { x.HistoryGroups[0].Z[0] = one[:1] }},
		{"1 weights of 2 fish", func(x *Data) { x.HistoryGroups[0].Weight = one[:1] }},
		{"the layout has no places", func(x *Data) { x.Waits = []Wait{{Z: one}} }},
	} {
		x := sound()
		c.spoil(x)
		assert.ErrorContains(t, x.Check(d), c.says)
		assert.Error(t, NewCJS(d, x).Err())
	}
	// Counts that no fish have are refused, but can be evaluated: they are
	// expected where a linear link gives a probability below 0.
	for says, spoil := range map[string]func(x *Data){
		"unit 0: the counts [0 -1 0]":          func(x *Data) { x.Units[0].Never[1] = -1 },
		"unit 0: the numbers [2 0]; the first": func(x *Data) { x.Units[0].Z = []float64{2, 0} },
		"unit 0: the numbers [1 NaN]":          func(x *Data) { x.Units[0].Z = []float64{1, math.NaN()} },
		"strand 0: a number of its fish is no": func(x *Data) { x.HistoryGroups[0].Z[0][1] = math.NaN() },
		"strand 0: a weight of its fish is b":  func(x *Data) { x.HistoryGroups[0].Weight[1] = -1 },
	} {
		x := sound()
		spoil(x)
		assert.ErrorContains(t, x.Check(d), says)
		assert.NoError(t, NewCJS(d, x).Err())
	}
	timed := *d
	timed.Layout = d.Layout.moved([]float64{50, 20, 0}, nil, false)
	for _, c := range []struct {
		says string
		x    Data
	}{
		{"trip 0: class 7", Data{TravelTimes: []TravelTime{{Class: 7, Z: one, To: 1, Days: 1}}}},
		{"trip 0: 1 fish in 0 days", Data{TravelTimes: []TravelTime{{Z: one, To: 1, Weight: 1}}}},
		{"trip 0: from site 1 to site 1", Data{TravelTimes: []TravelTime{{Z: one, From: 1, To: 1, Days: 1, Weight: 1}}}},
		{"trip 0: from site 0 to site 3", Data{TravelTimes: []TravelTime{{Z: one, To: 3, Days: 1, Weight: 1}}}},
		{"wait 0: at site 3; there are 0 to 2", Data{Waits: []Wait{{Z: one, Site: 3, Days: 2, Weight: 1}}}},
		{"wait 0: -1 fish", Data{Waits: []Wait{{Z: one, Days: 2, Weight: -1}}}},
	} {
		assert.ErrorContains(t, c.x.Check(&timed), c.says)
	}
}
