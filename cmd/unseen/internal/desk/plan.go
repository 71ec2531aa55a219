package desk

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/plan"
	"example.org/unseen/cmd/unseen/internal/page"
	"example.org/unseen/cmd/unseen/internal/view"
)

type planData struct {
	At      at
	Model   map[string]string
	Fish    int
	Least   int
	Most    int
	Cohorts []planCohort
	Sites   []planSite
	Options []planOption
	Want    string
	Site    string
	Said    []string
	Fault   string
	Passed  template.HTML
	More    template.HTML
	Command string
}

// planCohort is a slider of the fish of a cohort.
type planCohort struct {
	Key, Name string
	Fish      int
	Most      int
}

// planSite is a slider of the detection at a site.
type planSite struct {
	Key, Name string
	Percent   int
}

// planOption is a change of the plan that can be tried.
type planOption struct {
	Key, Name string
	On        bool
}

// plan says what a next season would be worth, at once as its sliders move.
func (l *looking) plan() (template.HTML, error) {
	f, err := l.fitted()
	if err != nil {
		return "", err
	}
	p, err := f.Plan()
	if err != nil {
		return "", err
	}
	x := p.Plan
	out := planData{At: l.at, Model: l.at.Model(), Want: l.at.Get("want"), Command: l.command("plan")}
	out.Least, out.Most = max(len(x.Cohorts), x.Fish()/10), 4*x.Fish()
	planned := x
	x, changed := l.at.fishOf(x, out.Least, out.Most)
	out.Fish, out.Cohorts = x.Fish(), planCohorts(planned, x)
	if !changed && out.Fish != planned.Fish() {
		out.Command += fmt.Sprintf(" --fish %d", out.Fish)
	}
	for k := 1; k < len(x.River.Sites); k++ {
		s := planSite{Key: fmt.Sprint("detection-", k), Name: x.River.Sites[k].Name, Percent: int(math.Round(100 * meanDetection(x, k)))}
		if n, err := strconv.Atoi(l.at.Get(s.Key)); err == nil && n != s.Percent {
			s.Percent = max(1, min(n, 99))
			setDetection(x, k, float64(s.Percent)/100)
			changed = true
		}
		out.Sites = append(out.Sites, s)
	}
	standard := x.StandardOptions()
	for i := range standard {
		o := planOption{Key: fmt.Sprint("option-", i), Name: x.OptionName(&standard[i])}
		o.On = l.at.Get(o.Key) != ""
		out.Options = append(out.Options, o)
	}
	for i, o := range out.Options {
		if !o.On {
			continue
		}
		next, err := x.Apply(&standard[i])
		if err != nil {
			out.Fault = err.Error()
			continue
		}
		x, changed = next, true
	}
	if changed {
		out.Command = "" // what was moved here has no flag
	}
	p.Plan = x
	var q analysis.Questions
	if out.Want != "" {
		site := x.River.Sites[len(x.River.Sites)-1].Name
		q.Want = []string{fmt.Sprintf("passed at %s ± %s", site, strings.TrimSpace(out.Want))}
		if out.Command != "" {
			out.Command += ` --want "` + q.Want[0] + `"`
		}
	}
	answers, err := p.Ask(l.ctx, q)
	if err != nil {
		if l.ctx.Err() != nil {
			return "", err
		}
		out.Fault = err.Error()
		return render("plan", out)
	}
	whole := view.PlanPage(answers)
	out.Said = whole.Sections[0].Paragraphs
	if out.Passed, err = l.fragment(page.Blocks(sectionsOf(whole, "Passed"))); err != nil {
		return "", err
	}
	rest := slices.DeleteFunc(slices.Clone(whole.Sections[1:]), func(s view.Section) bool { return s.Heading == "Passed" })
	if out.More, err = l.fragment(page.Blocks(rest)); err != nil {
		return "", err
	}
	return render("plan", out)
}

// fishOf is a plan with as many fish as the sliders say: those of cohorts, and if
// the one of all fish was moved since it was shown, in their proportions. apart
// tells that cohorts have other proportions than planned.
func (a at) fishOf(x *plan.Plan, least, most int) (_ *plan.Plan, apart bool) {
	number := func(key string, usual, least, most int) int {
		n, err := strconv.Atoi(a.Get(key))
		if err != nil {
			return usual
		}
		return max(least, min(n, most))
	}
	planned := x
	x = x.WithFish(x.Fish())
	for i, name := range x.CohortNames() {
		is := cohortFish(planned, name)
		if n := number(fmt.Sprint("fish-", i), is, 1, 4*is); n != is {
			setCohortFish(x, name, n)
		}
	}
	if all := x.Fish(); a.Get("fish") != a.Get("was") {
		x = x.WithFish(number("fish", all, least, most))
	}
	same := planned.WithFish(x.Fish())
	for i := range x.Cohorts {
		apart = apart || x.Cohorts[i].Fish != same.Cohorts[i].Fish
	}
	return x, apart
}

// planCohorts are the sliders of cohorts, none where all fish are one.
func planCohorts(planned, x *plan.Plan) (out []planCohort) {
	names := x.CohortNames()
	for i, name := range names {
		if len(names) > 1 {
			n := cohortFish(x, name)
			out = append(out, planCohort{fmt.Sprint("fish-", i), name, n, max(n, 4*cohortFish(planned, name))})
		}
	}
	return out
}

// cohortFish is the number of fish of a cohort.
func cohortFish(x *plan.Plan, name string) (n int) {
	for i := range x.Cohorts {
		if x.Cohorts[i].Name == name {
			n += x.Cohorts[i].Fish
		}
	}
	return n
}

// setCohortFish gives a cohort n fish, in the proportions of its parts.
func setCohortFish(x *plan.Plan, name string, n int) {
	was := cohortFish(x, name)
	for i := range x.Cohorts {
		if c := &x.Cohorts[i]; c.Name == name && was > 0 {
			part := int(math.Round(float64(n) * float64(c.Fish) / float64(was)))
			n, was, c.Fish = n-part, was-c.Fish, max(1, part)
		}
	}
}

// rowsAt are the numbered rows of a site.
func rowsAt(x *plan.Plan, site int) (from, to int) {
	from = x.River.FirstRow(site)
	return from, from + x.River.Sites[site].RowCount()
}

// meanDetection is that of a row of a site, over cohorts and rows.
func meanDetection(x *plan.Plan, site int) float64 {
	sum, n := 0.0, 0
	from, to := rowsAt(x, site)
	for _, c := range x.Cohorts {
		for b := from; b < to && b < len(c.Detection); b++ {
			sum += x.Values[c.Detection[b]].Middle()
			n++
		}
	}
	return sum / float64(max(1, n))
}

// setDetection supposes the same detection at all rows of a site.
func setDetection(x *plan.Plan, site int, v float64) {
	from, to := rowsAt(x, site)
	for _, c := range x.Cohorts {
		for b := from; b < to && b < len(c.Detection); b++ {
			x.Values[c.Detection[b]].Low, x.Values[c.Detection[b]].High = v, v
		}
	}
}
