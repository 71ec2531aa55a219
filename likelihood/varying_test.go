package likelihood

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"example.org/unseen/likelihood/passtime"
)

// trips are fish that went over two reaches of 40 and 30 km; the logarithms of
// their time scales have the given standard deviation, and a share rests a week.
func trips(rnd *rand.Rand, n int, scales, rest float64) (out [][]TravelTime) {
	for range n {
		scale := math.Exp(scales * rnd.NormFloat64())
		law := passtime.Law{Drift: 6 * scale, Spread: 9 * math.Sqrt(scale)}
		var fish []TravelTime
		for k, km := range []float64{40, 30} {
			law.Km = km
			days := law.Quantile(rnd.Float64())
			if k == 0 && rnd.Float64() < rest {
				days += 7
			}
			fish = append(fish, TravelTime{Z: []float64{1}, From: k, To: k + 1, Days: days, Weight: 1, Fresh: k == 0})
		}
		out = append(out, fish)
	}
	return out
}

// twoReaches is a design of one drift and one spread over 40 and 30 km.
func twoReaches(t *testing.T, rest bool) *Design {
	l, err := NewLayout([]int{0, 1, 1})
	require.NoError(t, err)
	l, err = l.Timed([]float64{0, 40, 70}, nil, rest)
	require.NoError(t, err)
	d := &Design{Layout: l, Columns: 2, Numbers: 1, Slots: make([][][]Entry, 1), Links: make([][]Link, 1)}
	for a := range l.Slots() {
		link, entry := Link{Kind: Fixed, Value: 0.5}, []Entry(nil)
		switch a {
		case l.Drift(0):
			link, entry = Link{Kind: Log}, []Entry{{0, 0, 1}}
		case l.Spread(0):
			link, entry = Link{Kind: Log}, []Entry{{1, 0, 1}}
		}
		d.Slots[0], d.Links[0] = append(d.Slots[0], entry), append(d.Links[0], link)
	}
	return d
}

// fitted are the coefficients of d for the fish.
func fitted(t *testing.T, d *Design, fish [][]TravelTime) []float64 {
	data := &Data{}
	for _, f := range fish {
		data.TravelTimes = append(data.TravelTimes, f...)
	}
	c := Maximise(t.Context(), NewCJS(d, data), []float64{math.Log(6), math.Log(9)}, nil)
	require.Less(t, c.Distance, 1e-6)
	return c.X
}

// oneLawOf is OneLaw of fish with the design of two reaches, fitted to them.
func oneLawOf(t *testing.T, fish [][]TravelTime) (speeds, rests float64) {
	d := twoReaches(t, false)
	return OneLaw(d, fitted(t, d, fish), fish)
}

// TestOneLawByDifferences holds both deviates to their definition: ℓ of each fish
// by the law itself, differentiated by differences, s regressed on the scores by QR.
func TestOneLawByDifferences(t *testing.T) {
	d := twoReaches(t, false)
	fish := trips(rand.New(rand.NewPCG(3, 4)), 60, 0.2, 0.1)
	for i := range fish {
		for j := range fish[i] {
			if i%2 == 0 { // only those that came by then were taken
				fish[i][j].Within = fish[i][j].Days + 2
			}
		}
	}
	x := fitted(t, d, fish)
	n := len(fish)
	bent, rested, scores := mat.NewVecDense(n, nil), mat.NewVecDense(n, nil), mat.NewDense(n, 2, nil)
	for i, f := range fish {
		at := func(u, w, rest float64) (sum float64) {
			v := math.Exp(x[0] + u)
			for _, trip := range f {
				law := passtime.Law{Km: []float64{40, 30}[trip.From], Drift: v, Spread: math.Exp(x[1] + w)}
				late := law
				late.Km += restDays * v
				share := rest
				if !trip.Fresh {
					share = 0
				}
				sum += math.Log((1-share)*law.Density(trip.Days) + share*late.Density(trip.Days))
				if trip.Within > 0 {
					sum -= math.Log((1-share)*law.CDF(trip.Within) + share*late.CDF(trip.Within))
				}
			}
			return sum
		}
		const h = 1e-3 // differences are off by some 1e-6
		scale := func(u float64) float64 { return at(u, u/2, 0) }
		first := (scale(h) - scale(-h)) / (2 * h)
		bent.SetVec(i, ((scale(h)-2*scale(0)+scale(-h))/(h*h)+first*first)/2)
		rested.SetVec(i, (at(0, 0, 1e-5)-at(0, 0, -1e-5))/2e-5)
		scores.SetRow(i, []float64{(at(h, 0, 0) - at(-h, 0, 0)) / (2 * h), (at(0, h, 0) - at(0, -h, 0)) / (2 * h)})
	}
	deviate := func(s *mat.VecDense) float64 {
		var by, left mat.VecDense
		require.NoError(t, by.SolveVec(scores, s))
		left.MulVec(scores, &by)
		left.SubVec(s, &left)
		var mean, square, third float64
		for i := range n {
			mean += left.AtVec(i) / float64(n)
		}
		for i := range n {
			e := left.AtVec(i) - mean
			square, third = square+e*e/float64(n), third+e*e*e/float64(n)
		}
		root := math.Sqrt(float64(n))
		z, g := root*mean/math.Sqrt(square), third/math.Pow(square, 1.5)/root
		return z + g*z*z/3 + g/6 + g*g*z*z*z/27
	}
	speeds, rests := OneLaw(d, x, fish)
	assert.InDelta(t, deviate(bent), speeds, 1e-4)
	assert.InDelta(t, deviate(rested), rests, 1e-4)
}

// TestOneLawTells: of 600 fish whose time scales have a coefficient of variation of
// .5 one test is sure, of as many of which three in ten rest the other, of those alike
// neither; two alike are one of weight 2. Where fish rest by the design that is not
// tested.
func TestOneLawTells(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 6))
	speeds, _ := oneLawOf(t, trips(rnd, 600, 0.5, 0))
	assert.Greater(t, speeds, 4.0)
	_, rests := oneLawOf(t, trips(rnd, 600, 0, 0.3))
	assert.Greater(t, rests, 4.0)
	alike := trips(rnd, 300, 0, 0)
	speeds, rests = oneLawOf(t, alike)
	assert.Less(t, math.Abs(speeds), 2.0)
	assert.Less(t, math.Abs(rests), 2.0)

	var heavy [][]TravelTime
	for _, f := range alike {
		f = slices.Clone(f)
		f[0].Weight, f[1].Weight = 2, 2
		heavy = append(heavy, f)
	}
	twice, restTwice := oneLawOf(t, slices.Concat(alike, alike))
	once, restOnce := oneLawOf(t, heavy)
	assert.InDelta(t, twice, once, 1e-6)
	assert.InDelta(t, restTwice, restOnce, 1e-6)

	d := twoReaches(t, true)
	_, rests = OneLaw(d, []float64{math.Log(6), math.Log(9)}, alike)
	assert.True(t, math.IsNaN(rests))
}
