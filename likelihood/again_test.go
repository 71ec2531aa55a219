package likelihood

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/likelihood/passtime"
)

// TestNeverAgainByHand: with one site below, which stood still from day 3 to day 5
// and the data ending on day 9, a fish let go on day 1 is seen again with S p times
// the share of the law from 0 to 2 and from 4 to 8 days; without windows 0 to 8.
func TestNeverAgainByHand(t *testing.T) {
	l, err := NewLayout([]int{0, 1})
	require.NoError(t, err)
	l, err = l.Timed([]float64{0, 20}, nil, false)
	require.NoError(t, err)
	windowed, err := l.Working([][]Window{{{math.Inf(-1), 3}, {5, math.Inf(1)}}}, 9)
	require.NoError(t, err)
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
		got := NeverAgain(d, nil, []Wait{{Z: []float64{1}, Site: 0, Days: 8, At: 1, Weight: 1, Fresh: true}})
		assert.InDelta(t, 1-0.8*0.7*c.seen, got[0], 1e-12)
	}
}
