package plan

import (
	"fmt"
	"slices"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
)

// state is a plan at one set of values: its model, coefficients and releases.
type state struct {
	plan    *Plan
	problem *model.Problem
	x       []float64
	// share is by class and row what a row works for of the passages, nil where all
	// always do, and seenBy the design of what is then seen.
	share    [][]float64
	seenBy   *likelihood.Design
	releases []likelihood.Released
	fixed    []likelihood.Unit
	seen     []float64 // cohort → fish expected to be seen at all
	off      float64   // the largest difference between a supposed value and the model's
	offAt    string
	z        float64
}

// Rows that work for a share of the passages: p in a fish's probability to be
// seen there becomes p times the share.

// alwaysWorks tells whether all rows do.
func (p *Plan) alwaysWorks() bool {
	return !slices.ContainsFunc(p.Cohorts, func(c Cohort) bool {
		return slices.ContainsFunc(c.Working, func(v float64) bool { return v < 1 })
	})
}

// AlwaysWorks says why a plan cannot be simulated: its rows stand still, and it does
// not know when.
func (p *Plan) AlwaysWorks() error {
	if p.alwaysWorks() {
		return nil
	}
	return fmt.Errorf("the plan has rows that work for a share of the passages, but does not say when; simulate a study with an outage, or take working_share out")
}

// workingShare is, of the passages of all fish that can come to row b, the share for
// which it works.
func (p *Plan) workingShare(b int) float64 {
	var at, all float64
	for i := range p.Cohorts {
		c := &p.Cohorts[i]
		if c.Entry >= p.River.SiteOfRow()[b] {
			continue
		}
		v := 1.0
		if c.Working != nil {
			v = c.Working[b]
		}
		at, all = at+float64(c.Fish)*v, all+float64(c.Fish)
	}
	if all == 0 {
		return 1
	}
	return at / all
}

// noteWorking says what is supposed of the rows that do not work all the time.
func (p *Plan) noteWorking() {
	if p.alwaysWorks() {
		return
	}
	for b := range p.River.Rows() {
		if w := p.workingShare(b); w < 1 {
			p.note("%s is assumed to work for %.1f %% of the passages there; its detection is that at full work.", p.River.RowLabel(b), 100*w)
		}
	}
	p.note("The working shares are taken as known, and the outages of different rows as independent of each other.")
}

// working is what each row works for of the passages of each class: the mean over its
// fish; nil where all rows always work.
func (s *state) working() [][]float64 {
	if s.plan.alwaysWorks() {
		return nil
	}
	rows := s.problem.Layout.RowCount()
	at, all := make([][]float64, len(s.problem.Classes)), make([]float64, len(s.problem.Classes))
	for g := range at {
		at[g] = make([]float64, rows)
	}
	for i := range s.plan.Cohorts {
		c, g := &s.plan.Cohorts[i], s.problem.ClassOf[i]
		all[g] += float64(c.Fish)
		for b := range rows {
			v := 1.0
			if c.Working != nil {
				v = c.Working[b]
			}
			at[g][b] += float64(c.Fish) * v
		}
	}
	for g := range at {
		for b := range at[g] {
			at[g][b] /= all[g]
		}
	}
	return at
}

// outages notes how the rows of a fit worked, and, where asked to, plans with the
// same shares of the passages of each cohort, class[i] being that of cohort i.
func (p *Plan) outages(f *cjs.Fit, class []int, again bool) error {
	if len(f.Working) == 0 {
		if again {
			p.note("No row stood still in the study: the plan is for rows that work all the time.")
		}
		return nil
	}
	river := &p.River
	if !again {
		for _, w := range f.Working {
			if w.Share < 1 {
				p.note("%s worked for %.1f %% of the passages there in the study; the plan is for rows that work all the time, and detection is that at full work.", river.RowLabel(river.FirstRow(w.Site)+max(0, w.Row)), 100*w.Share)
			}
		}
		return nil
	}
	for i, a := range f.Working {
		for _, b := range f.Working[i+1:] {
			if a.Site == b.Site && meet(a.Idle, b.Idle) {
				return fmt.Errorf("rows of %s stood still at the same time, which a plan by shares of the passages does not know; plan without outages, or simulate them", river.Sites[a.Site].Name)
			}
		}
	}
	for i := range p.Cohorts {
		c := &p.Cohorts[i]
		c.Working = slices.Repeat([]float64{1}, river.Rows())
		for _, w := range f.Working {
			if b := river.FirstRow(w.Site) + max(0, w.Row); c.Entry < w.Site {
				c.Working[b] = f.AtWork(b, func(g int) bool { return g == class[i] })
			}
		}
	}
	p.noteWorking()
	return nil
}

// meet tells whether two lists of times have a moment in common.
func meet(a, b [][2]int64) bool {
	return slices.ContainsFunc(a, func(x [2]int64) bool {
		return slices.ContainsFunc(b, func(y [2]int64) bool { return x[0] < y[1] && y[0] < x[1] })
	})
}
