package plan

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/unseen/cjs"
)

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
		if c.Working != nil && len(c.Working) != rows {
			return fmt.Errorf("cohort %q: working shares of %d rows; there are %d", c.Name, len(c.Working), rows)
		}
		for b, v := range c.Working {
			if !(v > 0 && v <= 1) {
				return fmt.Errorf("cohort %q: %s works for a share of %v of the passages; it is above 0 and at most 1", c.Name, p.River.RowLabel(b), v)
			}
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

// check says what is wrong with an option, whatever the plan.
func (p *Plan) checkOption(o *Option) error {
	if !slices.Contains(Kinds, o.What) {
		return fmt.Errorf("there is no option %q; there are %s", o.What, strings.Join(Kinds, ", "))
	}
	at := slices.Contains([]string{"row", "antennas", "drop", "test passes"}, o.What)
	none := math.IsNaN
	switch {
	case at && p.River.SiteIndex(o.Site) < 1:
		return fmt.Errorf("there is no site %q below the first", o.Site)
	case o.What == "site" && (o.Site == "" || none(o.Km) || math.IsInf(o.Km, 0)):
		return fmt.Errorf("a new site needs a name and its km")
	case (o.What == "site" || o.What == "antennas") && none(o.Detection):
		return fmt.Errorf("the option %q needs the detection to plan with", o.What)
	case !none(o.Detection) && !(o.Detection >= 0 && o.Detection <= 1):
		return fmt.Errorf("a detection of %v; it lies between 0 and 1", o.Detection)
	case !none(o.Survival) && !(o.Survival >= 0 && o.Survival <= 1):
		return fmt.Errorf("a survival of %v; it lies between 0 and 1", o.Survival)
	case o.What == "fish" && (o.Fish < 1 || o.Fish > math.MaxInt32):
		return fmt.Errorf("%d more fish; from 1 to %d can be", o.Fish, math.MaxInt32)
	case o.What == "spread" && (o.Cohorts < 2 || o.Cohorts > p.Fish()):
		return fmt.Errorf("cohorts spread over %d; from 2 to the number of fish can be", o.Cohorts)
	case o.What == "test passes" && (o.Passes < 1 || o.Passes > math.MaxInt32):
		return fmt.Errorf("%d test passes; from 1 to %d can be", o.Passes, math.MaxInt32)
	}
	return nil
}

// check refuses a forecast that [New] did not make.
func (f *Forecast) check() error {
	if f == nil || f.Plan == nil || f.state == nil {
		return fmt.Errorf("there is no forecast; make one with plan.New")
	}
	return nil
}

// check says why a question cannot be asked of the plan.
func (t *Target) check(p *Plan) error {
	sites := len(p.River.Sites)
	switch {
	case t.Kind != Passed && t.Kind != Survival && t.Kind != Detection:
		return fmt.Errorf("there is no estimate %q to ask for; there are %q, %q and %q", t.Kind, Passed, Survival, Detection)
	case t.Site < 1 || t.Site >= sites:
		return fmt.Errorf("the question is about site number %d; there are 1 to %d", t.Site, sites-1)
	case t.Kind == Survival && t.Reach != t.Site-1:
		return fmt.Errorf("the question is about reach number %d, which does not end at site number %d; give both, the site one more than the reach", t.Reach, t.Site)
	case t.Row >= max(1, p.River.Sites[t.Site].RowCount()):
		return fmt.Errorf("the question is about row number %d of %s, which has %d", t.Row, p.River.Sites[t.Site].Name, p.River.Sites[t.Site].RowCount())
	}
	return nil
}

// asked refuses a question that cannot be asked of the forecast.
func (f *Forecast) asked(t *Target) error {
	if err := f.check(); err != nil {
		return err
	}
	return t.check(f.Plan)
}
