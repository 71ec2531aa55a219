package cjs

import (
	"context"
	"fmt"
	"math"

	"example.org/unseen/cjs/internal/maximum"
	"example.org/unseen/cjs/internal/plain"
	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
	"example.org/unseen/likelihood/linear"
)

// Watched is an estimate of a fit that can be followed through refits.
type Watched struct {
	// Kind is "survival", "detection", "product" or "passed", and of
	// [Fit.Followed] also "passed so far" or "still to pass".
	Kind string
	Of   []Category
	// Site is the site a reach ends at, detection is at, or fish passed; Row
	// the row within it, −1 for all of it.
	Site, Row int
	Estimate
}

// Watched are the estimates of the fit that have a value, in the order in
// which [Refitter] gives their values.
func (f *Fit) Watched() []Watched {
	var out []Watched
	f.watch(func(w Watched) { out = append(out, w) })
	return out
}

// Followed are the estimates that [Fit.ValuesLike] and [Fit.SetIntervals] know:
// those of [Fit.Watched], and while the season runs, behind them, of every share
// that passed what had passed so far and what was still to.
func (f *Fit) Followed() []Watched {
	out := f.Watched()
	if f.machine == nil || f.running == nil {
		return out
	}
	for _, p := range f.Passed {
		for _, w := range []Watched{{soFar, p.Of, p.Site, -1, p.SoFar}, {stillToPass, p.Of, p.Site, -1, p.StillToPass}} {
			if !math.IsNaN(w.Value) {
				out = append(out, w)
			}
		}
	}
	return out
}

// Kinds of [Watched] of a season that still runs.
const soFar, stillToPass = "passed so far", "still to pass"

func (f *Fit) watch(add func(Watched)) {
	take := func(w Watched) {
		if !math.IsNaN(w.Value) {
			add(w)
		}
	}
	for _, s := range f.Survival {
		take(Watched{"survival", s.Of, s.From + 1, -1, s.Estimate})
	}
	for _, d := range f.Detection {
		take(Watched{"detection", d.Of, d.Site, d.Row, d.Estimate})
	}
	for _, p := range f.Products {
		take(Watched{"product", p.Of, p.Site, -1, p.Estimate})
	}
	for _, p := range f.Passed {
		take(Watched{"passed", p.Of, p.Site, -1, p.PassedShare})
	}
}

// Probability of slot a for fish of class g with numbers z at the estimates,
// those at a bound included. z[0] is 1; a linear link can lead out of [0, 1].
func (f *Fit) Probability(g, a int, z []float64) float64 {
	if f.Check() != nil {
		return math.NaN()
	}
	return f.design.Prob(f.X, g, a, z).P
}

// Refitter fits the model of a fit to other counts of the same fish, from its
// estimates on, as often as one likes: no standard errors, no second start; a
// probability ends as near to 0 or 1 as shows. It is for one goroutine at a time,
// and for models without numbers of the fish.
type Refitter struct {
	fit        *Fit
	start      []float64
	quantities []likelihood.Quantity
	point      likelihood.Point
	cjs        *likelihood.CJS // of the last data
}

// Refit is what a refit leaves.
type Refit struct {
	LogLikelihood float64 // at the maximum, without the multinomial constant
	// Values of [Fit.Watched]; NaN where these data do not tell.
	Values    []float64
	Converged bool
}

// NearStart is where refits to other data of the same fish start: the estimates,
// but that no probability is at 0 or 1.
func (f *Fit) NearStart() []float64 {
	if f.Check() != nil {
		return nil
	}
	return maximum.Along(f.Problem.Design, f.X, f.limits, f.moved, maximum.FarEnough)
}

// NewRefitter prepares refits of f.
func NewRefitter(f *Fit) *Refitter {
	if f.Check() != nil {
		return &Refitter{}
	}
	r := &Refitter{fit: f, start: f.NearStart()}
	f.watch(func(w Watched) { r.quantities = append(r.quantities, f.quantity(w)) })
	return r
}

// quantity is what w is the value of.
func (f *Fit) quantity(w Watched) likelihood.Quantity {
	p := f.Problem
	l := p.Layout
	var gr group
	for g := range p.Classes {
		if f.belongs(g, w.Of) {
			gr.classes = append(gr.classes, g)
		}
	}
	from, to := l.SiteRows(w.Site)
	switch w.Kind {
	case "survival":
		return f.slot(gr.classes[0], likelihood.Factor{Slot: l.Survival(w.Site - 1)})
	case "product":
		return f.slot(gr.classes[0], likelihood.Factor{Slot: l.Survival(w.Site - 1)}, likelihood.Factor{Slot: l.Detection(to - 1)})
	case "detection":
		if w.Row >= 0 || to-from == 1 {
			return f.slot(gr.classes[0], likelihood.Factor{Slot: l.Detection(from + max(0, w.Row))})
		}
		var rows []likelihood.Factor
		for b := from; b < to; b++ {
			rows = append(rows, likelihood.Factor{Slot: l.Detection(b), Miss: true})
		}
		q := f.slot(gr.classes[0], rows...)
		q.Complement = true
		return q
	}
	// The share that passed is a mean over the fish released above.
	var q likelihood.Quantity
	total := 0
	for _, g := range gr.classes {
		total += p.Classes[g].NewAbove(w.Site)
	}
	above := f.above(w.Site)
	for _, g := range gr.classes {
		for e, n := range p.Classes[g].New[:w.Site] {
			if n > 0 {
				q.Means = append(q.Means, likelihood.Mean{Class: g, Factors: above(e), Z: f.meanNumbers(), Each: float64(n) / float64(total), N: 1})
			}
		}
	}
	return q
}

// belongs tells whether class g has all the categories of.
func (f *Fit) belongs(g int, of []Category) bool {
	p := f.Problem
	for _, c := range of {
		for i, name := range p.Categories {
			if name == c.Name && p.Levels[i][p.Classes[g].Level[i]] != c.Level {
				return false
			}
		}
	}
	return true
}

// refitSE: refits end this near to the maximum, in standard errors.
const refitSE = 1e-6

// Fit fits the model to data: the same Data may come again with other counts.
// The error is the context's, or says why the data are not of the model.
func (r *Refitter) Fit(ctx context.Context, data *likelihood.Data) (Refit, error) {
	f := r.fit
	if err := f.Check(); err != nil {
		return Refit{}, err
	}
	design := f.Problem.Design
	if r.cjs == nil || r.cjs.Data != data {
		if data == nil {
			return Refit{}, fmt.Errorf("there are no data to refit the model to")
		}
		if err := data.Check(design); err != nil {
			return Refit{}, err
		}
		r.cjs = likelihood.NewCJS(design, data)
	}
	c := likelihood.Maximise(ctx, r.cjs, r.start, func(c *likelihood.Climb) bool { return c.Distance < refitSE })
	if c.Err != nil {
		return Refit{}, c.Err
	}
	out := Refit{LogLikelihood: c.P.F, Values: make([]float64, len(r.quantities)), Converged: c.Distance < likelihood.ConvergedSE}
	n := design.Columns
	info := make([]float64, n*n)
	for i, h := range c.P.H {
		info[i] = -h
	}
	s, ok := linear.Decompose(info, n)
	if !ok {
		out.Converged = false
		return out, nil
	}
	if s.Rank(hereTolerance) < f.EstimableHere {
		return r.atBounds(ctx, data, c, out)
	}
	// As much as the fit itself: then all that it tells is told here too.
	for i := range r.quantities {
		r.quantities[i].Eval(design, c.X, 0, &r.point)
		out.Values[i] = r.point.F
	}
	return out, nil
}

// atBounds finishes a refit that tells less than the fit: something is at 0 or 1,
// or cannot be told.
func (r *Refitter) atBounds(ctx context.Context, data *likelihood.Data, c *likelihood.Climb, out Refit) (Refit, error) {
	s := maximum.New(r.fit.Problem, data)
	s.Climb = c
	s.ToBounds(ctx, maximum.NearBound)
	if err := ctx.Err(); err != nil {
		return Refit{}, err
	}
	n := s.Design.Columns
	info := make([]float64, n*n)
	for i, h := range s.Climb.P.H {
		info[i] = -h
	}
	scaled, ok := linear.Decompose(info, n)
	if !ok {
		out.Converged = false
		return out, nil
	}
	out.LogLikelihood = s.Climb.P.F
	for i := range r.quantities {
		r.quantities[i].Eval(s.Design, s.Climb.X, 1, &r.point)
		out.Values[i] = r.point.F
		if scaled.Outside(r.point.G, hereTolerance) > determined {
			out.Values[i] = math.NaN()
		}
	}
	return out, nil
}

// ValuesLike are the values that f, a fit of the same model to other data, has
// for each of follow; NaN where it has none.
func (f *Fit) ValuesLike(follow []Watched) []float64 {
	type key struct {
		kind, of  string
		site, row int
	}
	if f.Check() != nil {
		return nil
	}
	of := func(w Watched) key { return key{w.Kind, ofWords(w.Of), w.Site, w.Row} }
	have := map[key]float64{}
	for _, w := range f.Followed() {
		have[of(w)] = w.Value
	}
	out := make([]float64, len(follow))
	var p likelihood.Point
	for i, w := range follow {
		v, ok := have[of(w)]
		switch {
		case ok:
			out[i] = v
		case w.Kind == "product":
			q := f.quantity(w)
			q.Eval(f.design, f.X, 0, &p)
			out[i] = p.F
		default:
			out[i] = math.NaN()
		}
	}
	return out
}

// SetIntervals gives the estimates of [Fit.Followed], in that order, intervals
// made by another method; NaN leaves an interval as it is. So does a profile
// interval: where [Options.Interval] "auto" takes one, an estimate at or near 0
// or 1, or borrowed, replicates have no right spread. They are drawn from the
// very estimate: what it puts at 1 is 1, or nearly, in all of them. kept counts
// these. One that is taken only for an outage, or for the day, gives way. What had
// passed so far, and was still to, gets one only where the share that passes in the
// end does.
func (f *Fit) SetIntervals(method string, low, high []float64) (kept int, err error) {
	if err := f.Check(); err != nil {
		return 0, err
	}
	if n := len(f.Followed()); len(low) != n || len(high) != n {
		return 0, fmt.Errorf("%d low and %d high ends of intervals for %d estimates; each has both", len(low), len(high), n)
	}
	i := 0
	set := func(e *Estimate) {
		if math.IsNaN(e.Value) {
			return
		}
		switch {
		case e.Method == "profile" && !e.forTimes:
			kept++
		case !math.IsNaN(low[i]) && !math.IsNaN(high[i]):
			e.Low, e.High, e.Method = low[i], high[i], method
		}
		i++
	}
	for _, e := range f.places() {
		set(e)
	}
	for k := range f.Passed {
		set(&f.Passed[k].PassedShare)
	}
	if f.running != nil {
		for k := range f.Passed {
			p := &f.Passed[k]
			for _, e := range []*Estimate{&p.SoFar, &p.StillToPass} {
				switch {
				case p.PassedShare.Method == method:
					set(e)
				case !math.IsNaN(e.Value):
					i++
				}
			}
		}
	}
	f.Options.Interval = method
	return kept, nil
}

// Objective is the log-likelihood that f maximises, as a function of the
// coefficients of Problem.Design: nothing is at a bound there. Each is for one
// goroutine at a time.
func (f *Fit) Objective() likelihood.Objective {
	if f.Check() != nil {
		return likelihood.NewCJS(nil, nil)
	}
	return likelihood.NewCJS(f.Problem.Design, f.data)
}

// Quantities are what [Fit.Watched] are the values of, in that order, as
// functions of the coefficients of Problem.Design; fish that differ in their
// numbers each have a part in what passed.
func (f *Fit) Quantities() []likelihood.Quantity {
	if f.Check() != nil {
		return nil
	}
	fresh, _ := f.fishGroups()
	var out []likelihood.Quantity
	f.watch(func(w Watched) {
		if w.Kind != "passed" {
			out = append(out, f.quantity(w))
			return
		}
		var gr group
		for g := range f.Problem.Classes {
			if f.belongs(g, w.Of) {
				gr.classes = append(gr.classes, g)
			}
		}
		out = append(out, *meanQuantity(&gr, fresh, w.Site, f.above(w.Site)))
	})
	return out
}

// Scatter are n starts strewn at random over what p makes possible: every
// survival and detection has a level of its own, the last of both included,
// and slopes rise or fall. The same p, n and seed give the same starts, and
// the first of many are those of few. At most a million can be had at once.
func Scatter(p *model.Problem, n int, seed uint64) [][]float64 {
	if p.Check() != nil || n < 1 || n > mostStarts {
		return nil
	}
	return maximum.Scatter(p, n, seed)
}

// mostStarts are more than anybody waits for.
const mostStarts = 1_000_000

// Maximum is where a climb from one start ended.
type Maximum struct {
	X     []float64        // coefficients on the link scale, in the order of the design's columns
	Point likelihood.Point // at X, with the Hessian
	// Distance to the maximum, in standard errors.
	Distance   float64
	Iterations int
	Verdict    Verdict
}

// Maximise climbs o from x by Newton's method with the exact Hessian, and
// judges where it ended. The error is ctx's.
func Maximise(ctx context.Context, o likelihood.Objective, x []float64) (*Maximum, error) {
	c := likelihood.Maximise(ctx, o, x, nil)
	m := &Maximum{X: c.X, Point: c.P, Distance: c.Distance, Iterations: c.Iterations, Verdict: NotConverged}
	if c.Distance < likelihood.ConvergedSE {
		m.Verdict = Converged
	}
	return m, c.Err
}

func (w Watched) MarshalJSON() ([]byte, error) { return plain.JSON(w) }

func (r Refit) MarshalJSON() ([]byte, error) { return plain.JSON(r) }
