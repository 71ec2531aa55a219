package likelihood

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/likelihood/passtime"
)

// oneBelow is one site 20 km below, always at work and out of service from day 3 to
// day 5, of data that end on day 9.
func oneBelow(t *testing.T) (always, windowed *Layout) {
	t.Helper()
	l, err := NewLayout([]int{0, 1})
	require.NoError(t, err)
	l, err = l.Timed([]float64{0, 20}, nil, false)
	require.NoError(t, err)
	windowed, err = l.Working([][]Window{{{math.Inf(-1), 3}, {5, math.Inf(1)}}}, 9)
	require.NoError(t, err)
	return l, windowed
}

// TestNextSeenByHand: with one site below, which stood still from day 3 to day 5
// and the data ending on day 9, a fish let go on day 1 is seen again with S p times
// the share of the law from 0 to 2 and from 4 to 8 days; without windows 0 to 8.
func TestNextSeenByHand(t *testing.T) {
	l, windowed := oneBelow(t)
	law := passtime.Law{Km: 20, Drift: 5, Spread: 7}
	fixed := func(v float64) Link { return Link{Kind: Fixed, Value: v} }
	for _, c := range []struct {
		layout *Layout
		seen   float64
	}{
		{l, law.CDF(8)},
		{windowed, law.CDF(2) + law.CDF(8) - law.CDF(4)},
	} {
		d := &Design{Layout: c.layout, Numbers: 1, Slots: [][][]Entry{make([][]Entry, 4)},
			Links: [][]Link{{fixed(0.8), fixed(0.7), fixed(5), fixed(7)}}}
		got := NextSeen(d, nil, []Wait{{Z: []float64{1}, Site: 0, Days: 8, At: 1, Weight: 1, Fresh: true}})
		assert.InDelta(t, 0.8*0.7*c.seen, got[0][1], 1e-12)
	}
}

// TestNextSeenBySiteByHand: with two sites below, the first of which stood still
// from day 3 to day 5: whoever passes it then is next seen at the second. The law
// of the whole way is that of one speed over its km; what passes in the outage is
// an integral, here by Simpson's rule.
func TestNextSeenBySiteByHand(t *testing.T) {
	l, err := NewLayout([]int{0, 1, 1})
	require.NoError(t, err)
	l, err = l.Timed([]float64{0, 20, 50}, nil, false)
	require.NoError(t, err)
	always := []Window{{math.Inf(-1), math.Inf(1)}}
	windowed, err := l.Working([][]Window{{{math.Inf(-1), 3}, {5, math.Inf(1)}}, always}, 13)
	require.NoError(t, err)
	first, second, whole := passtime.Law{Km: 20, Drift: 5, Spread: 7}, passtime.Law{Km: 30, Drift: 5, Spread: 7}, passtime.Law{Km: 50, Drift: 5, Spread: 7}
	const steps = 2000
	missed := 0.0 // comes by in the outage, and to the second site by day 13
	for i := range steps + 1 {
		at := 2 + 2*float64(i)/steps
		weight := []float64{2, 4}[i%2]
		if i == 0 || i == steps {
			weight = 1
		}
		missed += weight * first.Density(at) * second.CDF(12-at) * (2.0 / steps) / 3
	}
	const s1, s2, p1, p2 = 0.8, 0.9, 0.7, 0.6
	fixed := func(v float64) Link { return Link{Kind: Fixed, Value: v} }
	for _, c := range []struct {
		layout *Layout
		want   []float64
	}{
		{l, []float64{0, s1 * p1 * first.CDF(12), s1 * (1 - p1) * s2 * p2 * whole.CDF(12)}},
		{windowed, []float64{0, s1 * p1 * (first.CDF(2) + first.CDF(12) - first.CDF(4)), s1 * s2 * p2 * ((1-p1)*whole.CDF(12) + p1*missed)}},
	} {
		l := c.layout
		links := make([]Link, l.Slots())
		for slot, v := range map[int]float64{l.Survival(0): s1, l.Survival(1): s2, l.Detection(0): p1, l.Detection(1): p2, l.Drift(0): 5, l.Spread(0): 7} {
			links[slot] = fixed(v)
		}
		d := &Design{Layout: l, Numbers: 1, Slots: [][][]Entry{make([][]Entry, l.Slots())}, Links: [][]Link{links}}
		// Twice, from another site first: what is left of one wait is not the next's.
		got := NextSeen(d, nil, []Wait{{Z: []float64{1}, Site: 1, Days: 8, At: 5, Weight: 1}, {Z: []float64{1}, Site: 0, Days: 12, At: 1, Weight: 1, Fresh: true}, {Z: []float64{1}, Site: 1, Days: 8, At: 5, Weight: 1}})
		// 1e-9: the rules of both integrals.
		assert.InDeltaSlice(t, c.want, got[1], 1e-9)
		assert.InDeltaSlice(t, []float64{0, 0, s2 * p2 * second.CDF(8)}, got[2], 1e-9)
	}
}

// Fish of one class that differ by a number are each reckoned by their own, beside
// fish with the same and with other numbers: as alone, with windows and without.
func TestNextSeenOfFishThatDiffer(t *testing.T) {
	l, windowed := oneBelow(t)
	for _, l := range []*Layout{l, windowed} {
		links := make([]Link, l.Slots())
		links[l.Drift(0)], links[l.Spread(0)] = Link{Kind: Fixed, Value: 5}, Link{Kind: Fixed, Value: 7}
		links[l.Detection(0)] = Link{Kind: Fixed, Value: 0.7}
		slots := make([][]Entry, l.Slots())
		slots[l.Survival(0)] = []Entry{{Column: 0, Number: 0, Value: 1}, {Column: 1, Number: 1, Value: 1}}
		d := &Design{Layout: l, Columns: 2, Numbers: 2, Slots: [][][]Entry{slots}, Links: [][]Link{links}}
		var fish []Wait
		for _, z := range []float64{-1, 2, 2, 0} {
			fish = append(fish, Wait{Z: []float64{1, z}, Days: 8, At: 1, Weight: 1, Fresh: true})
		}
		x := []float64{0.3, 0.8}
		together := NextSeen(d, x, fish)
		for i := range fish {
			assert.Equal(t, NextSeen(d, x, fish[i:i+1])[0], together[i])
		}
		assert.NotEqual(t, together[0], together[1])
	}
}
