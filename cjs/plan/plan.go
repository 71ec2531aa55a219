// Package plan says, before a season, what its estimates will be worth: the
// standard errors and intervals to expect of a design, the fish needed for a
// wanted precision, what a change of the design would bring, and which
// difference between cohorts it could show.
//
// Nothing is simulated but on request: standard errors come from the expected
// information, minus the Hessian of the log-likelihood at the counts the
// supposed values lead to.
//
// Begin with [New]; ExampleNew shows a plan and what it promises,
// ExampleForecast_Need the fish for a wanted precision. Probabilities, shares
// and their standard errors are from 0 to 1.
package plan

import (
	"fmt"
	"math"
	"slices"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// Plan is what is supposed of a season to come.
type Plan struct {
	Title string        // for people
	River history.River // its sites and rows
	// Cohorts are fish alike, released together. Several of one name are one
	// cohort whose fish enter at different sites or differ in Levels.
	Cohorts []Cohort
	// Categories tell fish of one cohort apart; Levels of each cohort stand
	// in this order. Only plans made from a fit have any.
	Categories []string
	// Values are the supposed probabilities; cohorts refer to them.
	Values []Value
	// TestPasses are planned passes of a test tag; Read is not used.
	TestPasses []model.TestPasses
	// Removed is the share taken out of the fish seen at each site; nil: none.
	Removed []float64

	Spec       model.Spec                // the model to be fitted
	Holds      []model.Hold              // values taken as known
	Conditions []history.CohortCondition // of cohorts at sites
	// Level of the intervals; 0 means 0.95.
	Level float64
	// VarianceInflation multiplies all variances; 0 means 1.
	VarianceInflation float64
	Costs             Costs
	// Notes say what had to be supposed to make the plan.
	Notes []string
}

// Cohort is fish released together.
type Cohort struct {
	Name   string   // for people
	Levels []string // of the plan's categories, in their order
	Fish   int      // to be released
	Entry  int      // the site where they are released
	// Survival of each reach and Detection of each numbered row are indices
	// into the plan's values.
	Survival, Detection []int
	// SiteWorking is the share of the passages of these fish for which each site works,
	// nil where all do always: else all its rows stand still together. Working is, of
	// these passages, the share for which each numbered row works, nil likewise.
	// Detection is that at full work. The shares are taken as known, and the outages of
	// sites, and those of single rows, as independent of all others.
	SiteWorking, Working []float64
}

// Value is a probability supposed to lie from Low to High.
type Value struct {
	About     string // what it is of, in words
	Low, High float64
}

// Middle is the value planned with.
func (v Value) Middle() float64 { return (v.Low + v.High) / 2 }

// nearest: supposed probabilities are planned with at least this far from 0
// and 1, where a logit has no value. What is exactly 1 is not thereby known:
// only a held value is.
const nearest = 1e-6

// at are the values at their low end (0), middle (1) or high end (2); nil is
// the middle of all.
func (p *Plan) at(ends []int) []float64 {
	out := make([]float64, len(p.Values))
	for i, v := range p.Values {
		x := v.Middle()
		if ends != nil {
			x = []float64{v.Low, x, v.High}[ends[i]]
		}
		out[i] = min(1-nearest, max(nearest, x))
	}
	return out
}

// Fish is the number of fish to be tagged.
func (p *Plan) Fish() int {
	n := 0
	for i := range p.Cohorts {
		n += p.Cohorts[i].Fish
	}
	return n
}

// CohortNames are the names of the cohorts, each once.
func (p *Plan) CohortNames() []string {
	var out []string
	for i := range p.Cohorts {
		if !slices.Contains(out, p.Cohorts[i].Name) {
			out = append(out, p.Cohorts[i].Name)
		}
	}
	return out
}

func (p *Plan) level() float64 {
	if p.Level == 0 {
		return 0.95
	}
	return p.Level
}

// clone is a copy that shares nothing that changes.
func (p *Plan) clone() *Plan {
	c := *p
	c.River.Sites = slices.Clone(p.River.Sites)
	c.Cohorts = slices.Clone(p.Cohorts)
	for i := range c.Cohorts {
		h := &c.Cohorts[i]
		h.own()
	}
	c.Values = slices.Clone(p.Values)
	c.TestPasses = slices.Clone(p.TestPasses)
	c.Removed = slices.Clone(p.Removed)
	c.Holds = slices.Clone(p.Holds)
	c.Conditions = slices.Clone(p.Conditions)
	c.Notes = slices.Clone(p.Notes)
	return &c
}

// Check says what is wrong with a plan.
func (p *Plan) Check() error {
	if p == nil {
		return fmt.Errorf("there is no plan")
	}
	if err := p.River.Check(); err != nil {
		return err
	}
	sites, rows := len(p.River.Sites), p.River.Rows()
	if sites < 2 {
		return fmt.Errorf("a plan needs two sites: one to release at and one to detect fish at")
	}
	if len(p.Cohorts) == 0 {
		return fmt.Errorf("a plan needs a cohort")
	}
	for i := range p.Cohorts {
		c := &p.Cohorts[i]
		if c.Fish < 1 || c.Fish > math.MaxInt32 {
			return fmt.Errorf("cohort %q: %d fish; a cohort has from 1 to %d", c.Name, c.Fish, math.MaxInt32)
		}
		if c.Entry < 0 || c.Entry > sites-2 {
			return fmt.Errorf("cohort %q: fish enter at site %d; they can at the first %d", c.Name, c.Entry+1, sites-1)
		}
		if len(c.Survival) != sites-1 || len(c.Detection) != rows || len(c.Levels) != len(p.Categories) {
			return fmt.Errorf("cohort %q: %d survivals, %d detections, %d levels for %d reaches, %d rows, %d categories",
				c.Name, len(c.Survival), len(c.Detection), len(c.Levels), sites-1, rows, len(p.Categories))
		}
	}
	for _, v := range p.Values {
		if !(v.Low >= 0 && v.Low <= v.High && v.High <= 1) {
			return fmt.Errorf("%s: from %v to %v is no range of a probability", v.About, v.Low, v.High)
		}
	}
	return p.checkNumbers()
}

// checkNumbers says what is wrong with what a plan's numbers refer to.
func (p *Plan) checkNumbers() error {
	if err := cjs.CheckLevel(p.Level); err != nil {
		return err
	}
	if err := cjs.CheckInflation(p.VarianceInflation); err != nil {
		return err
	}
	sites, rows := len(p.River.Sites), p.River.Rows()
	for i := range p.Cohorts {
		c := &p.Cohorts[i]
		for _, v := range slices.Concat(c.Survival, c.Detection) {
			if v < 0 || v >= len(p.Values) {
				return fmt.Errorf("cohort %q refers to value number %d; there are 0 to %d", c.Name, v, len(p.Values)-1)
			}
		}
	}
	for i := range p.Cohorts {
		c := &p.Cohorts[i]
		if err := p.checkWorking(c); err != nil {
			return fmt.Errorf("cohort %q: %w", c.Name, err)
		}
	}
	for _, t := range p.TestPasses {
		if t.Row < 0 || t.Row >= rows || t.Passes < 0 || t.Passes > math.MaxInt32 {
			return fmt.Errorf("%d test passes over row %d; there are the rows 0 to %d", t.Passes, t.Row, rows-1)
		}
	}
	if p.Removed != nil && len(p.Removed) != sites {
		return fmt.Errorf("removed has %d values, not one for each of the %d sites", len(p.Removed), sites)
	}
	for k, share := range p.Removed {
		if !(share >= 0 && share <= 1) {
			return fmt.Errorf("removed at %s: %v is no share between 0 and 1", p.River.Sites[k].Name, share)
		}
	}
	for _, c := range p.Conditions {
		if len(c.Mean) != len(p.CohortNames()) {
			return fmt.Errorf("%s has numbers of %d cohorts; there are %d", c.Name, len(c.Mean), len(p.CohortNames()))
		}
	}
	return nil
}

// checkWorking refuses shares that are none, or not of the plan's sites and rows.
func (p *Plan) checkWorking(c *Cohort) error {
	if n := p.River.Rows(); c.Working != nil && len(c.Working) != n {
		return fmt.Errorf("working shares of %d rows; there are %d", len(c.Working), n)
	}
	if n := len(p.River.Sites); c.SiteWorking != nil && len(c.SiteWorking) != n {
		return fmt.Errorf("working shares of %d sites; there are %d", len(c.SiteWorking), n)
	}
	share := func(at string, v float64) error {
		if !(v > 0 && v <= 1) {
			return fmt.Errorf("%s works for a share of %v of the passages; it is above 0 and at most 1", at, v)
		}
		return nil
	}
	for k := range c.SiteWorking {
		if err := share(p.River.Sites[k].Name, c.SiteWorking[k]); err != nil {
			return err
		}
	}
	idle := make([]int, len(p.River.Sites))
	for b, k := range p.River.SiteOfRow() {
		_, v := c.works(k, b)
		if err := share(p.River.RowLabel(b), v); err != nil {
			return err
		}
		if v < 1 {
			idle[k]++
		}
	}
	for k, n := range idle {
		if n > mostIdleRows {
			return fmt.Errorf("working shares of %d rows of %s; at most %d of a site can have one of their own", n, p.River.Sites[k].Name, mostIdleRows)
		}
	}
	return nil
}

// mostIdleRows of one site, for each of which a share is given: every set of them is
// reckoned with.
const mostIdleRows = 10

func (p *Plan) note(format string, args ...any) {
	if s := fmt.Sprintf(format, args...); !slices.Contains(p.Notes, s) {
		p.Notes = append(p.Notes, s)
	}
}

// own gives the cohort slices that no other has.
func (c *Cohort) own() {
	c.Survival, c.Detection = slices.Clone(c.Survival), slices.Clone(c.Detection)
	c.SiteWorking, c.Working = slices.Clone(c.SiteWorking), slices.Clone(c.Working)
}

// works is the share of the passages of these fish at site k for which the site works,
// and row b there of those.
func (c *Cohort) works(k, b int) (site, row float64) {
	site, row = 1, 1
	if c.SiteWorking != nil {
		site = c.SiteWorking[k]
	}
	if c.Working != nil {
		row = c.Working[b]
	}
	return site, row
}
