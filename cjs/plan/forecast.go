package plan

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/likelihood"
)

// Kind is what a line is about.
type Kind string

// Target is an estimate that a question is about.
type Target struct {
	Kind Kind // of quantity
	// Reach (survival) or Site, and Row or −1.
	Reach, Site, Row int
	// Of is a cohort; "" is all fish, or where the estimate differs between
	// cohorts (but for passed) each of them. Each asks for each cohort.
	Of   string
	Each bool
	// HalfWidth wanted, as a share; NaN when none is.
	HalfWidth float64
}

const (
	Survival  Kind = "survival"  // of a reach
	Detection Kind = "detection" // at a row or site
	Product   Kind = "product"   // survival × detection of the last reach and site
	Passed    Kind = "passed"    // the share that passes a site
)

// Line is what to expect of one estimate.
type Line struct {
	Kind Kind           // what is estimated
	Of   []cjs.Category // empty: all fish
	// From is the site a reach starts at (survival, product), Site the site
	// it ends at or the one spoken of, Row the row within it, −1 for all.
	From, Site, Row int
	// Estimate is the supposed value with the standard error to expect and
	// the interval around it, at the middle of all ranges.
	cjs.Estimate
	// Half is the half-width to expect, standard errors times the normal
	// quantile of the level: the ± of a large sample.
	Half float64
	// HalfLow and HalfHigh are the smallest and largest half-width over the
	// ranges; Half where there are none. HalfHigh is NaN where at the worst
	// of them the fish are too few.
	HalfLow, HalfHigh float64
	// TooFew: the interval to expect would be wider than the whole scale from 0
	// to 1. The fish planned then tell nothing, and there is neither a standard
	// error nor a half-width.
	TooFew bool
}

// widestHalf is the half-width beyond which an interval is wider than the whole
// scale of a probability.
const widestHalf = 0.5

// told is the line without what so few fish cannot tell.
func (l Line) told() Line {
	if l.Half > widestHalf {
		l.TooFew = true
		l.SE, l.Low, l.High = math.NaN(), math.NaN(), math.NaN()
		l.Half, l.HalfLow, l.HalfHigh = math.NaN(), math.NaN(), math.NaN()
	}
	if l.HalfHigh > widestHalf {
		l.HalfHigh = math.NaN()
	}
	return l
}

// Forecast is what to expect of a plan.
type Forecast struct {
	Plan *Plan // the plan
	// Parameters of the model, and how many of them the design can estimate.
	Parameters, Estimable int
	// Cannot says what the design cannot estimate, and what would help.
	Cannot []cjs.Warning
	// Cautions say what else there is to know.
	Cautions []cjs.Warning
	Survival []Line
	Detection,
	Products,
	Passed []Line
	// SeenAgain[i] is the number of fish of cohort i expected to be seen at
	// least once.
	SeenAgain []float64

	state *state
}

// The stable IDs of what a forecast cannot say and of its cautions; docs/planning.md has a heading for each.
const (
	CannotSeparate = "cannot-separate" // survival and detection at the last site
	CannotEstimate = "cannot-estimate"
	AtBound        = "supposed-at-bound"
	FewAgain       = "few-seen-again"
	NotExact       = "values-not-exact"
)

// WarningIDs are all IDs.
var WarningIDs = []string{CannotSeparate, CannotEstimate, AtBound, FewAgain, NotExact}

// Words is the model as shown on screen.
func (f *Forecast) Words() string {
	if f.check() != nil {
		return ""
	}
	return f.state.problem.Words()
}

// Model is the model in words, its terms in canonical form.
func (f *Forecast) Model() model.Spec {
	if f.check() != nil {
		return model.Spec{}
	}
	return f.state.problem.Canonical()
}

// Lines are all lines, passed first.
func (f *Forecast) Lines() []Line {
	return slices.Concat(f.Passed, f.Survival, f.Detection, f.Products)
}

// state builds the model of the plan with its values at ends (nil: middle).
func (p *Plan) state(ctx context.Context, ends []int) (*state, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	problem, err := model.Build(model.Input{Histories: p.histories(), Holds: p.Holds, TestPasses: p.tests(), Conditions: p.Conditions}, p.Spec)
	if err != nil {
		return nil, err
	}
	s := &state{plan: p, problem: problem, z: distuv.UnitNormal.Quantile(0.5 + p.level()/2)}
	s.settle(p.at(ends))
	s.release()
	return s, nil
}

// histories are the fish of the plan on the day of their release.
func (p *Plan) histories() *history.Histories {
	h := &history.Histories{River: p.River, Cohorts: p.CohortNames()}
	if len(h.Cohorts) > 1 {
		h.CohortColumn = model.Cohort
	}
	for _, name := range p.Categories {
		h.Columns = append(h.Columns, history.Column{Name: name})
	}
	for i := range p.Cohorts {
		c := &p.Cohorts[i]
		h.Entry = append(h.Entry, uint8(c.Entry))
		h.Seen = append(h.Seen, 0)
		h.End = append(h.End, history.Open)
		h.Count = append(h.Count, int32(c.Fish))
		h.Cohort = append(h.Cohort, int32(slices.Index(h.Cohorts, c.Name)))
		for j, level := range c.Levels {
			col := &h.Columns[j]
			at := slices.Index(col.Levels, level)
			if at < 0 {
				at = len(col.Levels)
				col.Levels = append(col.Levels, level)
			}
			col.Level = append(col.Level, int32(at))
		}
	}
	return h
}

// tests are the test passes with nothing read: what is read is expected later.
func (p *Plan) tests() []model.TestPasses {
	out := slices.Clone(p.TestPasses)
	for i := range out {
		out[i].Read = 0
	}
	return out
}

// settle finds the coefficients at which the model's probabilities are the
// supposed ones, or as near to them as it can come.
func (s *state) settle(values []float64) {
	p, l := s.problem, s.problem.Layout
	target := make([][]float64, len(p.Classes))
	weight := make([][]float64, len(p.Classes))
	for g := range target {
		target[g], weight[g] = make([]float64, l.Slots()), make([]float64, l.Slots())
		for a := range target[g] {
			target[g][a] = math.NaN()
		}
	}
	for i := range s.plan.Cohorts {
		c, g := &s.plan.Cohorts[i], p.ClassOf[i]
		for a := range l.Slots() {
			at := 0
			if k := l.Reach(a); k >= 0 {
				if k < c.Entry {
					continue
				}
				at = c.Survival[k]
			} else {
				if p.Site(a) <= c.Entry {
					continue
				}
				at = c.Detection[l.Row(a)]
			}
			target[g][a] = values[at]
			weight[g][a] += float64(c.Fish)
		}
	}
	s.x = likelihood.Project(p.Design, target, weight)
	z := make([]float64, p.Design.Numbers)
	z[0] = 1
	// What the ridge of the projection left over is projected again.
	rest := make([][]float64, len(target))
	for g := range target {
		rest[g] = slices.Clone(target[g])
		for a, want := range target[g] {
			link := p.Design.Links[g][a]
			if link.Kind == likelihood.Fixed || math.IsNaN(want) {
				continue
			}
			eta := p.Design.Predictor(s.x, g, a, z)
			if d := math.Abs(link.At(eta).P - want); d > s.off {
				s.off, s.offAt = d, s.slotName(g, a)
			}
			rest[g][a] = link.At(link.Inverse(want) - eta).P
		}
	}
	for j, v := range likelihood.Project(p.Design, rest, weight) {
		s.x[j] += v
	}
}

func (s *state) slotName(g, a int) string {
	river := &s.plan.River
	name := ""
	if k := s.problem.Layout.Reach(a); k >= 0 {
		name = "survival " + river.Reach(k)
	} else {
		name = "detection at " + river.RowLabel(s.problem.Layout.Row(a))
	}
	for i, c := range s.problem.ClassOf {
		if int(c) == g && len(s.problem.Classes) > 1 {
			return name + " of " + s.plan.Cohorts[i].label()
		}
	}
	return name
}

func (c *Cohort) label() string { return strings.Join(append([]string{c.Name}, c.Levels...), ", ") }

// release follows the fish down the river: let go at each site are those new
// there and those seen there and not taken out, all at their expectation.
func (s *state) release() {
	p, l := s.problem, s.problem.Layout
	sites := l.Sites()
	z := make([]float64, p.Design.Numbers)
	z[0] = 1
	of := func(i int) int { return int(p.ClassOf[i]) }
	s.releases = make([]likelihood.Released, len(p.Classes))
	if !s.plan.alwaysWorks() {
		of = func(i int) int { return i }
		s.releases = make([]likelihood.Released, len(s.plan.Cohorts))
	}
	for i := range s.plan.Cohorts {
		c, r := &s.plan.Cohorts[i], &s.releases[of(i)]
		if r.At == nil {
			*r = likelihood.Released{Class: int(p.ClassOf[i]), Z: z, At: make([]float64, sites), Work: s.plan.atWork(c)}
		}
		large := float64(c.Fish) // at large below site k
		r.At[c.Entry] += large
		for k := c.Entry + 1; k < sites; k++ {
			passed := large * s.survival(r, k)
			seen := passed * (1 - r.Missed(p.Design, s.x, k))
			removed := 0.0
			if s.plan.Removed != nil {
				removed = seen * s.plan.Removed[k]
			}
			large = passed - removed
			r.At[k] += seen - removed
		}
		// Not seen: dead before, or alive and missed everywhere.
		s.seen = append(s.seen, float64(c.Fish)*s.seenBelow(r, c.Entry))
	}
	for _, u := range p.TestUnits() {
		u.Seen, u.Missed = slices.Clone(u.Seen), slices.Clone(u.Missed)
		for b := range u.Seen {
			passes := u.Seen[b] + u.Missed[b]
			d := p.Design.Prob(s.x, u.Class, l.Detection(b), z).P
			u.Seen[b], u.Missed[b] = passes*d, passes*(1-d)
		}
		s.fixed = append(s.fixed, u)
	}
}

// survival is that of the fish of r to site k from the one above.
func (s *state) survival(r *likelihood.Released, k int) float64 {
	return s.problem.Design.Prob(s.x, r.Class, s.problem.Layout.Survival(k-1), r.Z).P
}

// seenBelow is the probability of a fish of r at site i to be seen farther down.
func (s *state) seenBelow(r *likelihood.Released, i int) float64 {
	never := 1.0
	for k := s.problem.Layout.Sites() - 1; k > i; k-- {
		survival := s.survival(r, k)
		never = 1 - survival + survival*r.Missed(s.problem.Design, s.x, k)*never
	}
	return 1 - never
}

// expect is the fit to expect with factor times the fish; rank asks for the
// rank of the design too.
func (s *state) expect(ctx context.Context, factor float64, rank bool) (*cjs.Fit, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	releases := s.releases
	if factor != 1 {
		releases = slices.Clone(releases)
		for i := range releases {
			r := &releases[i]
			r.At = slices.Clone(r.At)
			for k := range r.At {
				r.At[k] *= factor
			}
		}
	}
	return cjs.Expect(ctx, s.problem, s.x, releases, s.fixed, cjs.Options{Level: s.plan.level(), VarianceInflation: s.plan.VarianceInflation, EstimatesOnly: !rank})
}

// lines are the estimates of a fit as lines of the forecast.
func (s *state) lines(f *cjs.Fit) []Line {
	var out []Line
	add := func(kind Kind, of []cjs.Category, from, site, row int, e cjs.Estimate) {
		if first := s.firstEntry(of); (kind == Survival && from < first) || site <= first {
			return // no fish of these comes by
		}
		if e.Value < 2*nearest || e.Value > 1-2*nearest {
			e.Value = math.Round(e.Value)
			if e.Status != cjs.Held {
				e.Status = cjs.Boundary
			}
			e.SE, e.Low, e.High = math.NaN(), math.NaN(), math.NaN()
		}
		half := s.z * e.SE
		out = append(out, Line{Kind: kind, Of: of, From: from, Site: site, Row: row, Estimate: e, Half: half, HalfLow: half, HalfHigh: half})
	}
	for _, e := range f.Passed {
		add(Passed, e.Of, -1, e.Site, -1, e.PassedShare)
	}
	for _, e := range f.Survival {
		add(Survival, e.Of, e.From, e.From+1, -1, e.Estimate)
	}
	for _, e := range f.Detection {
		add(Detection, e.Of, -1, e.Site, e.Row, e.Estimate)
	}
	for _, e := range f.Products {
		add(Product, e.Of, e.From, e.Site, -1, e.Estimate)
	}
	return out
}

// firstEntry is the uppermost site where fish of these categories are released.
func (s *state) firstEntry(of []cjs.Category) int {
	first := s.problem.Layout.Sites()
	for i := range s.plan.Cohorts {
		c := &s.plan.Cohorts[i]
		if c.is(s.plan, of) {
			first = min(first, c.Entry)
		}
	}
	return first
}

// is tells whether the cohort belongs to the categories.
func (c *Cohort) is(p *Plan, of []cjs.Category) bool {
	for _, x := range of {
		level := c.Name
		if x.Name != model.Cohort {
			at := slices.Index(p.Categories, x.Name)
			if at < 0 || at >= len(c.Levels) {
				return false
			}
			level = c.Levels[at]
		}
		if level != x.Level {
			return false
		}
	}
	return true
}

// Name is what a line is about, in words.
func (p *Plan) Name(l *Line) string {
	if l == nil || l.Site < 0 || l.Site >= len(p.River.Sites) {
		return ""
	}
	of := ""
	if len(l.Of) > 0 {
		var levels []string
		for _, c := range l.Of {
			levels = append(levels, c.Level)
		}
		of = " of " + strings.Join(levels, ", ")
	}
	site := p.River.Sites[l.Site].Name
	switch l.Kind {
	case Survival:
		return "survival " + p.River.Reach(l.From) + of
	case Detection:
		if l.Row >= 0 {
			return "detection at " + p.River.RowLabel(p.River.FirstRow(l.Site)+l.Row) + of
		}
		return "detection at " + site + of
	case Product:
		return fmt.Sprintf("survival %s × detection at %s%s", p.River.Reach(l.From), site, of)
	}
	return "passed at " + site + of
}

// check refuses a forecast that [New] did not make.
func (f *Forecast) check() error {
	if f == nil || f.Plan == nil || f.state == nil {
		return fmt.Errorf("there is no forecast; make one with plan.New")
	}
	return nil
}
