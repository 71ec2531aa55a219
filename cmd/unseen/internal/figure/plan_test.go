package figure

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/canvas"
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
	for i, o := range s.Ops {
		switch {
		case o.Kind == canvas.OpText && o.Text == "0" && o.Anchor == canvas.End:
			zero = o.At.Y
		case o.Kind == canvas.OpText && o.Text == "2" && o.Anchor == canvas.End:
			two = o.At.Y
		case o.Kind == canvas.OpText && o.Text == "wanted ± 4":
			wanted = true
		case o.Kind == canvas.OpMark && o.Datum.Key == "wanted":
			// In percentage points, from a share: one rounding.
			assert.InDelta(t, 4, o.Datum.Value, 1e-14)
			at = s.Ops[i+1].Path[0].To.Y
		}
		named = named || o.Kind == canvas.OpText && o.Text == "half-width of the interval to expect for passed at Scar Weir, ± percentage points"
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
		for _, o := range s.Ops {
			switch {
			case o.Kind == canvas.OpText && o.Text == first.label && o.Anchor == canvas.Middle:
				low = o.At.X
			case o.Kind == canvas.OpText && o.Text == last.label && o.Anchor == canvas.Middle:
				high = o.At.X
			}
		}
		value := func(x float64) float64 { return first.at + (last.at-first.at)*(x-low)/(high-low) }
		looked := 0
		for i, o := range s.Ops {
			if o.Kind != canvas.OpMark {
				continue
			}
			looked++
			interval, point := s.Ops[i+1].Path, s.Ops[i+2].Path
			left, right := math.Inf(1), math.Inf(-1)
			for _, q := range point {
				if q.Kind != 'Z' {
					left, right = min(left, q.To.X), max(right, q.To.X)
				}
			}
			// Sums and products of a few numbers: rounding alone.
			assert.InDelta(t, o.Datum.Low, value(interval[0].To.X), 1e-9, "%s, %s", name, o.Datum.Key)
			assert.InDelta(t, o.Datum.High, value(interval[1].To.X), 1e-9, "%s, %s", name, o.Datum.Key)
			assert.InDelta(t, o.Datum.Value, value((left+right)/2), 1e-9, "%s, %s", name, o.Datum.Key)
		}
		assert.Greater(t, looked, 10, name)
	}
}
