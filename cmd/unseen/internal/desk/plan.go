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
	out := planData{At: l.at, Model: l.at.Model(), Fish: x.Fish(), Want: l.at.Get("want"), Command: l.command("plan")}
	out.Least, out.Most = max(len(x.Cohorts), x.Fish()/10), 4*x.Fish()
	if n, err := strconv.Atoi(l.at.Get("fish")); err == nil && n > 0 && n != x.Fish() {
		out.Fish = max(out.Least, min(n, out.Most))
		out.Command += fmt.Sprintf(" --fish %d", out.Fish)
	}
	changed := false
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
	q := analysis.Questions{Fish: out.Fish}
	if out.Fish == x.Fish() {
		q.Fish = 0
	}
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
