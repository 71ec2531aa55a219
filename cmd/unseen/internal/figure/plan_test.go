package figure

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/analysis"
)

// TestPlanDrawsTheWish: the axis names the quantity, and the precision wanted
// stands at its own place on it.
func TestPlanDrawsTheWish(t *testing.T) {
	p, err := fitted(t, demoStudy, analysis.Choice{}).Plan()
	require.NoError(t, err)
	a, err := p.Ask(context.Background(), analysis.Questions{Want: []string{"passed at Scar Weir ± 4"}, Options: true})
	require.NoError(t, err)
	f := HalfWidths(a)
	require.NotNil(t, f)
	s := f.lay(Wide)
	zero, two, at := math.NaN(), math.NaN(), math.NaN()
	named, wanted := false, false
	for i, o := range s.ops {
		switch {
		case o.kind == opText && o.text == "0" && o.anchor == end:
			zero = o.at.y
		case o.kind == opText && o.text == "2" && o.anchor == end:
			two = o.at.y
		case o.kind == opText && o.text == "wanted ± 4":
			wanted = true
		case o.kind == opMark && o.datum.key == "wanted":
			// In percentage points, from a share: one rounding.
			assert.InDelta(t, 4, o.datum.Value, 1e-14)
			at = s.ops[i+1].path[0].to.y
		}
		named = named || o.kind == opText && o.text == "half-width of the interval to expect for passed at Scar Weir, ± percentage points"
	}
	assert.True(t, named && wanted)
	// Labels stand 4 below their ticks.
	assert.InDelta(t, 4, 2*(at+4-zero)/(two-zero), 1e-9, "the line stands where the axis says 4")
	assert.Contains(t, f.Caption, "± 4 points takes")
}

// TestMarksStandWhereTheAxisSays: each point of a chart of rows lies at its
// value and each interval at its ends, in a list and in small charts.
func TestMarksStandWhereTheAxisSays(t *testing.T) {
	d := fitted(t, demoStudy, analysis.Choice{})
	for name, f := range map[string]*Figure{"list": Survival(d), "by cohort": PassedBy(d)} {
		r := f.body.(*rows)
		s := f.lay(Wide)
		low, high := math.NaN(), math.NaN()
		first, last := r.axis.ticks[0], r.axis.ticks[len(r.axis.ticks)-1]
		for _, o := range s.ops {
			switch {
			case o.kind == opText && o.text == first.label && o.anchor == middle:
				low = o.at.x
			case o.kind == opText && o.text == last.label && o.anchor == middle:
				high = o.at.x
			}
		}
		value := func(x float64) float64 { return first.at + (last.at-first.at)*(x-low)/(high-low) }
		looked := 0
		for i, o := range s.ops {
			if o.kind != opMark {
				continue
			}
			looked++
			interval, point := s.ops[i+1].path, s.ops[i+2].path
			left, right := math.Inf(1), math.Inf(-1)
			for _, q := range point {
				if q.kind != 'Z' {
					left, right = min(left, q.to.x), max(right, q.to.x)
				}
			}
			// Sums and products of a few numbers: rounding alone.
			assert.InDelta(t, o.datum.Low, value(interval[0].to.x), 1e-9, "%s, %s", name, o.datum.key)
			assert.InDelta(t, o.datum.High, value(interval[1].to.x), 1e-9, "%s, %s", name, o.datum.key)
			assert.InDelta(t, o.datum.Value, value((left+right)/2), 1e-9, "%s, %s", name, o.datum.key)
		}
		assert.Greater(t, looked, 10, name)
	}
}
