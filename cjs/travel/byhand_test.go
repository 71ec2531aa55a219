package travel

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/history"
	"example.org/unseen/likelihood"
	"example.org/unseen/likelihood/passtime"
)

// TestPassageInNoTimeIsNotTimed: fish 0 comes to Scar Weir at the moment of its
// release: no days can be made of that. And a stay lasts to the latest reading
// of any row, whichever row that is.
func TestPassageInNoTimeIsNotTimed(t *testing.T) {
	h := handMade()
	h.First[0], h.First[1] = dayMs, dayMs
	h.Last[0], h.Last[1] = 9*dayMs, 3*dayMs
	r, err := New(context.Background(), h, Options{})
	require.NoError(t, err)
	assert.Equal(t, 1, r.Stretches[0].NotTimed)
	for _, s := range r.Stays {
		if s.Site == 1 && s.Cohort == All {
			assert.InDelta(t, 8, s.Days.Max, 1e-12)
		}
	}
}

// TestNobodyCounts: where no fish has weight no time can be had.
func TestNobodyCounts(t *testing.T) {
	no := int64(history.NoTime)
	assert.Equal(t, [3]int64{no, no, no}, byShares([]weighted{{5, 5, 0}, {6, 6, 0}}))
	assert.Equal(t, [3]int64{6, 6, 7}, byShares([]weighted{{5, 5, 0}, {6, 6, 8}, {7, 7, 2}}))
}

// tailOfOdd is the upper tail of chi-square on 7 or 9 degrees of freedom
// (as Abramowitz & Stegun 1964, 26.4; held to SciPy's in
// testdata/published/scipy/in_tests.py): erfc(c/√2) + 2φ(c) (c + c³/3 + c⁵/15 [+ c⁷/105]).
func tailOfOdd(x float64, df int) float64 {
	c := math.Sqrt(x)
	sum := c + c*c*c/3 + math.Pow(c, 5)/15
	if df == 9 {
		sum += math.Pow(c, 7) / 105
	}
	return math.Erfc(c/math.Sqrt2) + 2*math.Exp(-x/2)/math.Sqrt(2*math.Pi)*sum
}

// TestLawSpreadsByHand: of a fit of log v and log σ the covariance is the
// inverse of minus the Hessian; the median's standard error follows by
// differences of the law's quantile; and the chi-square of ten classes lies
// between 7 and 9 degrees of freedom.
func TestLawSpreadsByHand(t *testing.T) {
	g := rand.New(rand.NewPCG(8, 9))
	truth := passtime.Law{Km: 40, Drift: 6, Spread: 12}
	days, room := seenBy(g, truth, 400, 0, 15)
	l, why, err := fitLaw(context.Background(), 40, &journeys{days: days, room: room}, Options{AsOf: 1, Level: 0.95, Shares: []float64{0.5}})
	require.NoError(t, err)
	require.Empty(t, why)
	v, s := l.Drift.Value, l.Spread.Value
	var p likelihood.Point
	(&lawObjective{km: 40, journeys: journeys{days: days, room: room}}).Eval([]float64{math.Log(v), math.Log(s)}, 2, &p)
	a, b, d := -p.H[0], -p.H[1], -p.H[3]
	det := a*d - b*b
	vv, vs, ss := d/det, -b/det, a/det
	// 1e-9: rounding.
	assert.InDelta(t, v*math.Sqrt(vv), l.Drift.SE, 1e-9)
	assert.InDelta(t, s*math.Sqrt(ss), l.Spread.SE, 1e-9)
	assert.InDelta(t, vs/math.Sqrt(vv*ss), l.Correlation, 1e-9)
	assert.NotZero(t, l.Correlation)
	median := func(v, s float64) float64 { return math.Log(passtime.Law{Km: 40, Drift: v, Spread: s}.Quantile(0.5)) }
	const step = 1e-4
	byV := (median(v*math.Exp(step), s) - median(v*math.Exp(-step), s)) / (2 * step)
	byS := (median(v, s*math.Exp(step)) - median(v, s*math.Exp(-step))) / (2 * step)
	m := math.Exp(median(v, s))
	assert.InDelta(t, m, l.Median.Value, 1e-9)
	// 1e-6: differences.
	assert.InDelta(t, m*math.Sqrt(byV*byV*vv+2*byV*byS*vs+byS*byS*ss), l.Median.SE, 1e-6)
	assert.InDelta(t, 40/v, l.Mean.Value, 1e-9)
	assert.InDelta(t, 40/v*math.Sqrt(vv), l.Mean.SE, 1e-9)
	var hidden float64
	for _, w := range room {
		hidden += 1 - passtime.Law{Km: 40, Drift: v, Spread: s}.CDF(w)
	}
	assert.InDelta(t, hidden/float64(len(room)), l.Hidden, 1e-9)
	c := l.Check
	require.Equal(t, 10, c.Classes)
	assert.InDelta(t, tailOfOdd(c.ChiSquare, 7), c.PLow, 1e-9)
	assert.InDelta(t, tailOfOdd(c.ChiSquare, 9), c.PHigh, 1e-9)
	assert.Greater(t, c.PLow, 0.001)
	// Of those that had come by as_of half came before the day by which half
	// should have, as far as 400 fish tell (√(400)/2 is 10 fish).
	assert.InDelta(t, 0.5, c.Seen[0], 0.1)
	assert.Equal(t, cjs.Converged, l.Verdict)

	law := passtime.Law{Km: 40, Drift: v, Spread: s}
	assert.True(t, math.IsNaN(check(law, &journeys{days: days[:49], room: room[:49]}, nil).ChiSquare))
	assert.False(t, math.IsNaN(check(law, &journeys{days: days[:50], room: room[:50]}, nil).ChiSquare))
}

// TestAllLaterIsTheSame: a season that begins a hundred days later has the same
// days, laws and hidden share.
func TestAllLaterIsTheSame(t *testing.T) {
	g := rand.New(rand.NewPCG(5, 6))
	season := func(shift int64) *Result {
		h := &history.Histories{River: history.River{Sites: []history.Site{{Name: "Mill Lade", Km: 40}, {Name: "Tidehead", Km: 0}}}, Cohorts: []string{"all"}}
		for i := range 200 {
			released := shift + int64(i%5)*dayMs
			at, seen := released+int64(draw(g, passtime.Law{Km: 40, Drift: 6, Spread: 10})*dayMs), uint64(1)
			if at > shift+12*dayMs {
				at, seen = history.NoTime, 0
			}
			h.Entry, h.Seen, h.End, h.Cohort = append(h.Entry, 0), append(h.Seen, seen), append(h.End, 0), append(h.Cohort, 0)
			h.Released, h.First, h.Last = append(h.Released, released), append(h.First, at), append(h.Last, at)
		}
		r, err := New(context.Background(), h, Options{AsOf: shift + 12*dayMs})
		require.NoError(t, err)
		return r
	}
	a := season(dayMs)
	g = rand.New(rand.NewPCG(5, 6))
	b := season(101 * dayMs)
	x, y := a.Stretches[0].Law, b.Stretches[0].Law
	require.NotNil(t, x)
	assert.Greater(t, x.Hidden, 0.01)
	// 1e-6: two searches for the same maximum.
	assert.InDelta(t, x.Drift.Value, y.Drift.Value, 1e-6)
	assert.InDelta(t, x.Hidden, y.Hidden, 1e-6)
	assert.InDelta(t, a.Stretches[0].Days.Mean, b.Stretches[0].Days.Mean, 1e-9)
}
