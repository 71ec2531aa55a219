package likelihood

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// The weights of the knots give the sums of polynomials in log t, panel by
// panel, and keep few times as they are.
func TestKnotsSumPolynomials(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 51))
	var all []timed
	for range 900 {
		all = append(all, timed{0.2 + 30*rnd.Float64(), 1 + float64(rnd.IntN(3))})
	}
	all = append(all, all[7], all[7]) // the same time again
	got := knots(append([]timed(nil), all...))
	assert.Less(t, len(got), 160)
	for degree := range knotCount {
		var want, sum float64
		h := func(days float64) float64 { return math.Pow(math.Log(days), float64(degree)) }
		for _, x := range all {
			want += x.weight * h(x.days)
		}
		for _, x := range got {
			sum += x.weight * h(x.days)
		}
		// 1e-11: rounding of sums of weights of either sign.
		assert.InEpsilon(t, want, sum, 1e-11, degree)
	}
	few := []timed{{3, 1}, {1, 2}, {2, 1}}
	assert.Equal(t, []timed{{1, 2}, {2, 1}, {3, 1}}, knots(few))
}

// The log-likelihood with knots is that of all times. Law by law, from wide to
// narrow: 1e-8 and, where times spread by a sixth of their mean, 1e-5.
func TestKnotsEqualAllTimes(t *testing.T) {
	rnd := rand.New(rand.NewPCG(6, 52))
	l := layoutOf([]int{1, 1, 1, 1}).moved([]float64{0, 40, 75, 110}, []int{0, 1, 2}, false)
	d := &Design{Layout: l, Numbers: 1, Columns: l.Slots()}
	var slots [][]Entry
	var links []Link
	for a := range l.Slots() {
		slots = append(slots, []Entry{{Column: a, Value: 1}})
		kind := Logit
		if law, _, _ := l.Moves(a); law >= 0 {
			kind = Log
		}
		links = append(links, Link{Kind: kind})
	}
	d.Slots, d.Links = [][][]Entry{slots}, [][]Link{links}
	for _, c := range []struct{ spread, tol float64 }{{18, 1e-8}, {8, 1e-8}, {4, 1e-5}} {
		x := []float64{1, 0.3, 1.2, 0.1, 1.4, 0.2, math.Log(6), math.Log(c.spread), math.Log(4), math.Log(c.spread / 2), math.Log(3), math.Log(c.spread)}
		data := &Data{}
		for range 600 {
			site := rnd.IntN(2)
			data.Waits = append(data.Waits, Wait{0, []float64{1}, site, 40 * rnd.Float64(), 1, false, 0})
			days := 40.0/6 + 35.0/4*(0.5+rnd.Float64())
			data.TravelTimes = append(data.TravelTimes, TravelTime{0, []float64{1}, 0, 2, days, 1, false, 0, 0})
		}
		var few, all Point
		o := NewCJS(d, data)
		assert.Less(t, len(o.waits)+len(o.alone), 300)
		o.Eval(x, 2, &few)
		o.waits, o.alone, o.blocks = data.Waits, data.TravelTimes, nil
		o.cut()
		o.sums = make([]Point, len(o.blocks))
		o.Eval(x, 2, &all)
		assert.InDelta(t, all.F, few.F, c.tol, c.spread)
		for j := range all.G {
			assert.InDelta(t, all.G[j], few.G[j], 100*c.tol, "%v %v", c.spread, j)
		}
	}
}
