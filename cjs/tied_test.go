package cjs

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/likelihood"
	"example.org/unseen/likelihood/linear"
)

// strewn are fish of one cohort with so many rows of antennas, one a site.
func strewn(seed uint64, rows, fish int, survival, detection func(k int) float64) *history.Histories {
	rnd := rand.New(rand.NewPCG(seed, 8))
	h := &history.Histories{Cohorts: []string{"all"}}
	for k := range rows + 1 {
		h.River.Sites = append(h.River.Sites, history.Site{Name: string(rune('A' + k)), Km: math.NaN(), Days: math.NaN()})
	}
	counts := make([]int32, 1<<rows)
	for range fish {
		seen := 0
		for k := range rows {
			if rnd.Float64() >= survival(k) {
				break
			}
			if rnd.Float64() < detection(k) {
				seen |= 1 << k
			}
		}
		counts[seen]++
	}
	for seen, n := range counts {
		if n > 0 {
			h.Entry, h.Seen, h.End = append(h.Entry, 0), append(h.Seen, uint64(seen)), append(h.End, history.Open)
			h.Cohort, h.Count = append(h.Cohort, 0), append(h.Count, n)
		}
	}
	return h
}

// alikeCohorts are n cohorts of 300 fish over five rows, alike in survival and
// detection.
func alikeCohorts(n int) *history.Histories {
	h := &history.Histories{}
	for c := range n {
		one := strewn(uint64(c), 5, 300, func(int) float64 { return 0.8 }, func(int) float64 { return 0.5 })
		h.River = one.River
		h.Cohorts = append(h.Cohorts, string(rune('a'+c)))
		h.Entry, h.Seen, h.End, h.Count = append(h.Entry, one.Entry...), append(h.Seen, one.Seen...), append(h.End, one.End...), append(h.Count, one.Count...)
		for range one.Seen {
			h.Cohort = append(h.Cohort, int32(c))
		}
	}
	return h
}

// threeCohorts are a fit of cohorts that share nothing; the last site has two rows,
// which tell survival to it from detection.
func threeCohorts(t *testing.T) *Fit {
	h := &history.Histories{Cohorts: []string{"week 1", "week 2", "week 3"}}
	for c := range h.Cohorts {
		one := strewn(uint64(c), 4, 1000+100*c, func(k int) float64 { return []float64{0.8, 0.7, 0.8, 1}[k] }, func(int) float64 { return 0.5 })
		h.River.Sites = one.River.Sites[:4]
		h.Entry, h.Seen, h.End, h.Count = append(h.Entry, one.Entry...), append(h.Seen, one.Seen...), append(h.End, one.End...), append(h.Count, one.Count...)
		for range one.Seen {
			h.Cohort = append(h.Cohort, int32(c))
		}
	}
	h.River.Sites[3].Rows = []string{"upper", "lower"}
	p, err := model.Build(model.Input{Histories: h}, model.Spec{Survival: "reach by cohort", Detection: "site by cohort"})
	require.NoError(t, err)
	f, err := New(context.Background(), p, Options{EstimatesOnly: true})
	require.NoError(t, err)
	return f
}

// The step by blocks is that of the whole matrix, off the maximum and with a
// multiplier, where a block curves up on its own too.
func TestStepByBlocksIsThatOfTheWhole(t *testing.T) {
	rnd := rand.New(rand.NewPCG(7, 70))
	f := threeCohorts(t)
	q := &likelihood.Quantity{}
	for g := range f.Problem.Classes {
		m := f.slot(g, likelihood.Factor{Slot: f.Problem.Layout.Survival(1)}).Means[0]
		m.Scale = []float64{0.9, 0.07, 0.03}[g]
		q.Means = append(q.Means, m)
	}
	whole, split := newTied(f.free(), q, false), newTied(f.free(), q, false)
	split.split(f.components().columns)
	require.Len(t, split.blocks, 3)
	same, up := 0, 0
	for range 400 {
		x := append([]float64(nil), f.X...)
		for i := range x {
			x[i] += 0.02 * rnd.NormFloat64()
		}
		m := 400 * rnd.NormFloat64()
		whole.at(x)
		split.at(x)
		whole.multiplier, split.multiplier = m, m
		a, ok := whole.step()
		if !ok || a.raised {
			continue // no maximum along the constraint
		}
		b, ok := split.step()
		require.True(t, ok)
		require.False(t, b.raised)
		// 1e-5: the ridge of 1e-9 on matrices of condition 1,000 and more.
		assert.InEpsilon(t, a.gain, b.gain, 1e-5)
		assert.InEpsilon(t, a.slope, b.slope, 1e-5)
		assert.InDelta(t, a.curve, b.curve, 1e-5*(1+math.Abs(a.curve)))
		assert.InDeltaSlice(t, a.still, b.still, 1e-5)
		assert.InDeltaSlice(t, a.along, b.along, 1e-5)
		same++
		for _, index := range split.blocks {
			if p, ok := split.solve(index, false); !ok || !p.definite {
				up++
			}
		}
	}
	assert.Greater(t, same, 50)
	assert.Greater(t, up, 10)
}

// What a component finds stands at its own columns; all others are at their
// maximum.
func TestWholeOfComponent(t *testing.T) {
	f := threeCohorts(t)
	f.Parameters, f.EffectiveSample = thinColumns+1, thinSample+1 // as if ample
	for g := range f.Problem.Classes {
		q := f.slot(g, likelihood.Factor{Slot: f.Problem.Layout.Survival(1)})
		at := f.componentOf(&q)
		require.GreaterOrEqual(t, at, 0)
		p := f.makeComponent(at, at)
		x := make([]float64, len(p.X))
		for i := range x {
			x[i] = p.X[i] + float64(i+1)/10
		}
		whole := p.whole(f, x)
		moved := map[int]bool{}
		for j, v := range whole {
			d := 0.0
			for c := range f.Problem.Classes {
				for a, es := range f.Problem.Design.Slots[c] {
					for i, e := range es {
						if e.Column == j && c == g {
							// The same slot of the component, by its own columns.
							d = x[p.Problem.Design.Slots[g][a][i].Column] - f.X[j]
							moved[j] = true
						}
					}
				}
			}
			assert.InDelta(t, f.X[j]+d, v, 1e-12) // rounding
		}
		assert.Len(t, moved, len(x))
		assert.Nil(t, p.whole(f, nil))
	}
}

// A point that leaves out what is zero has the derivatives of one that does not,
// at one place after another.
func TestPointOfNewPoint(t *testing.T) {
	h := alikeCohorts(8)
	for _, detection := range []string{"site by cohort", "site"} {
		p, err := model.Build(model.Input{Histories: h}, model.Spec{Survival: "reach by cohort", Detection: detection})
		require.NoError(t, err)
		o := likelihood.NewCJS(p.Design, p.Data)
		q := likelihood.Quantity{Means: []likelihood.Mean{{Class: 2, Factors: []likelihood.Factor{{Slot: p.Layout.Survival(1)}}, Each: 1, N: 1}}}
		some, of := o.NewPoint(), o.NewPoint()
		for seed := range uint64(3) {
			x := likelihood.Interior(p.Design, seed)
			var all likelihood.Point
			o.Eval(x, 2, &all)
			o.Eval(x, 2, &some)
			assert.Equal(t, all.H, some.H)
			all = likelihood.Point{}
			q.Eval(p.Design, x, 2, &all)
			q.Eval(p.Design, x, 2, &of)
			assert.Equal(t, all.H, of.H)
		}
	}
}

// The step of a model whose cohorts share detection alone, which is solved where
// second derivatives are, is that of the whole matrix: of a quantity of one
// cohort, and of one of all, made stiff or not.
func TestStepByArrowIsThatOfTheWhole(t *testing.T) {
	h := alikeCohorts(14)
	p, err := model.Build(model.Input{Histories: h}, model.Spec{Survival: "reach by cohort", Detection: "site"})
	require.NoError(t, err)
	o := likelihood.NewCJS(p.Design, p.Data)
	require.NotNil(t, o.Arrow())
	of := func(classes ...int) *likelihood.Quantity {
		q := &likelihood.Quantity{}
		for _, g := range classes {
			q.Means = append(q.Means, likelihood.Mean{Class: g, Factors: []likelihood.Factor{{Slot: p.Layout.Survival(0)}, {Slot: p.Layout.Survival(1)}}, Each: 1 / float64(len(classes)), N: 1})
		}
		return q
	}
	for _, q := range []*likelihood.Quantity{of(3), of(2, 5, 11)} {
		s := newTied(o, q, false)
		s.split(s.blocks)
		for seed := range uint64(5) {
			s.at(likelihood.Interior(p.Design, seed))
			s.multiplier = 30 * float64(seed)
			for _, stiff := range []bool{false, true} {
				b, ok := s.solve(s.blocks[0], stiff)
				require.True(t, ok)
				w := newTied(o, q, false)
				w.byComponents = true // and the points are those of all places
				w.p = likelihood.Point{}
				w.at(s.x)
				w.multiplier = s.multiplier
				u, v := make([]float64, s.n), make([]float64, s.n)
				_, definite := linear.SolveRidge2(w.curvatureOf(w.blocks[0], &b), w.p.G, w.q.G, s.n, s.ridge, u, v)
				assert.Equal(t, definite, b.definite)
				// 1e-8: the condition is some thousands.
				assert.InDeltaSlice(t, u, b.u, 1e-8)
				assert.InDeltaSlice(t, v, b.w, 1e-8)
			}
		}
	}
}

// Where all fish survived, rounding makes of some the chance to have passed a little
// more than 1: their number has an interval all the same.
func TestAllPassed(t *testing.T) {
	for _, seed := range []uint64{284, 293, 333, 350} {
		h := strewn(seed, 3, 200+int(seed), func(int) float64 { return 1 }, func(int) float64 { return 0.5 })
		p, err := model.Build(model.Input{Histories: h}, model.Spec{Survival: "reach", Detection: "site"})
		require.NoError(t, err)
		f, err := New(context.Background(), p, Options{})
		require.NoError(t, err)
		for _, row := range f.Passed[:2] {
			fish := row.PassedFish
			require.False(t, math.IsNaN(fish.Value))
			assert.True(t, fish.SE >= 0 && fish.Low < fish.Value && fish.High >= fish.Value-1e-9, "seed %d, site %d: %+v", seed, row.Site, fish) // rounding
		}
	}
}
