package plan

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// check says what is wrong with an option, whatever the plan.
func (p *Plan) checkOption(o *Option) error {
	if o == nil {
		return fmt.Errorf("there is no option; there are %s", strings.Join(Kinds, ", "))
	}
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
