package cjs_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/likelihood"
)

// lengthFish are n fish on a river of 7 sites with a fork length that acts on
// survival: nothing is alike in two fish, so nothing can be collapsed.
func lengthFish(n int) *history.Histories {
	rnd := rand.New(rand.NewPCG(11, 7))
	h := &history.Histories{Cohorts: []string{"all"}, Cohort: make([]int32, n), Entry: make([]uint8, n), Seen: make([]uint64, n), End: make([]history.End, n)}
	for k := range 7 {
		h.River.Sites = append(h.River.Sites, history.Site{Name: fmt.Sprint("site ", k), Km: math.NaN(), Days: math.NaN()})
	}
	length, other := make([]float64, n), make([]float64, n)
	survival := []float64{1.2, 1.5, 1.0, 1.6, 1.3, 1.1}
	detection := []float64{-0.2, 0.3, 0.1, -0.4, 0.2, 0}
	for i := range n {
		z := rnd.NormFloat64()
		w := rnd.NormFloat64()
		length[i], other[i] = 120+15*z, 5+2*w
		for k := range 6 {
			s, _ := likelihood.Expit(survival[k] + 0.35*z)
			if rnd.Float64() >= s {
				break
			}
			if p, _ := likelihood.Expit(detection[k] + 0.2*w); rnd.Float64() < p {
				h.Seen[i] |= 1 << uint(k)
			}
		}
	}
	h.Columns = []history.Column{{Name: "fork_length_mm", Value: length}, {Name: "other", Value: other}}
	return h
}

// BenchmarkMillionFish is the fit of 1,000,000 fish one by one, from their
// histories to estimates with standard errors, and with the whole passed table
// (fish that passed, warnings) as well; the fish are made outside the clock.
func BenchmarkMillionFish(b *testing.B) {
	h := lengthFish(1_000_000)
	for _, c := range []struct {
		spec model.Spec
		opt  cjs.Options
	}{
		{model.Spec{Name: "length on survival", Survival: "reach + fork_length_mm", Detection: "site"}, cjs.Options{EstimatesOnly: true}},
		{model.Spec{Name: "length on survival, whole", Survival: "reach + fork_length_mm", Detection: "site"}, cjs.Options{}},
		{model.Spec{Name: "numbers on both", Survival: "reach + fork_length_mm", Detection: "site + other"}, cjs.Options{EstimatesOnly: true}},
		{model.Spec{Name: "numbers on both, whole", Survival: "reach + fork_length_mm", Detection: "site + other"}, cjs.Options{}},
	} {
		b.Run(c.spec.Name, func(b *testing.B) {
			for b.Loop() {
				p, err := model.Build(model.Input{Histories: h}, c.spec)
				if err != nil {
					b.Fatal(err)
				}
				f, err := cjs.New(context.Background(), p, c.opt)
				if err != nil || f.Verdict != cjs.Converged {
					b.Fatal(err, f.Verdict)
				}
				b.ReportMetric(float64(f.Iterations), "steps")
			}
			b.ReportMetric(float64(h.Len())*float64(b.N)/b.Elapsed().Seconds(), "fish/s")
		})
	}
}

// cohortFish are fish in cohorts, reduced to counts by history: 12 sites, so
// many cohorts, so many fish in all.
func cohortFish(cohorts, sites, fish int) *history.Histories {
	return fishOf(cohorts, sites, fish, func(c, k int) float64 { return 0.85 + 0.01*float64((c+k)%10) })
}

// boundFish are cohorts of 1,000 fish of which none dies in every other reach:
// survival comes out as 1 in some 50 of 220.
func boundFish() *history.Histories {
	return fishOf(20, 12, 20_000, func(c, k int) float64 {
		if (c+k)%2 == 0 {
			return 1
		}
		return 0.75
	})
}

const fiftyBounds = "20 cohorts 12 sites, 50 bounds"

func fishOf(cohorts, sites, fish int, survival func(cohort, reach int) float64) *history.Histories {
	rnd := rand.New(rand.NewPCG(12, 8))
	h := &history.Histories{}
	for k := range sites {
		h.River.Sites = append(h.River.Sites, history.Site{Name: fmt.Sprint("site ", k), Km: math.NaN(), Days: math.NaN()})
	}
	for c := range cohorts {
		h.Cohorts = append(h.Cohorts, fmt.Sprint("week ", c+1))
		counts := map[uint64]int32{}
		var order []uint64
		for range fish / cohorts {
			var seen uint64
			for k := range sites - 1 {
				if rnd.Float64() >= survival(c, k) {
					break
				}
				if rnd.Float64() < 0.35+0.03*float64((c*3+k)%12) {
					seen |= 1 << uint(k)
				}
			}
			if counts[seen] == 0 {
				order = append(order, seen)
			}
			counts[seen]++
		}
		for _, s := range order {
			h.Entry, h.Seen, h.End = append(h.Entry, 0), append(h.Seen, s), append(h.End, history.Open)
			h.Cohort, h.Count = append(h.Cohort, int32(c)), append(h.Count, counts[s])
		}
	}
	return h
}

// BenchmarkCounts is the whole fit from histories already counted: 20 cohorts
// on 12 sites, and cohorts of 500 and of 500,000 fish in the same shape.
func BenchmarkCounts(b *testing.B) {
	for _, c := range []struct {
		name                 string
		cohorts, sites, fish int
		spec                 model.Spec
	}{
		{"20 cohorts 12 sites, nothing shared", 20, 12, 40_000, model.Spec{Survival: "reach by cohort", Detection: "site by cohort"}},
		{fiftyBounds, 20, 12, 20_000, model.Spec{Survival: "reach by cohort", Detection: "site by cohort"}},
		{"20 cohorts 12 sites, detection shared", 20, 12, 40_000, model.Spec{Survival: "reach by cohort", Detection: "site"}},
		{"20 cohorts 12 sites, additive", 20, 12, 40_000, model.Spec{Survival: "reach + cohort", Detection: "site"}},
		{"2000 cohorts 12 sites, survival reach", 2000, 12, 60_000, model.Spec{Survival: "reach", Detection: "site"}},
		{"500 fish", 5, 5, 500, model.Spec{Survival: "reach + cohort", Detection: "site"}},
		{"500000 fish", 5, 5, 500_000, model.Spec{Survival: "reach + cohort", Detection: "site"}},
	} {
		h := cohortFish(c.cohorts, c.sites, c.fish)
		if c.name == fiftyBounds {
			h = boundFish()
		}
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				p, err := model.Build(model.Input{Histories: h}, c.spec)
				if err != nil {
					b.Fatal(err)
				}
				f, err := cjs.New(context.Background(), p, cjs.Options{})
				if err != nil || f.Verdict != cjs.Converged {
					b.Fatal(err, f.Verdict, f.Distance)
				}
				b.ReportMetric(float64(f.Parameters), "parameters")
			}
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "fits/s")
		})
	}
}
