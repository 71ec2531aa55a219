//go:build studies

package season_test

import (
	"context"
	"math"
	"runtime"
	"slices"
	"sync"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
)

// unevenAnswer is what one fit said.
type unevenAnswer struct {
	value, low, high      float64
	early, reach, alerted bool
}

func unevenFit(in model.Input, terms string) (a unevenAnswer, ok bool) {
	p, err := model.Build(in, model.Spec{Survival: "reach", Drift: terms, Spread: terms})
	if err != nil {
		return a, false
	}
	f, err := cjs.New(context.Background(), p, cjs.Options{EstimatesOnly: true})
	if err != nil || f.Verdict != cjs.Converged {
		return a, false
	}
	e := f.Passed[2].PassedShare
	a = unevenAnswer{1, e.Low, e.High, e.Status == cjs.TooEarly, p.Spec.Drift == "reach", p.Speeds().Differ()}
	for k := range 3 {
		a.value *= p.Design.Prob(f.X, 0, p.Layout.Survival(k), []float64{1}).P
	}
	return a, true
}

// unevenPair is what the two fits of a replicate said.
type unevenPair struct {
	chosen, one unevenAnswer
	ok          bool
}

// unevenReplicate are replicates from to to, less one, of a design.
func unevenReplicate(u uneven, from, to int) []unevenPair {
	answers := make([]unevenPair, to-from)
	next := make(chan int)
	var wg sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for i := range next {
				in := unevenInput(u, unevenFish, unevenSeed, uint64(from+i))
				a := &answers[i]
				var okA, okB bool
				a.chosen, okA = unevenFit(in, "")
				a.one, okB = unevenFit(in, "same")
				a.ok = okA && okB
			}
		})
	}
	for i := range answers {
		next <- i
	}
	close(next)
	wg.Wait()
	return answers
}

func unevenSummary(u uneven, all []unevenPair) unevenResult {
	r := unevenResult{Design: u.name, Day: u.day, Truth: unevenPassed, Replicates: len(all)}
	answers := slices.DeleteFunc(slices.Clone(all), func(p unevenPair) bool { return !p.ok })
	r.Failed = r.Replicates - len(answers)
	n := float64(len(answers))
	for _, p := range answers {
		if p.chosen.reach {
			r.ByReach++
		}
		if p.chosen.early {
			r.TooEarly++
		}
	}
	for _, x := range []struct {
		side *unevenSide
		of   func(p unevenPair) unevenAnswer
	}{{&r.Chosen, func(p unevenPair) unevenAnswer { return p.chosen }}, {&r.OneLaw, func(p unevenPair) unevenAnswer { return p.one }}} {
		for _, p := range answers {
			a := x.of(p)
			x.side.Mean += a.value / n
			if a.low <= r.Truth && r.Truth <= a.high {
				x.side.Covered++
			}
			if a.alerted {
				x.side.Warned++
			}
		}
		for _, p := range answers {
			x.side.SD += (x.of(p).value - x.side.Mean) * (x.of(p).value - x.side.Mean) / n
		}
		x.side.SD = math.Sqrt(x.side.SD)
	}
	return r
}

// add adds the replicates of b, others than those of r.
func (r *unevenResult) add(b *unevenResult) {
	n, m := float64(r.Replicates-r.Failed), float64(b.Replicates-b.Failed)
	r.Replicates, r.Failed = r.Replicates+b.Replicates, r.Failed+b.Failed
	r.ByReach, r.TooEarly = r.ByReach+b.ByReach, r.TooEarly+b.TooEarly
	for _, x := range [][2]*unevenSide{{&r.Chosen, &b.Chosen}, {&r.OneLaw, &b.OneLaw}} {
		p, q := x[0], x[1]
		d := q.Mean - p.Mean
		p.SD = math.Sqrt((n*p.SD*p.SD + m*q.SD*q.SD + d*d*n*m/(n+m)) / (n + m))
		p.Mean += d * m / (n + m)
		p.Covered, p.Warned = p.Covered+q.Covered, p.Warned+q.Warned
	}
}
