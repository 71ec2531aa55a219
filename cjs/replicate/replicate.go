// Package replicate refits a model to data made anew from a fit, many times:
// simulated under its estimates (parametric bootstrap) or drawn from its own
// fish (nonparametric). It tells the bias, spread and intervals of the
// estimates, and where the deviance stands among simulated ones. The work can
// be cut into parts that other machines do, and put together again.
package replicate

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/simulate"
)

// Methods of making data anew.
const (
	Parametric = "parametric"
	ByFish     = "by fish"
)

// Options of a run. The zero value draws parametrically under seed 0.
type Options struct {
	// Method is Parametric or ByFish; "" means Parametric.
	Method string
	Seed   uint64
	// Have are replicates that are there already, from the same run; they are
	// kept and not made again. nil: none.
	Have *Set
	// Done, where not nil, is called after each new replicate, from several
	// goroutines.
	Done func()
}

// Set is replicates of one fit.
type Set struct {
	// Method, Seed, Data and Model (SHA-256, hex) say what they are
	// replicates of: only those with all four the same belong together.
	Method string
	Seed   uint64
	Data   string
	Model  string
	// Words is the model as shown on screen, Names the estimates, Estimates
	// their values in the fit.
	Words     string
	Names     []string
	Estimates []float64
	// Deviance of the fit; NaN where fish differ by numbers, so that there is
	// no saturated model.
	Deviance float64
	// Replicates stand in the order of their indices, each once.
	Replicates []Replicate
}

// Replicate is what one refit gave.
type Replicate struct {
	// Index of the replicate, from 1: with the seed it settles what was drawn.
	Index int
	// Estimates in the order of Set.Names; NaN where the data did not tell.
	// nil where the replicate failed.
	Estimates []float64
	Deviance  float64
	// Failure says why there are no estimates, or "".
	Failure string
}

// Run makes replicates from to to of f, both included and counted from 1, in
// parallel; the result does not depend on the number of cores. When ctx ends
// it returns what is finished, with the context's error.
func Run(ctx context.Context, f *cjs.Fit, from, to int, opt Options) (*Set, error) {
	if from < 1 || to < from {
		return nil, fmt.Errorf("replicates %d to %d: they are counted from 1, the first before the last", from, to)
	}
	if err := f.Check(); err != nil {
		return nil, err
	}
	if f.Verdict != cjs.Converged {
		return nil, fmt.Errorf("the fit did not converge: there is nothing to replicate")
	}
	if c := f.Options.VarianceInflation; c != 1 {
		return nil, fmt.Errorf("the variance inflation is %.4g, and replicates are made of fish that act alone: their spread knows nothing of it; take intervals by profile or logit, which allow for it, or a variance inflation of 1", c)
	}
	if f.Problem.Running() {
		return nil, fmt.Errorf("while the season runs (as_of) no data can be made anew: times would have to be too; wait for its end, or leave as_of out")
	}
	set, err := newSet(f, opt)
	if err != nil {
		return nil, err
	}
	have := map[int]bool{}
	if opt.Have != nil {
		if err := opt.Have.Check(); err != nil {
			return nil, fmt.Errorf("the replicates made before: %w", err)
		}
		if err := set.sameRun(opt.Have); err != nil {
			return nil, fmt.Errorf("the replicates made before: %w", err)
		}
		set.Replicates = slices.Clone(opt.Have.Replicates)
		for _, r := range set.Replicates {
			have[r.Index] = true
		}
	}
	var todo []int
	for i := from; i <= to; i++ {
		if !have[i] {
			todo = append(todo, i)
		}
	}
	out := make([]*Replicate, len(todo))
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(todo)) {
		wg.Go(func() {
			w := newWorker(f, opt)
			for ctx.Err() == nil {
				i := int(next.Add(1)) - 1
				if i >= len(todo) {
					return
				}
				if out[i] = w.one(ctx, todo[i]); out[i] != nil && opt.Done != nil {
					opt.Done()
				}
			}
		})
	}
	wg.Wait()
	for _, r := range out {
		if r != nil {
			set.Replicates = append(set.Replicates, *r)
		}
	}
	slices.SortFunc(set.Replicates, func(a, b Replicate) int { return a.Index - b.Index })
	return set, ctx.Err()
}

func newSet(f *cjs.Fit, opt Options) (*Set, error) {
	s := &Set{Method: opt.Method, Seed: opt.Seed, Words: f.Problem.Words(), Deviance: math.NaN()}
	switch s.Method {
	case "":
		s.Method = Parametric
	case Parametric, ByFish:
	default:
		return nil, fmt.Errorf("method %q; there are %q and %q", s.Method, Parametric, ByFish)
	}
	s.Data, s.Model = dataSHA(f.Problem), modelSHA(f.Problem)
	for _, w := range f.Watched() {
		s.Names = append(s.Names, name(f.Problem, w))
		s.Estimates = append(s.Estimates, w.Value)
	}
	if again := simulate.FromFit(f); again.Alike() {
		s.Deviance = 2 * (again.Observed().Saturated() - f.LogLikelihood)
	}
	return s, nil
}

// name is what an estimate is called: "survival A to B, cohort early".
func name(p *model.Problem, w cjs.Watched) string {
	river := &p.Histories.River
	site := river.Sites[w.Site].Name
	var s string
	switch w.Kind {
	case "survival":
		s = "survival " + river.Reach(w.Site-1)
	case "product":
		s = "survival " + river.Reach(w.Site-1) + " × detection " + site
	case "passed":
		s = "passed " + site
	default:
		s = w.Kind + " " + site
		if w.Row >= 0 {
			s = w.Kind + " " + river.RowLabel(river.FirstRow(w.Site)+w.Row)
		}
	}
	for _, c := range w.Of {
		s += ", " + c.Name + " " + c.Level
	}
	return s
}

// worker makes replicates one after the other.
type worker struct {
	fit    *cjs.Fit
	opt    Options
	again  *simulate.Again
	refit  *cjs.Refitter
	follow []cjs.Watched
	start  []float64
}

func newWorker(f *cjs.Fit, opt Options) *worker {
	return &worker{fit: f, opt: opt, again: simulate.FromFit(f), refit: cjs.NewRefitter(f), follow: f.Watched(), start: f.NearStart()}
}

// one makes replicate i; nil when ctx ended first.
func (w *worker) one(ctx context.Context, i int) *Replicate {
	r := &Replicate{Index: i, Deviance: math.NaN()}
	if !w.again.Alike() {
		return w.oneByOne(ctx, r)
	}
	rnd := simulate.Stream(w.opt.Seed, uint64(i))
	var c *simulate.Counts
	if w.opt.Method == ByFish {
		c = w.again.ResampleCounts(rnd)
	} else {
		c = w.again.SimulateCounts(rnd)
	}
	x, err := w.refit.Fit(ctx, &c.Data)
	switch {
	case err != nil:
		return nil
	case !x.Converged || math.IsNaN(x.LogLikelihood):
		r.Failure = string(cjs.NotConverged)
		return r
	}
	r.Estimates, r.Deviance = x.Values, 2*(c.Saturated()-x.LogLikelihood)
	return r
}

// oneByOne is for fish that differ by numbers.
func (w *worker) oneByOne(ctx context.Context, r *Replicate) *Replicate {
	rnd := simulate.Stream(w.opt.Seed, uint64(r.Index))
	make := w.again.Simulate
	if w.opt.Method == ByFish {
		make = w.again.Resample
	}
	p, err := make(rnd)
	if err != nil {
		r.Failure = err.Error()
		return r
	}
	f, err := cjs.New(ctx, p, cjs.Options{EstimatesOnly: true, Start: w.start})
	switch {
	case ctx.Err() != nil:
		return nil
	case err != nil:
		r.Failure = err.Error()
		return r
	case f.Verdict != cjs.Converged:
		r.Failure = string(f.Verdict)
		return r
	}
	r.Estimates = f.ValuesLike(w.follow)
	return r
}
