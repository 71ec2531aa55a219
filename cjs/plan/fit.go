package plan

import (
	"math"
	"slices"
	"strings"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/likelihood"
)

// FromFit is the plan to do again what a fitted study did: its estimates are
// the supposed values, its fish the fish to be tagged. Where the study could
// not tell survival from detection at the last site, detection there is
// supposed to be the mean of the other sites; the notes say so. Fish are
// planned at the mean of their numbers (length, day), which the model is left
// without. Rows are planned to work all the time, whatever they did.
func FromFit(f *cjs.Fit) (*Plan, error) { return fromFit(f, false) }

// FromFitWithOutages is [FromFit] where rows work for the same share of the passages
// of each cohort as they did, the rows of a site together where it stood still.
func FromFitWithOutages(f *cjs.Fit) (*Plan, error) { return fromFit(f, true) }

func fromFit(f *cjs.Fit, outages bool) (*Plan, error) {
	if err := f.Check(); err != nil {
		return nil, err
	}
	m := f.Problem
	h := m.Histories
	p := &Plan{River: h.River, Level: f.Options.Level, VarianceInflation: f.Options.VarianceInflation,
		TestPasses: slices.Clone(m.TestPasses)}
	var left []string
	for _, n := range m.Numbers {
		left = append(left, n.Name)
	}
	// A season to come is planned to its end: nothing of an as_of stays.
	p.Spec = m.Canonical()
	for _, part := range model.Parts() {
		terms := m.TermsOf(part)
		for _, name := range left {
			terms = terms.Without(name)
		}
		if p.Spec.SetTerms(part, terms.String()); part.Moves() {
			p.Spec.SetTerms(part, "")
		}
	}
	if len(left) > 0 {
		p.note("Fish are planned at their mean %s, as if they were alike in it.", strings.Join(left, ", "))
	}
	for _, c := range m.Categories {
		if c != model.Cohort {
			p.Categories = append(p.Categories, c)
		}
	}
	v := &values{fit: f, plan: p, index: map[string]int{}}
	var classes []int // of the cohorts
	for g := range m.Classes {
		for entry, n := range m.Classes[g].New {
			if n == 0 || entry == m.Layout.Sites()-1 {
				continue
			}
			c := Cohort{Fish: n, Entry: entry}
			c.Name, c.Levels = levels(m, g)
			for k := range m.Layout.Sites() - 1 {
				c.Survival = append(c.Survival, v.slot(g, m.Layout.Survival(k)))
			}
			for b := range m.Layout.RowCount() {
				c.Detection = append(c.Detection, v.slot(g, m.Layout.Detection(b)))
			}
			p.Cohorts = append(p.Cohorts, c)
			classes = append(classes, g)
		}
	}
	if err := p.outages(f, classes, outages); err != nil {
		return nil, err
	}
	p.removed(m)
	p.holds(m)
	for _, c := range m.Conditions {
		mean := make([][]float64, 0, len(h.Cohorts))
		for _, name := range p.CohortNames() {
			mean = append(mean, c.Mean[slices.Index(h.Cohorts, name)])
		}
		p.Conditions = append(p.Conditions, history.CohortCondition{Name: c.Name, Mean: mean})
	}
	return p, p.Check()
}

// levels are the cohort of a class and its levels of the other categories.
func levels(m *model.Problem, g int) (cohort string, others []string) {
	cohort = m.Histories.Cohorts[0]
	for i, name := range m.Categories {
		level := m.Levels[i][m.Classes[g].Level[i]]
		if name == model.Cohort {
			cohort = level
		} else {
			others = append(others, level)
		}
	}
	return cohort, others
}

// removed is the share taken out of the fish seen at each site.
func (p *Plan) removed(m *model.Problem) {
	t := m.Sum(nil)
	p.Removed = make([]float64, m.Layout.Sites())
	for k := 1; k < m.Layout.Sites(); k++ {
		if out := t.New[k] + t.Seen[k] - t.Released[k]; out > 0 && t.Seen[k] > 0 {
			p.Removed[k] = min(1, float64(out)/float64(t.Seen[k]))
		}
	}
}

// holds are the values the study held.
func (p *Plan) holds(m *model.Problem) {
	l := m.Layout
	for a := range l.Slots() {
		var all []model.Hold
		alike := true
		for g := range m.Classes {
			link := m.Design.Links[g][a]
			if link.Kind != likelihood.Fixed {
				alike = false
				continue
			}
			where := map[string]string{}
			for i, name := range m.Categories {
				where[name] = m.Levels[i][m.Classes[g].Level[i]]
			}
			all = append(all, model.Hold{Reach: l.Reach(a), Row: l.Row(a), Value: link.Value, Where: where})
			alike = alike && link.Value == all[0].Value
		}
		if alike && len(all) > 0 {
			all = all[:1]
			all[0].Where = nil
		}
		p.Holds = append(p.Holds, all...)
	}
}

// values takes the supposed values out of a fit.
type values struct {
	fit   *cjs.Fit
	plan  *Plan
	index map[string]int
}

// slot is the index of the value of slot a of class g.
func (v *values) slot(g, a int) int {
	m := v.fit.Problem
	about, value := "", math.NaN()
	var of []cjs.Category
	if k := m.Layout.Reach(a); k >= 0 {
		about = "survival " + m.Histories.River.Reach(k)
		for _, s := range v.fit.Survival {
			if s.From == k && inClass(m, g, s.Of) {
				of, value = s.Of, s.Value
			}
		}
	} else {
		b := m.Layout.Row(a)
		about = "detection at " + m.Histories.River.RowLabel(b)
		site := m.Site(a)
		row := b - m.Histories.River.FirstRow(site)
		if !m.Histories.River.Sites[site].Divided() {
			row = -1
		}
		for _, d := range v.fit.Detection {
			if d.Site == site && d.Row == row && inClass(m, g, d.Of) {
				of, value = d.Of, d.Value
			}
		}
	}
	// What the study could not tell apart has a value of its own by class.
	if math.IsNaN(value) {
		of = nil
		for i, name := range m.Categories {
			of = append(of, cjs.Category{Name: name, Level: m.Levels[i][m.Classes[g].Level[i]]})
		}
	}
	if words := levelWords(of); words != "" {
		about += " of " + words
	}
	if i, ok := v.index[about]; ok {
		return i
	}
	if math.IsNaN(value) {
		value = v.suppose(g, a)
		v.plan.note("The study could not estimate %s; it is assumed to be %.2f.", about, value)
	}
	value = min(1, max(0, value))
	i := v.plan.add(about, Value{Low: value, High: value})
	v.index[about] = i
	return i
}

func levelWords(of []cjs.Category) string {
	var out []string
	for _, c := range of {
		out = append(out, c.Level)
	}
	return strings.Join(out, ", ")
}

func inClass(m *model.Problem, g int, of []cjs.Category) bool {
	for _, c := range of {
		i := slices.Index(m.Categories, c.Name)
		if i < 0 || m.Levels[i][m.Classes[g].Level[i]] != c.Level {
			return false
		}
	}
	return true
}

// suppose is a value for what the study could not tell: at the last site the
// mean detection of the other sites, at least the product known, and survival
// what then remains of the product; elsewhere the means of the study.
func (v *values) suppose(g, a int) float64 {
	m := v.fit.Problem
	last := m.Layout.Sites() - 1
	detection := mean(v.fit.Detection, func(d cjs.Detection) (float64, bool) {
		return d.Value, d.Row < 0 && d.Site < last
	})
	survival := mean(v.fit.Survival, func(s cjs.Survival) (float64, bool) { return s.Value, s.From < last-1 })
	for _, p := range v.fit.Products {
		if m.Site(a) != last || !inClass(m, g, p.Of) || math.IsNaN(p.Value) {
			continue
		}
		detection = min(1-nearest, max(detection, p.Value/(1-nearest)))
		survival = p.Value / detection
	}
	if m.Layout.Reach(a) >= 0 {
		return survival
	}
	return detection
}

// mean is that of the values wanted, 0.5 where there are none.
func mean[T any](all []T, value func(T) (float64, bool)) float64 {
	var sum, n float64
	for _, x := range all {
		if v, ok := value(x); ok && !math.IsNaN(v) {
			sum += v
			n++
		}
	}
	if n == 0 {
		return 0.5
	}
	return sum / n
}
