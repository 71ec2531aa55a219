// Package whatif asks how far an answer hangs on what went into it: the model
// is fitted again with a data rule switched, with a cohort or a site left out,
// and the share that passed is compared; and the most influential fish
// are named.
//
// Begin with [Run]; ExampleRun shows it, ExampleInfluences the single fish.
// Shares and their changes are from 0 to 1.
package whatif

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
)

// Largest is the move of all fish that is largest, or where none is known of
// any group; nil without any.
func (o *Outcome) Largest() *Move {
	var all, any *Move
	for i := range o.Moves {
		m := &o.Moves[i]
		v := math.Abs(m.By)
		if math.IsNaN(v) {
			continue
		}
		if any == nil || v > math.Abs(any.By) {
			any = m
		}
		if len(m.Of) == 0 && (all == nil || v > math.Abs(all.By)) {
			all = m
		}
	}
	if all != nil {
		return all
	}
	return any
}

// WithoutOutages is what becomes of the answer where the outages that the study
// declares are switched off; nil where it declares none, or that could not be fitted.
func (r *Result) WithoutOutages() *Outcome {
	for _, o := range r.Outcomes {
		if o != nil && o.Outages && o.Largest() != nil {
			return o
		}
	}
	return nil
}

// Options of a run. The zero value is the documented default.
type Options struct {
	// Most is the number of influences listed; 0 means 10.
	Most int
	// Done is called after each refit; may be nil.
	Done func(n, of int)
}

// Changes are those that leave out one cohort or one site of in.
func Changes(in model.Input) []Change {
	var out []Change
	h := in.Histories
	if h == nil {
		return nil
	}
	if len(h.Cohorts) > 1 {
		for c, name := range h.Cohorts {
			out = append(out, Change{Kind: Cohort, Name: name, Words: "without cohort " + name,
				Input: func(context.Context) (model.Input, string, error) {
					out, err := WithoutCohort(in, c)
					return out, "", err
				}})
		}
	}
	for k := 1; k < len(h.River.Sites); k++ {
		name := h.River.Sites[k].Name
		out = append(out, Change{Kind: Site, Name: name, Words: "without " + name,
			Input: func(context.Context) (model.Input, string, error) { return WithoutSite(in, k) }})
	}
	return out
}

// Run fits the model of f to the input of every change. A change that cannot
// be made or fitted does not stop the others; the error is ctx's, or of a fit
// or options that are not sound.
func Run(ctx context.Context, f *cjs.Fit, changes []Change, opt Options) (*Result, error) {
	if err := f.Check(); err != nil {
		return nil, err
	}
	if opt.Most < 0 {
		return nil, fmt.Errorf("a list of %d fish; it has at least one, and 0 means 10", opt.Most)
	}
	r := &Result{}
	for n, c := range changes {
		o := &Outcome{Change: c}
		if c.Input == nil {
			o.Fish = f.Problem.Fish()
			o.compare(f, f)
		} else if err := o.refit(ctx, f); err != nil {
			if ctx.Err() != nil {
				return nil, ctx.Err()
			}
			o.Err = err
		}
		r.Outcomes = append(r.Outcomes, o)
		if opt.Done != nil {
			opt.Done(n+1, len(changes))
		}
	}
	slices.SortStableFunc(r.Outcomes, func(a, b *Outcome) int {
		x, y := a.Largest(), b.Largest()
		switch {
		case x == nil && y == nil:
			return 0
		case x == nil:
			return 1
		case y == nil:
			return -1
		}
		return cmp.Compare(math.Abs(y.By), math.Abs(x.By))
	})
	if f.Problem.Windowed() && !f.Problem.Running() {
		r.WhyNone = "where a row did not always work a fish also counts by its times, which this list leaves out"
		return r, nil
	}
	if r.SoFar = f.Problem.Running(); r.SoFar {
		r.WhyNone = "while the season runs a fish also counts by its times, which this list leaves out"
		return r, nil
	}
	most := opt.Most
	if most == 0 {
		most = 10
	}
	var err error
	r.Influence, err = Influences(ctx, f, most)
	return r, err
}

// refit fits the model of f to the changed input.
func (o *Outcome) refit(ctx context.Context, f *cjs.Fit) error {
	in, note, err := o.Input(ctx)
	if err != nil {
		return err
	}
	o.Note = note
	p, err := model.Build(in, f.Problem.Spec)
	if err != nil {
		return err
	}
	opt := f.Options
	// Coefficients are others, and profiles for every refit take too long.
	opt.Start, opt.Interval = nil, "logit"
	g, err := cjs.New(ctx, p, opt)
	if err != nil {
		return err
	}
	if g.Verdict != cjs.Converged {
		return fmt.Errorf("the fit did not converge")
	}
	o.Fish = p.Fish()
	o.compare(f, g)
	return nil
}

// compare fills the moves from f to g. Sites are matched by name.
func (o *Outcome) compare(f, g *cjs.Fit) {
	river := &g.Problem.Histories.River
	share := func(row *cjs.Passed) cjs.Estimate {
		if f.Problem.Running() {
			return row.SoFar
		}
		return row.PassedShare
	}
	for i := range f.Passed {
		row := &f.Passed[i]
		name := f.Problem.Histories.River.Sites[row.Site].Name
		for j := range g.Passed {
			other := &g.Passed[j]
			if !slices.Equal(other.Of, row.Of) || river.Sites[other.Site].Name != name {
				continue
			}
			m := Move{Of: row.Of, Site: row.Site, Before: share(row), After: share(other), OfMix: math.NaN()}
			m.By = m.After.Value - m.Before.Value
			if o.Kind == Cohort && len(row.Of) == 0 {
				m.OfMix = o.mix(f, row.Site, share) - m.Before.Value
			}
			o.Moves = append(o.Moves, m)
		}
	}
}

// mix is the mean of the share at a site over the fish of the fit but those of
// the change's cohort, where nothing else changes.
func (o *Outcome) mix(f *cjs.Fit, site int, share func(*cjs.Passed) cjs.Estimate) float64 {
	var sum, fish float64
	for i := range f.Passed {
		c := &f.Passed[i]
		if c.Site == site && len(c.Of) == 1 && c.Of[0].Name == model.Cohort && c.Of[0].Level != o.Name {
			sum += float64(c.Released) * share(c).Value
			fish += float64(c.Released)
		}
	}
	return sum / fish
}
