// Package opinion is a second opinion on a fit: the same log-likelihood
// maximised by the optimisers of another library, gonum's Newton, BFGS and
// Nelder–Mead, each from many starts. They know no bounds and none of the
// search's own steps, so what they agree on does not rest on those.
//
// Begin with [Run]; ExampleRun shows it. Differences are in standard errors of
// the fit.
package opinion

import (
	"context"
	"fmt"
	"math"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/internal/cores"
)

// WarnBetter is the stable ID of the warning that another optimiser found a
// higher maximum than the fit; docs/convergence.md has a heading for it.
const WarnBetter = "second-opinion-better"

// WarningIDs are all IDs of a second opinion.
var WarningIDs = []string{WarnBetter}

// Tolerance: a run reached a maximum when its −2 ln L is within this of it.
// Near a maximum −2 ln L rises by the square of the distance in standard
// errors: what is within is no farther than 0.003 standard errors. Where a
// probability is at 0 or 1 the maximum is at infinity and no run gets nearer
// than it has patience for; that costs less than this.
const Tolerance = 1e-5

// Options of a second opinion. The zero value is the documented default.
type Options struct {
	// Starts is the number of starts for each method: those of the fit's own
	// search, then seeded random ones; 0 means 12.
	Starts int
	// Seed of the random starts; 0 means 1.
	Seed uint64
	// Done is called after each run, from one goroutine at a time.
	Done func(n, of int)
}

func (opt Options) filled() Options {
	if opt.Starts == 0 {
		opt.Starts = 12
	}
	if opt.Seed == 0 {
		opt.Seed = 1
	}
	return opt
}

// Result is what the other optimisers say.
type Result struct {
	Options Options // with defaults filled in
	// Fit is −2 ln L of the fit, Best the lowest of all runs and the fit.
	Fit, Best float64
	Methods   []Method
	Warnings  []cjs.Warning
}

// Method is what one optimiser says.
type Method struct {
	// Name is "Newton", "BFGS" or "Nelder–Mead".
	Name string
	// LeftOut says why it was not used, or is "".
	LeftOut string
	Starts  int
	// Reached is the number of runs that ended at [Result.Best], Failed of
	// those that came to no value at all.
	Reached, Failed int
	// Best and Worst are −2 ln L where its runs ended; NaN without one.
	Best, Worst float64
	// DifferenceSE is how far a passed share, survival, detection or product
	// is from the fit's at most, in the fit's standard errors, over the runs
	// that reached the best; DifferencePercent likewise, in percentage points,
	// for estimates at a bound, which have no standard error. NaN without any.
	DifferenceSE, DifferencePercent float64
	// Evaluations of the log-likelihood, with what derivatives it needs.
	Evaluations int
}

// Better tells whether a run found a higher maximum than the fit.
func (r *Result) Better() bool { return r.Best < r.Fit-Tolerance }

// Counts are the optimisers used, their starts, and the runs that reached the
// best.
func (r *Result) Counts() (methods, starts, reached int) {
	for i := range r.Methods {
		m := &r.Methods[i]
		if m.LeftOut == "" {
			methods++
		}
		starts += m.Starts
		reached += m.Reached
	}
	return methods, starts, reached
}

// Worst is the highest −2 ln L a run ended at; NaN without one.
func (r *Result) Worst() float64 {
	worst := math.NaN()
	for i := range r.Methods {
		worst = larger(worst, r.Methods[i].Worst)
	}
	return worst
}

// Differences are the largest over all methods; NaN where none has any.
func (r *Result) Differences() (se, percent float64) {
	se, percent = math.NaN(), math.NaN()
	for i := range r.Methods {
		se = larger(se, r.Methods[i].DifferenceSE)
		percent = larger(percent, r.Methods[i].DifferencePercent)
	}
	return se, percent
}

// larger is the larger of two numbers, either of which may not exist.
func larger(a, b float64) float64 {
	if math.IsNaN(a) || b > a {
		return b
	}
	return a
}

// Run asks the other optimisers. The result has the same bits at any
// GOMAXPROCS. The error is ctx's, or of a fit or options that are not sound.
func Run(ctx context.Context, f *cjs.Fit, opt Options) (*Result, error) {
	if err := f.Check(); err != nil {
		return nil, err
	}
	if opt.Starts < 0 || opt.Starts > 10_000 {
		return nil, fmt.Errorf("%d starts; there are from one to 10,000, and 0 means 12", opt.Starts)
	}
	opt = opt.filled()
	r := &Result{Options: opt, Fit: f.MinusTwoLogLikelihood, Best: f.MinusTwoLogLikelihood}
	starts := startsOf(f, opt)
	var tasks []task
	for i, m := range methods {
		why := m.leaveOut(f)
		r.Methods = append(r.Methods, Method{Name: m.name, LeftOut: why, Best: math.NaN(), Worst: math.NaN(), DifferenceSE: math.NaN(), DifferencePercent: math.NaN()})
		for _, x := range starts {
			if why == "" {
				tasks = append(tasks, task{method: i, x: x})
			}
		}
	}
	if err := runAll(ctx, f, tasks, opt.Done); err != nil {
		return nil, err
	}
	r.gather(tasks)
	r.compare(f, tasks)
	if r.Better() {
		r.accuse()
	}
	return r, ctx.Err()
}

// startsOf are the fit's own starts and random ones, opt.Starts in all.
func startsOf(f *cjs.Fit, opt Options) [][]float64 {
	own := f.Starts()
	own = own[:min(len(own), max(1, opt.Starts/2))]
	return append(own, cjs.Scatter(f.Problem, opt.Starts-len(own), opt.Seed)...)
}

// task is one run of one method.
type task struct {
	method int
	x      []float64
	end    *run
}

// runAll does all tasks, as many at once as there are processors. Each has an
// objective of its own, so none can change another.
func runAll(ctx context.Context, f *cjs.Fit, tasks []task, done func(n, of int)) error {
	scale := scales(f)
	finished := cores.Counter(len(tasks), done)
	cores.Each(ctx, len(tasks), func() func(int) {
		return func(i int) {
			t := &tasks[i]
			t.end = methods[t.method].climb(ctx, f.Objective(), t.x, scale)
			finished()
		}
	})
	return ctx.Err()
}

// gather sets what the runs say of −2 ln L.
func (r *Result) gather(tasks []task) {
	for i := range tasks {
		m := &r.Methods[tasks[i].method]
		end := tasks[i].end
		m.Starts++
		m.Evaluations += end.evaluations
		if end.x == nil {
			m.Failed++
			continue
		}
		v := -2 * end.logLikelihood
		if !(v >= m.Best) {
			m.Best = v
		}
		m.Worst = larger(m.Worst, v)
		r.Best = min(r.Best, v)
	}
}

// knownTo: a standard error below this is one of a probability that is at its
// bound but for rounding.
const knownTo = 1e-6

// compare sets how far the estimates are from the fit's, over the runs that
// reached the best. Probabilities are compared and not coefficients, which run
// to infinity where a probability is 0 or 1.
func (r *Result) compare(f *cjs.Fit, tasks []task) {
	watched, quantities := f.Watched(), f.Quantities()
	for i := range tasks {
		end := tasks[i].end
		if end.x == nil || -2*end.logLikelihood > r.Best+Tolerance {
			continue
		}
		m := &r.Methods[tasks[i].method]
		m.Reached++
		for j := range quantities {
			d := math.Abs(end.value(f, &quantities[j]) - watched[j].Value)
			if se := watched[j].SE; se > knownTo {
				m.DifferenceSE = larger(m.DifferenceSE, d/se)
			} else {
				m.DifferencePercent = larger(m.DifferencePercent, 100*d)
			}
		}
	}
}

func (r *Result) accuse() {
	var best *Method
	for i := range r.Methods {
		if m := &r.Methods[i]; m.LeftOut == "" && (best == nil || m.Best < best.Best) {
			best = m
		}
	}
	r.Warnings = append(r.Warnings, cjs.Warning{ID: WarnBetter, About: "fit", Message: fmt.Sprintf(
		"Another optimiser (%s) found a higher maximum than the fit: −2 ln L %.6f against %.6f. The numbers of the fit are not the maximum likelihood estimates: do not use them. Try a model that shares less or has fewer slopes, and please report this.",
		best.Name, r.Best, r.Fit)})
}
