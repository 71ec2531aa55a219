package plan

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/cjs"
	"example.org/unseen/likelihood"
)

// Contrast is a question whether two cohorts differ in the share that passed
// a site or in the survival of a reach.
type Contrast struct {
	First, Second string // cohorts
	Target        Target // its Of is not used
	// Alpha is the risk of seeing a difference where there is none; 0 means 0.05.
	Alpha float64
	// Chance of seeing the difference where it is there; 0 means 0.8.
	Chance float64
}

// ParseContrast reads "early vs late", with "at SITE" or "in REACH" after it
// where the question is not about the last site that can be estimated.
func (f *Forecast) ParseContrast(s string) (Contrast, error) {
	if err := f.check(); err != nil {
		return Contrast{}, err
	}
	p := f.Plan
	form := `write "COHORT vs COHORT", with "at SITE" or "in REACH" after it where wanted`
	a, rest, ok := strings.Cut(s, " vs ")
	if !ok {
		return Contrast{}, fmt.Errorf("%q compares nothing; %s", s, form)
	}
	c := Contrast{First: strings.TrimSpace(a)}
	names := p.CohortNames()
	known := func(name string) error {
		if slices.Contains(names, name) {
			return nil
		}
		return fmt.Errorf("%q: there is no cohort %q%s", s, name, choices(name, names))
	}
	if err := known(c.First); err != nil {
		return c, err
	}
	rest = strings.TrimSpace(rest)
	c.Second = rest
	if slices.Contains(names, rest) {
		c.Target = f.lastPassed()
	} else {
		found := false
		for _, x := range []struct{ word, kind string }{{" at ", "passed at "}, {" in ", "survival "}} {
			if b, place, ok := strings.Cut(rest, x.word); ok && slices.Contains(names, strings.TrimSpace(b)) {
				t, err := p.ParseTarget(x.kind + place)
				if err != nil {
					return c, err
				}
				c.Second, c.Target, found = strings.TrimSpace(b), t, true
			}
		}
		if !found {
			return c, known(strings.TrimSpace(strings.Split(strings.Split(rest, " at ")[0], " in ")[0]))
		}
	}
	if c.First == c.Second {
		return c, fmt.Errorf("%q: a cohort does not differ from itself", s)
	}
	return c, nil
}

// lastPassed is the share that passed the lowest site where it can be had.
func (f *Forecast) lastPassed() Target {
	t := f.DefaultTarget()
	t.Of = ""
	return t
}

// DefaultTarget is what a question is about when it does not say: the share
// of all fish that passed the lowest site where it can be had, or the last.
func (f *Forecast) DefaultTarget() Target {
	if f.check() != nil {
		return Target{}
	}
	t := Target{Kind: Passed, Reach: -1, Site: len(f.Plan.River.Sites) - 1, Row: -1, HalfWidth: math.NaN()}
	for _, l := range f.Passed {
		if len(l.Of) == 0 && !math.IsNaN(l.Half) {
			t.Site = l.Site
		}
	}
	return t
}

// Power is which difference a design can show.
type Power struct {
	Contrast Contrast // the cohorts and the quantity compared
	// First and Second are the supposed values, SE the standard error to
	// expect of their difference, Chance that of seeing it.
	First, Second, SE, Chance float64
	// Lower and Higher are the values of the second cohort nearest to that of
	// the first at which the difference is seen with the wanted chance; NaN
	// where even 0 or 1 would not do.
	Lower, Higher float64
	// Why no difference can be shown; else "".
	Why string
}

// Power finds the difference that the wanted chance takes. The test is that of
// the two estimates of a fit: their difference by its standard error, with the
// covariance of the two, against the normal distribution, two-sided. The
// second cohort's survival is moved by the same amount, on the scale of the
// model's link, in all reaches spoken of, or where the model cannot, in all;
// its standard error moves with it.
func (f *Forecast) Power(ctx context.Context, c Contrast) (*Power, error) {
	if c.Alpha == 0 {
		c.Alpha = 0.05
	}
	if c.Chance == 0 {
		c.Chance = 0.8
	}
	if !(c.Alpha > 0 && c.Alpha < 1) || !(c.Chance > 0 && c.Chance < 1) {
		return nil, fmt.Errorf("alpha is %v, the chance %v; both lie between 0 and 1", c.Alpha, c.Chance)
	}
	if err := f.asked(&c.Target); err != nil {
		return nil, err
	}
	for _, name := range []string{c.First, c.Second} {
		if names := f.Plan.CohortNames(); !slices.Contains(names, name) {
			return nil, fmt.Errorf("there is no cohort %q%s", name, choices(name, names))
		}
	}
	if c.Target.Kind == Detection {
		return nil, fmt.Errorf("cohorts are compared in what passed or survived, not in detection")
	}
	out := &Power{Contrast: c, Lower: math.NaN(), Higher: math.NaN(), SE: math.NaN(), Chance: math.NaN()}
	now, err := f.state.contrast(ctx, &c)
	if err != nil {
		return nil, err
	}
	out.First, out.Second = now.first, now.second
	if out.Why = now.why; out.Why != "" {
		return out, nil
	}
	out.SE, out.Chance = now.se, now.chance(c.Alpha)
	for _, higher := range []bool{false, true} {
		v, err := f.detectable(ctx, &c, higher)
		if err != nil {
			return nil, err
		}
		if higher {
			out.Higher = v
		} else {
			out.Lower = v
		}
	}
	return out, nil
}

// contrasted is the two cohorts' values at one state.
type contrasted struct {
	first, second, se float64
	why               string
}

// chance is the probability that the difference is seen.
func (c *contrasted) chance(alpha float64) float64 {
	z := distuv.UnitNormal.Quantile(1 - alpha/2)
	d := (c.second - c.first) / c.se
	return distuv.UnitNormal.CDF(d-z) + distuv.UnitNormal.CDF(-d-z)
}

// contrast is the difference second − first with its standard error.
func (s *state) contrast(ctx context.Context, c *Contrast) (*contrasted, error) {
	fit, err := s.expect(ctx, 1, false)
	if err != nil {
		return nil, err
	}
	q := likelihood.Quantity{}
	var values [2]float64
	for i, name := range []string{c.First, c.Second} {
		ms := s.means(c, name)
		if len(ms) == 0 {
			return &contrasted{first: math.NaN(), second: math.NaN(), why: fmt.Sprintf("no fish of cohort %q come by", name)}, nil
		}
		one := likelihood.Quantity{Means: ms}
		var p likelihood.Point
		one.Eval(s.problem.Design, s.x, 1, &p)
		values[i] = p.F
		if _, ok := fit.Determines(p.G); !ok {
			l := Line{Estimate: cjs.NoEstimate(cjs.Inseparable)}
			return &contrasted{first: values[0], second: values[1], why: s.whyNot(&l, &c.Target)}, nil
		}
		for _, m := range ms {
			if i == 0 {
				m.Each = -m.Each
			}
			q.Means = append(q.Means, m)
		}
	}
	var p likelihood.Point
	q.Eval(s.problem.Design, s.x, 1, &p)
	out := &contrasted{first: values[0], second: values[1]}
	variance, ok := fit.Determines(p.G)
	if !ok || !(variance > 1e-16) {
		out.why = "the model gives both cohorts the same value: put cohort into its survival terms"
		return out, nil
	}
	out.se = math.Sqrt(variance)
	return out, nil
}

// means are the quantity of one cohort: survival of the reach, or survival to
// the site averaged over the fish released above it.
func (s *state) means(c *Contrast, cohort string) []likelihood.Mean {
	p := s.problem
	var out []likelihood.Mean
	total := 0.0
	z := make([][]float64, p.Design.Numbers-1)
	for i := range z {
		z[i] = []float64{0}
	}
	for i := range s.plan.Cohorts {
		h := &s.plan.Cohorts[i]
		if h.Name != cohort || h.Entry >= c.Target.Site {
			continue
		}
		from := h.Entry
		if c.Target.Kind == Survival {
			from = c.Target.Reach
		}
		m := likelihood.Mean{Class: int(p.ClassOf[i]), Each: float64(h.Fish), N: 1, Z: z}
		for k := from; k < c.Target.Site; k++ {
			m.Factors = append(m.Factors, likelihood.Factor{Slot: p.Layout.Survival(k)})
		}
		total += m.Each
		out = append(out, m)
	}
	for i := range out {
		out[i].Each /= total
	}
	return out
}

// farthest: survival moved by this on its link scale is 0 or 1.
const farthest = 20

// detectable is the value of the second cohort nearest to that of the first,
// on one side, that is told from it with the wanted chance.
func (f *Forecast) detectable(ctx context.Context, c *Contrast, higher bool) (float64, error) {
	way := f.state.direction(c)
	try := func(t float64) (*contrasted, error) { return f.state.along(way, t).contrast(ctx, c) }
	// At level the two cohorts have the same value.
	level, low, high := 0.0, -float64(farthest), float64(farthest)
	for range 60 {
		level = (low + high) / 2
		at, err := try(level)
		if err != nil {
			return math.NaN(), err
		}
		if at.second < at.first {
			low = level
		} else {
			high = level
		}
	}
	// Away from there the chance rises.
	near, far := level, level
	step := -0.05
	if higher {
		step = 0.05
	}
	for {
		far += step
		step *= 1.5
		at, err := try(far)
		if err != nil {
			return math.NaN(), err
		}
		if math.Abs(far) > farthest || at.why != "" {
			return math.NaN(), nil // all alive or all dead, and still not seen
		}
		if at.chance(c.Alpha) >= c.Chance {
			break
		}
		near = far
	}
	for range 60 {
		t := (near + far) / 2
		at, err := try(t)
		if err != nil {
			return math.NaN(), err
		}
		if at.chance(c.Alpha) >= c.Chance {
			far = t
		} else {
			near = t
		}
	}
	at, err := try(far)
	return at.second, err
}

// direction is the change of the coefficients that raises the second cohort's
// survival in the reaches spoken of by one on the link scale and leaves all
// else alone. Where the model has none, as when cohorts differ by the same in
// every reach, it is that for all reaches.
func (s *state) direction(c *Contrast) []float64 {
	p, l := s.problem, s.problem.Layout
	second := make([]bool, len(p.Classes))
	for i := range s.plan.Cohorts {
		second[p.ClassOf[i]] = second[p.ClassOf[i]] || s.plan.Cohorts[i].Name == c.Second
	}
	z := make([]float64, p.Design.Numbers)
	z[0] = 1
	find := func(spoken func(reach int) bool) (way []float64, exact bool) {
		shift := func(g, a int) float64 {
			k := l.Reach(a)
			if k < 0 || !second[g] || !spoken(k) {
				return 0
			}
			if p.Design.Links[g][a].Kind == likelihood.Rate {
				return -1
			}
			return 1
		}
		target := make([][]float64, len(p.Classes))
		for g := range target {
			target[g] = make([]float64, l.Slots())
			for a := range target[g] {
				target[g][a] = p.Design.Links[g][a].At(shift(g, a)).P
			}
		}
		way = likelihood.Project(p.Design, target, nil)
		exact = true
		for g := range target {
			for a := range target[g] {
				if p.Design.Links[g][a].Kind != likelihood.Fixed {
					exact = exact && math.Abs(p.Design.Predictor(way, g, a, z)-shift(g, a)) < 1e-6
				}
			}
		}
		return way, exact
	}
	way, exact := find(func(k int) bool {
		return k < c.Target.Site && (c.Target.Kind != Survival || k == c.Target.Reach)
	})
	if !exact {
		way, _ = find(func(int) bool { return true })
	}
	return way
}

// along is the state with its coefficients moved.
func (s *state) along(way []float64, t float64) *state {
	n := *s
	n.x = slices.Clone(s.x)
	for j, v := range way {
		n.x[j] += t * v
	}
	n.releases, n.fixed, n.seen = nil, nil, nil
	n.release()
	return &n
}
