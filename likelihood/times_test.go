package likelihood

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/likelihood/passtime"
)

// timedDesign is a random design with drift and spread: one law, or where laws
// says so one for the first reach and another for the others, or each its own.
func timedDesign(rnd *rand.Rand, rows []int, classes, numbers, columns int, resting bool, laws int) *Design {
	d := randomDesign(rnd, rows, classes, numbers, columns, Logit, Logit, Rate)
	km := make([]float64, len(rows))
	for k := range km {
		km[k] = 100 - 20*float64(k) - 5*rnd.Float64()
	}
	var by []int
	for k := range len(rows) - 1 {
		by = append(by, min(k, laws-1))
	}
	d.Layout = d.Layout.moved(km, by, resting)
	for g := range d.Slots {
		for a := range d.Layout.movement() {
			d.Slots[g] = append(d.Slots[g], []Entry{{Column: rnd.IntN(columns), Value: 0.5}, {Column: rnd.IntN(columns), Number: rnd.IntN(numbers), Value: 0.3}})
			kind := Log
			if d.Layout.movement()[a] == d.Layout.Rest() {
				kind = Logit
			}
			d.Links[g] = append(d.Links[g], Link{Kind: kind})
		}
	}
	return d
}

func timedData(rnd *rand.Rand, d *Design, n int, scale float64) *Data {
	data := asUnits(d, randomFish(rnd, d, n))
	for i := range data.Units {
		clear(data.Units[i].Never)
	}
	for range n {
		z := []float64{1}
		for range d.Numbers - 1 {
			z = append(z, 0.6*rnd.NormFloat64())
		}
		g := rnd.IntN(d.Classes())
		from := rnd.IntN(d.Layout.Sites() - 1)
		to := from + 1 + rnd.IntN(d.Layout.Sites()-1-from)
		days := 1 + 20*rnd.Float64()
		within := 0.0
		if rnd.IntN(3) == 0 {
			within = days + 10*rnd.Float64()
		}
		data.TravelTimes = append(data.TravelTimes, TravelTime{g, z, from, to, days, 1 + float64(rnd.IntN(2)), rnd.IntN(2) == 1, within, 0})
		data.Waits = append(data.Waits, Wait{g, z, rnd.IntN(d.Layout.Sites()), scale * (1 + 30*rnd.Float64()), 1 + float64(rnd.IntN(2)), rnd.IntN(2) == 1, 0})
	}
	return data
}

// mixture are the laws by which fish go from one site to another, and their
// shares: where some rest, with the way lost and without.
func mixture(d *Design, x []float64, g int, z []float64, from, to int, fresh bool) (paths []passtime.Path, shares []float64) {
	l := d.Layout
	prob := func(a int) float64 { return d.Prob(x, g, a, z).P }
	path := func(lost float64) (p passtime.Path) {
		for k := from; k < to; k++ {
			p = append(p, passtime.Law{Km: l.Distance(k, k+1) + lost, Drift: prob(l.Drift(l.LawOf(k))), Spread: prob(l.Spread(l.LawOf(k)))})
			lost = 0
		}
		return p
	}
	if !fresh || !l.Resting {
		return []passtime.Path{path(0)}, []float64{1}
	}
	rho := prob(l.Rest())
	return []passtime.Path{path(0), path(prob(l.RestKm()))}, []float64{1 - rho, rho}
}

// mixedCDF is the share come by days.
func mixedCDF(d *Design, x []float64, g int, z []float64, from, to int, fresh bool, days float64) (sum float64) {
	paths, shares := mixture(d, x, g, z, from, to, fresh)
	for i, p := range paths {
		var v passtime.Derived
		p.Arrivals(days, 0, &v)
		sum += shares[i] * v.Value
	}
	return sum
}

// logMixture is the log-density of a travel time, safe where densities underflow.
func logMixture(d *Design, x []float64, t *TravelTime) float64 {
	paths, shares := mixture(d, x, t.Class, t.Z, t.From, t.To, t.Fresh)
	log := func(of func(p passtime.Path, v *passtime.Derived)) float64 {
		sum := math.Inf(-1)
		for i, p := range paths {
			var v passtime.Derived
			of(p, &v)
			a := math.Log(shares[i]) + v.Value
			sum = max(sum, a) + math.Log1p(math.Exp(-math.Abs(sum-a)))
		}
		return sum
	}
	f := log(func(p passtime.Path, v *passtime.Derived) { p.LogDensity(t.Days, 0, v) })
	if t.Within > 0 {
		f -= log(func(p passtime.Path, v *passtime.Derived) { p.LogCDF(t.Within, 0, v) })
	}
	return f
}

func TestTimesEqualDefinition(t *testing.T) {
	for seed := range uint64(20) {
		rnd := rand.New(rand.NewPCG(seed, 21))
		d := timedDesign(rnd, []int{1, 2, 1, 1}[:2+rnd.IntN(3)], 2, 2, 8, seed%2 == 1, 1+int(seed)%3)
		x := randomX(rnd, 8, 0.7)
		l := d.Layout
		data := timedData(rnd, d, 30, 1)
		var want Point
		NewCJS(d, &Data{Units: data.Units}).Eval(x, 0, &want)
		for _, tr := range data.TravelTimes {
			want.F += tr.Weight * logMixture(d, x, &tr)
		}
		for _, w := range data.Waits {
			chi, reach := 1.0, 1.0
			for j := w.Site + 1; j < l.Sites(); j++ {
				reach *= d.Prob(x, w.Class, l.Survival(j-1), w.Z).P
				miss := 1.0
				from, to := l.SiteRows(j)
				for b := from; b < to; b++ {
					miss *= 1 - d.Prob(x, w.Class, l.Detection(b), w.Z).P
				}
				chi -= reach * (1 - miss) * mixedCDF(d, x, w.Class, w.Z, w.Site, j, w.Fresh, w.Days)
				reach *= miss
			}
			want.F += w.Weight * math.Log(chi)
		}
		var p Point
		NewCJS(d, data).Eval(x, 0, &p)
		// 1e-11: the definition loses digits where χ is small.
		assert.InEpsilon(t, want.F, p.F, 1e-11, "seed %d", seed)
	}
}

func TestTimesDerivativesEqualDifferences(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	for seed := range uint64(20) {
		rnd := rand.New(rand.NewPCG(seed, 22))
		d := timedDesign(rnd, []int{1, 2, 1, 1}[:2+rnd.IntN(3)], 2, 1+rnd.IntN(2), 6, seed%2 == 1, 1+int(seed)%3)
		x := randomX(rnd, 6, 0.5)
		// 1e-6: what the differences are good for with densities of short
		// times among the terms.
		derivativesAgree(t, NewCJS(d, timedData(rnd, d, 20, 1)), x, 1e-6, seed)
	}
}

// TestLateEndIsThePlainModel: when the data end so late that every migrant has
// come, waiting is never being seen again.
func TestLateEndIsThePlainModel(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 23))
	d := timedDesign(rnd, []int{1, 2, 1, 1}, 2, 2, 8, false, 1)
	x := randomX(rnd, 8, 0.4)
	data := timedData(rnd, d, 200, 1e6)
	plain := &Data{Units: append([]Unit(nil), data.Units...)}
	for _, w := range data.Waits {
		u := NewUnit(d.Layout, w.Class, w.Z)
		u.Never[w.Site] = w.Weight
		plain.Units = append(plain.Units, u)
	}
	data.TravelTimes = nil
	var p, q Point
	NewCJS(d, plain).Eval(x, 2, &p)
	NewCJS(d, data).Eval(x, 2, &q)
	assert.InEpsilon(t, p.F, q.F, 1e-13)
	assert.InDeltaSlice(t, p.G, q.G, 1e-10)
	assert.InDeltaSlice(t, p.H, q.H, 1e-9)
}

// TestPassedByTheEnd: sums over fish and their derivatives, by differences; and
// the two ways to have passed site k unseen add up to what is left of χ.
func TestPassedByTheEnd(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	for seed := range uint64(10) {
		rnd := rand.New(rand.NewPCG(seed, 24))
		d := timedDesign(rnd, []int{1, 2, 1, 1}, 2, 2, 6, seed%2 == 1, 1+int(seed)%3)
		x := randomX(rnd, 6, 0.4)
		waits := timedData(rnd, d, 30, 1).Waits
		for name, f := range map[string]func(*Design, []float64, []Wait) []PassedSums{"by": SurvivedBy, "unseen": UnseenBy} {
			value := func(x []float64, k int, grad []float64) float64 {
				var sum float64
				for _, p := range f(d, x, waits) {
					v, _ := p.AddTo(d, k, 1, grad)
					sum += v
				}
				return sum
			}
			for k := 1; k < 4; k++ {
				grad := make([]float64, 6)
				v := value(x, k, grad)
				assert.True(t, v >= 0 && v <= 60)
				for j := range x {
					want := difference(func(h float64) float64 {
						y := append([]float64(nil), x...)
						y[j] += h
						return value(y, k, nil)
					})
					// 1e-6: what the differences are good for.
					assert.InDelta(t, want, grad[j], 1e-6, "%s seed %d site %d column %d", name, seed, k, j)
				}
			}
		}
		// Of fish that wait, those that have come to the last site unseen:
		// arrive · miss · F / χ, by the definition.
		l := d.Layout
		w := waits[0]
		w.Site, w.Weight, w.Fresh = 2, 1, false
		s, q := d.Prob(x, w.Class, l.Survival(2), w.Z).P, d.Prob(x, w.Class, l.Detection(3), w.Z).Q
		law := passtime.Law{Km: l.Distance(2, 3), Drift: d.Prob(x, w.Class, l.Drift(l.LawOf(2)), w.Z).P, Spread: d.Prob(x, w.Class, l.Spread(l.LawOf(2)), w.Z).P}
		f := law.CDF(w.Days)
		got, _ := UnseenBy(d, x, []Wait{w})[0].AddTo(d, 3, 1, nil)
		assert.InDelta(t, s*q*f/(1-s*(1-q)*f), got, 1e-12)
	}
}

// TestExpectedInformation: the mean over simulated fish of minus the Hessian is
// the expected information, and the mean score is zero.
func TestExpectedInformation(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	for _, laws := range [][]int{nil, {0, 1}} {
		expectedInformation(t, laws)
	}
}

func expectedInformation(t *testing.T, laws []int) {
	rnd := rand.New(rand.NewPCG(9, 25))
	d := &Design{Layout: layoutOf([]int{1, 2, 1}).moved([]float64{0, 40, 75}, laws, false), Numbers: 1}
	n := d.Layout.Slots()
	d.Columns = n
	var slots [][]Entry
	var links []Link
	for a := range d.Layout.Slots() {
		slots = append(slots, []Entry{{Column: a, Value: 1}})
		links = append(links, Link{Kind: Logit})
	}
	for a := 5; a < n; a++ {
		links[a].Kind = Log
	}
	d.Slots, d.Links = [][][]Entry{slots}, [][]Link{links}
	x := []float64{1, -0.3, 0.2, 0.8, 0.1, math.Log(6), math.Log(12), math.Log(4), math.Log(9)}[:n]
	l := d.Layout
	one := []float64{1}
	p := func(a int) float64 { return d.Prob(x, 0, a, one).P }
	law := func(k int) passtime.Law {
		i := l.LawOf(k)
		return passtime.Law{Km: l.Distance(k, k+1), Drift: p(l.Drift(i)), Spread: p(l.Spread(i))}
	}
	const fish = 200000
	end := 9.0
	if laws != nil {
		end = 25 // so that enough come over both
	}
	unit := NewUnit(l, 0, one)
	data := &Data{Waits: []Wait{{0, one, 0, end, 0, false, 0}}}
	for range fish {
		// One release at the first site, followed to its next sighting.
		seen, k := uint64(0), 0
		for k = 1; k <= 2; k++ {
			if rnd.Float64() >= p(l.Survival(k-1)) {
				k = 3
				break
			}
			from, to := l.SiteRows(k)
			for b := from; b < to; b++ {
				if rnd.Float64() < p(l.Detection(b)) {
					seen |= 1 << uint(b)
				}
			}
			if seen != 0 {
				break
			}
		}
		days := math.Inf(1)
		if k <= 2 {
			days = 0
			for i := range k {
				days += law(i).Quantile(rnd.Float64())
			}
		}
		if days > end {
			data.Waits[0].Weight++
			continue
		}
		unit.Add(l, 0, k, seen, false, true, 1)
		data.TravelTimes = append(data.TravelTimes, TravelTime{0, one, 0, k, days, 1, false, 0, 0})
	}
	data.Units = []Unit{unit}
	var got Point
	NewCJS(d, data).Eval(x, 2, &got)
	want := ExpectedInformation(d, x, []Wait{{0, one, 0, end, fish, false, 0}}, nil)
	for j := range x {
		// The score has mean 0 and variance the information: 4 standard deviations.
		assert.Less(t, math.Abs(got.G[j]), 4*math.Sqrt(want[j*n+j]), "score %d", j)
		for i := range x {
			// Sampling: a few times √information, on the scale of the two diagonals.
			scale := math.Sqrt(want[i*n+i] * want[j*n+j])
			assert.InDelta(t, want[i*n+j], -got.H[i*n+j], 0.04*scale, "%d %d", i, j)
		}
	}
}
