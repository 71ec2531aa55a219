package likelihood

import (
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// layoutOf is a layout that is known to be sound.
func layoutOf(rows []int) *Layout {
	l, err := NewLayout(rows)
	if err != nil {
		panic(err)
	}
	return l
}

// fishProb is the probability of one fish's history by the definition of the
// model: a fish steps from site to site, alive or dead, and is detected or not.
// It shares nothing with the code under test but the Design.
func fishProb(d *Design, x []float64, g int, z []float64, entry int, seen uint64, removedAt int) float64 {
	l := d.Layout
	p := func(a int) float64 { return d.Prob(x, g, a, z).P }
	// below is the probability of the sightings below site k, given alive at k.
	var below func(k int) float64
	below = func(k int) float64 {
		if k == l.Sites()-1 || k == removedAt {
			return 1
		}
		here, none := 1.0, true
		from, to := l.SiteRows(k + 1)
		for b := from; b < to; b++ {
			pb := p(l.Detection(b))
			if seen>>uint(b)&1 == 1 {
				here *= pb
				none = false
			} else {
				here *= 1 - pb
			}
		}
		s := p(l.Survival(k))
		alive := s * here * below(k+1)
		rest := seen >> uint(from)
		if none && rest == 0 && removedAt < 0 {
			return alive + (1 - s)
		}
		return alive
	}
	return below(entry)
}

// randomDesign has every kind of entry: shared columns, numbers, links.
func randomDesign(rnd *rand.Rand, rows []int, classes, numbers, columns int, links ...LinkKind) *Design {
	l := layoutOf(rows)
	d := &Design{Layout: l, Columns: columns, Numbers: numbers}
	for range classes {
		var slots [][]Entry
		var lk []Link
		for a := range l.Slots() {
			var es []Entry
			for range 1 + rnd.IntN(3) {
				es = append(es, Entry{Column: rnd.IntN(columns), Number: rnd.IntN(numbers), Value: 0.5 + rnd.Float64()})
			}
			slots = append(slots, es)
			k := links[rnd.IntN(len(links))]
			if k == Rate && l.Reach(a) < 0 {
				k = Logit
			}
			lk = append(lk, Link{Kind: k, Length: 0.3 + rnd.Float64(), Value: 0.2 + 0.6*rnd.Float64()})
		}
		d.Slots = append(d.Slots, slots)
		d.Links = append(d.Links, lk)
	}
	return d
}

type testFish struct {
	class, entry int
	seen         uint64
	removed      bool
	z            []float64
}

func (f *testFish) last(l *Layout) int {
	for k := l.Sites() - 1; k > f.entry; k-- {
		from, to := l.SiteRows(k)
		if f.seen>>uint(from)&(1<<uint(to-from)-1) != 0 {
			return k
		}
	}
	return f.entry
}

// randomFish has no regard for the model: any possible history will do.
func randomFish(rnd *rand.Rand, d *Design, n int) []testFish {
	l := d.Layout
	out := make([]testFish, n)
	for i := range out {
		f := &out[i]
		f.class = rnd.IntN(d.Classes())
		f.entry = rnd.IntN(l.Sites())
		from, _ := l.SiteRows(min(f.entry+1, l.Sites()-1))
		if f.entry < l.Sites()-1 {
			f.seen = rnd.Uint64() & rnd.Uint64() & (1<<uint(l.RowCount()) - 1) >> uint(from) << uint(from)
		}
		f.removed = f.last(l) > f.entry && rnd.IntN(5) == 0
		f.z = []float64{1}
		for range d.Numbers - 1 {
			f.z = append(f.z, rnd.NormFloat64()*0.6)
		}
	}
	return out
}

// asUnits and asStrands put the same fish in the two forms.
func asUnits(d *Design, fish []testFish) *Data {
	l := d.Layout
	var data Data
	for i := range fish {
		f := &fish[i]
		u := NewUnit(l, f.class, f.z)
		u.Add(l, f.entry, f.last(l), f.seen, !f.removed, true, 1)
		data.Units = append(data.Units, u)
	}
	return &data
}

func asStrands(d *Design, fish []testFish, weight float64) *Data {
	l := d.Layout
	index := map[string]int{}
	var data Data
	for i := range fish {
		f := &fish[i]
		key := fmt.Sprint(f.class, f.entry, f.seen, f.removed)
		j, ok := index[key]
		if !ok {
			j = len(data.HistoryGroups)
			index[key] = j
			data.HistoryGroups = append(data.HistoryGroups, HistoryGroup{Class: f.class, Entry: f.entry, Last: f.last(l),
				Open: !f.removed, Seen: f.seen, Z: make([][]float64, d.Numbers-1)})
		}
		s := &data.HistoryGroups[j]
		for n := range s.Z {
			s.Z[n] = append(s.Z[n], f.z[n+1])
		}
		if weight != 1 {
			s.Weight = append(s.Weight, weight)
		}
		s.N++
	}
	return &data
}

func randomX(rnd *rand.Rand, n int, scale float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = rnd.NormFloat64() * scale
	}
	return x
}

func TestLikelihoodEqualsDefinition(t *testing.T) {
	for seed := range uint64(40) {
		rnd := rand.New(rand.NewPCG(seed, 1))
		rows := []int{1, 1 + rnd.IntN(3), 1, 1 + rnd.IntN(2)}[:2+rnd.IntN(3)]
		d := randomDesign(rnd, rows, 2, 1+rnd.IntN(3), 6, Logit, Logit, Rate, CLogLog, Fixed)
		x := randomX(rnd, 6, 0.8)
		fish := randomFish(rnd, d, 300)
		var want float64
		for i := range fish {
			f := &fish[i]
			removed := -1
			if f.removed {
				removed = f.last(d.Layout)
			}
			want += math.Log(fishProb(d, x, f.class, f.z, f.entry, f.seen, removed))
		}
		// 1e-12 relative: the two differ by rounding of 300 sums only.
		var p, q Point
		NewCJS(d, asUnits(d, fish)).Eval(x, 2, &p)
		assert.InEpsilon(t, want, p.F, 1e-12, "units, seed %d", seed)
		NewCJS(d, asStrands(d, fish, 1)).Eval(x, 2, &q)
		assert.InEpsilon(t, want, q.F, 1e-12, "strands, seed %d", seed)
		assert.InDeltaSlice(t, p.G, q.G, 1e-10)
		assert.InDeltaSlice(t, p.H, q.H, 1e-9)
		NewCJS(d, asStrands(d, fish, 3)).Eval(x, 2, &q)
		assert.InEpsilon(t, 3*want, q.F, 1e-12, "weight 3 equals the fish three times, seed %d", seed)
		for i := range p.H {
			assert.InDelta(t, 3*p.H[i], q.H[i], 1e-9)
		}
	}
}

func TestAllHistoriesSumToOne(t *testing.T) {
	for seed := range uint64(20) {
		rnd := rand.New(rand.NewPCG(seed, 2))
		rows := []int{1, 2, 1, 1, 2}[:2+rnd.IntN(4)]
		d := randomDesign(rnd, rows, 1, 2, 5, Logit, Rate)
		x := randomX(rnd, 5, 1)
		l := d.Layout
		for entry := range l.Sites() - 1 {
			from, _ := l.SiteRows(entry + 1)
			var sum float64
			for h := uint64(0); h < 1<<uint(l.RowCount()-from); h++ {
				f := testFish{entry: entry, seen: h << uint(from), z: []float64{1, 0.7}}
				var p Point
				NewCJS(d, asStrands(d, []testFish{f}, 1)).Eval(x, 0, &p)
				sum += math.Exp(p.F)
			}
			assert.InDelta(t, 1, sum, 1e-12, "seed %d entry %d", seed, entry)
		}
	}
}

// difference is the derivative of f at 0 by Richardson's extrapolation of
// central differences: error of order h⁶, about 1e-10 for these functions.
func difference(f func(h float64) float64) float64 {
	d := func(h float64) float64 { return (f(h) - f(-h)) / (2 * h) }
	const h = 2e-2
	a, b, c := d(h), d(h/2), d(h/4)
	ab, bc := b+(b-a)/3, c+(c-b)/3
	return bc + (bc-ab)/15
}

func TestDerivativesEqualDifferences(t *testing.T) {
	seeds := uint64(30)
	if testing.Short() {
		seeds = 10 // each pair of links twice
	}
	for seed := range seeds {
		rnd := rand.New(rand.NewPCG(seed, 3))
		rows := []int{1, 2, 1, 3}[:2+rnd.IntN(3)]
		links := [][]LinkKind{{Logit}, {Rate, Logit}, {Logit, Fixed}, {Linear}, {CLogLog, Logit}}[seed%5]
		d := randomDesign(rnd, rows, 2, 1+rnd.IntN(3), 5, links...)
		x := randomX(rnd, 5, 0.7)
		fish := randomFish(rnd, d, 60)
		if links[0] == Linear {
			// Keep every predictor inside (0, 1) so that the differences exist.
			for g := range d.Slots {
				for a := range d.Slots[g] {
					d.Slots[g][a] = []Entry{{Column: rnd.IntN(5), Value: 0.5 + 0.4*rnd.Float64()}, {Column: rnd.IntN(5), Number: rnd.IntN(d.Numbers), Value: 0.02}}
				}
			}
			for i := range x {
				x[i] = 0.5 + 0.3*rnd.Float64()
			}
		}
		for _, data := range []*Data{asUnits(d, fish), asStrands(d, fish, 1.5)} {
			derivativesAgree(t, NewCJS(d, data), x, 1e-7, seed)
		}
	}
}

// derivativesAgree holds gradient and Hessian of o at x to differences, to tol
// of the Hessian's largest element.
func derivativesAgree(t *testing.T, o *CJS, x []float64, tol float64, seed uint64) {
	t.Helper()
	var p Point
	o.Eval(x, 2, &p)
	require.False(t, math.IsNaN(p.F) || math.IsInf(p.F, 0))
	at := func(j int, h float64) Point {
		y := append([]float64(nil), x...)
		y[j] += h
		var q Point
		o.Eval(y, 1, &q)
		return q
	}
	scale := 0.0
	for _, v := range p.H {
		scale = max(scale, math.Abs(v))
	}
	for j := range x {
		g := difference(func(h float64) float64 { return at(j, h).F })
		assert.InDelta(t, g, p.G[j], tol*scale, "gradient %d, seed %d", j, seed)
		for i := range x {
			h := difference(func(h float64) float64 { return at(j, h).G[i] })
			assert.InDelta(t, h, p.H[i*len(x)+j], tol*scale, "Hessian %d %d, seed %d", i, j, seed)
		}
	}
}

func TestSameBitsAtAnyGOMAXPROCS(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 4))
	d := randomDesign(rnd, []int{1, 1, 2, 1}, 3, 2, 6, Logit)
	o := asStrands(d, randomFish(rnd, d, 20000), 1)
	x := randomX(rnd, 6, 0.5)
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	var first Point
	for i, n := range []int{1, 2, 3, 7} {
		runtime.GOMAXPROCS(n)
		var p Point
		c := NewCJS(d, o)
		require.Greater(t, len(c.blocks), 1)
		c.Eval(x, 2, &p)
		if i == 0 {
			first = p
		}
		assert.Equal(t, first, p)
	}
}

func TestTinyProbabilitiesDoNotUnderflow(t *testing.T) {
	// 40 sites at detection 1e-10, all detected: the product is 1e-390.
	rows := make([]int, 40)
	for i := range rows {
		rows[i] = 1
	}
	d := &Design{Layout: layoutOf(rows), Columns: 1, Numbers: 2}
	var es [][]Entry
	var ls []Link
	for a := range d.Layout.Slots() {
		es = append(es, []Entry{{0, 1, 1}})
		if d.Layout.Reach(a) >= 0 {
			es[a] = nil
		}
		ls = append(ls, Link{})
	}
	d.Slots, d.Links = [][][]Entry{es}, [][]Link{ls}
	x := []float64{LogitOf(1e-10)}
	s := HistoryGroup{Last: 39, Open: true, Seen: 1<<39 - 1, Z: [][]float64{{1}}, N: 1}
	var p Point
	NewCJS(d, &Data{HistoryGroups: []HistoryGroup{s}}).Eval(x, 0, &p)
	assert.InEpsilon(t, 39*(math.Log(1e-10)+math.Log(0.5)), p.F, 1e-12)
}

func TestLinks(t *testing.T) {
	for _, l := range []Link{{Kind: Logit}, {Kind: Rate, Length: 2.5}, {Kind: CLogLog, Length: 2.5}, {Kind: Linear}} {
		for _, p := range []float64{1e-9, 0.1, 0.5, 0.9, 1 - 1e-9} {
			pr := l.At(l.Inverse(p))
			assert.InEpsilon(t, p, pr.P, 1e-13, "%v", l)
			assert.InEpsilon(t, 1-p, pr.Q, 1e-6, "%v", l)
		}
	}
	// The values stand beside SciPy's expit in cjs tests; here the tails.
	p, q := Expit(800)
	assert.Equal(t, 1.0, p)
	assert.Equal(t, 0.0, q)
	p, q = Expit(-700)
	assert.Greater(t, p, 0.0)
	assert.Equal(t, 1.0, q)
}

// TestThinByHand: of two history groups of five fish, most three: every third fish
// over both, the first, fourth, seventh and tenth, each for three.
func TestThinByHand(t *testing.T) {
	historyGroup := func(z ...float64) HistoryGroup { return HistoryGroup{Z: [][]float64{z}, N: len(z)} }
	d := &Data{HistoryGroups: []HistoryGroup{historyGroup(1, 2, 3, 4, 5), historyGroup(6, 7, 8, 9, 10)}}
	thin := d.Thin(3)
	require.NotNil(t, thin)
	require.Len(t, thin.HistoryGroups, 2)
	assert.Equal(t, []float64{1, 4}, thin.HistoryGroups[0].Z[0])
	assert.Equal(t, []float64{7, 10}, thin.HistoryGroups[1].Z[0])
	for _, s := range thin.HistoryGroups {
		assert.Equal(t, []float64{3, 3}, s.Weight)
		assert.Equal(t, 2, s.N)
	}
	d.HistoryGroups[1].Weight = []float64{1, 2, 1, 1, 4}
	assert.Equal(t, []float64{6, 12}, d.Thin(3).HistoryGroups[1].Weight)
	assert.Nil(t, d.Thin(6))
}
