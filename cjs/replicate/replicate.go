// Package replicate refits a model to data made anew from a fit, many times:
// simulated under its estimates (parametric bootstrap) or drawn from its own
// fish (nonparametric). It tells the bias, spread and intervals of the
// estimates, and where the deviance stands among simulated ones. The work can
// be cut into parts that other machines do, and put together again.
//
// Begin with [Run]; ExampleRun shows it, ExampleMerge the parts put together.
// Estimates are from 0 to 1; the same seed gives the same replicates.
package replicate

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"sync"
	"time"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/internal/cores"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/simulate"
)

// Methods of making data anew.
const (
	Parametric = "parametric"
	ByFish     = "by fish"
)

// Bounds of what is asked of one run: far more than any interval needs, and few
// enough for their list and estimates to be kept.
const (
	MaxReplicates = 1_000_000
	MaxIndex      = 1_000_000_000
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
	// Keep, where not nil, is given from time to time what is finished, Have
	// among it, and once more at the end; never twice at once. Its error ends
	// the run.
	Keep func(*Set) error
	// Every is the time from one call of Keep to the next; 0 means 30 s.
	Every time.Duration
}

// Run makes replicates from to to of f, both included and counted from 1, in
// parallel; the result does not depend on the number of cores. When ctx ends
// it returns what is finished, with the context's error.
func Run(ctx context.Context, f *cjs.Fit, from, to int, opt Options) (*Set, error) {
	if from < 1 || to < from {
		return nil, fmt.Errorf("replicates %d to %d: they are counted from 1, the first before the last", from, to)
	}
	if to > MaxIndex || to-from >= MaxReplicates {
		return nil, fmt.Errorf("replicates %d to %d: at most %d at once, none beyond %d", from, to, MaxReplicates, MaxIndex)
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
	set, err := newSet(f, opt)
	if err != nil {
		return nil, err
	}
	if opt.Have != nil {
		if err := set.Add(opt.Have); err != nil {
			return nil, fmt.Errorf("the replicates made before: %w", err)
		}
	}
	have := set.indices()
	var todo []int
	for i := from; i <= to; i++ {
		if !have[i] {
			todo = append(todo, i)
		}
	}
	m := &made{set: set}
	working, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	kept := m.keepEvery(working, stop, opt)
	cores.Each(working, len(todo), func() func(int) {
		w := newWorker(f, opt)
		return func(i int) {
			if r := w.one(working, todo[i]); r != nil {
				m.add(r)
				if opt.Done != nil {
					opt.Done()
				}
			}
		}
	})
	stop(nil)
	<-kept
	out := m.finished()
	if opt.Keep != nil && len(out.Replicates) > 0 {
		if err := opt.Keep(out); err != nil {
			return out, errors.Join(err, ctx.Err())
		}
	}
	return out, ctx.Err()
}

// made is the replicates finished so far.
type made struct {
	mu  sync.Mutex
	set *Set
}

func (m *made) add(r *Replicate) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.set.Replicates = append(m.set.Replicates, *r)
}

// finished is a copy of what is there, in order.
func (m *made) finished() *Set {
	m.mu.Lock()
	defer m.mu.Unlock()
	out := *m.set
	out.Replicates = slices.Clone(m.set.Replicates)
	out.sort()
	return &out
}

// keepEvery has what is finished kept until ctx ends; where that fails, it stops
// the run. The channel is closed when no more is kept.
func (m *made) keepEvery(ctx context.Context, stop context.CancelCauseFunc, opt Options) <-chan struct{} {
	done := make(chan struct{})
	if opt.Keep == nil {
		close(done)
		return done
	}
	tick := time.NewTicker(cmp.Or(opt.Every, 30*time.Second))
	go func() {
		defer close(done)
		defer tick.Stop()
		for had := -1; ; {
			select {
			case <-ctx.Done():
				return
			case <-tick.C:
			}
			s := m.finished()
			if len(s.Replicates) == had || len(s.Replicates) == 0 {
				continue
			}
			had = len(s.Replicates)
			if err := opt.Keep(s); err != nil {
				stop(err) // the last call of Keep tells it
				return
			}
		}
	}()
	return done
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
	for _, w := range f.Followed() {
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
	case "passed", "passed so far", "still to pass":
		s = w.Kind + " " + site
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
	again  *simulate.Resampler
	refit  *cjs.Refitter
	follow []cjs.Watched
	start  []float64
}

func newWorker(f *cjs.Fit, opt Options) *worker {
	return &worker{fit: f, opt: opt, again: simulate.FromFit(f), refit: cjs.NewRefitter(f), follow: f.Followed(), start: f.NearStart()}
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

// oneByOne is for fish that differ by numbers, or by their times: those of rows that
// did not work all the time, or of a season that still runs.
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
	f, err := cjs.New(ctx, p, cjs.Options{EstimatesOnly: true, ValuesOnly: true, Start: w.start})
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
