package cjs

import (
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
)

func normalQuantile(p float64) float64 { return distuv.UnitNormal.Quantile(p) }

// determined: a quantity whose gradient lies outside what the data determine
// by more than this share is not estimable.
const determined = 1e-4

// group is fish that share the categories names, in the order of the classes.
type group struct {
	of      []Category
	classes []int // ascending
}

func (g *group) has(class int) bool {
	if len(g.classes) == 1 {
		return g.classes[0] == class
	}
	_, ok := slices.BinarySearch(g.classes, class)
	return ok
}

// groups are the combinations of levels of names that occur; with no names,
// one group of all.
func groups(p *model.Problem, names []string) []group {
	var at []int
	for i, c := range p.Categories {
		for _, n := range names {
			if n == c {
				at = append(at, i)
			}
		}
	}
	var out []group
	for g := range p.Classes {
		var of []Category
		for _, i := range at {
			of = append(of, Category{p.Categories[i], p.Levels[i][p.Classes[g].Level[i]]})
		}
		found := false
		for i := range out {
			if sameCategories(out[i].of, of) {
				out[i].classes = append(out[i].classes, g)
				found = true
			}
		}
		if !found {
			out = append(out, group{of, []int{g}})
		}
	}
	return out
}

func sameCategories(a, b []Category) bool {
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return len(a) == len(b)
}

// tally counts the fish of the group.
func (g *group) tally(p *model.Problem) model.Tally {
	return p.Sum(g.has)
}

// slot is the quantity of one slot of a class, for a fish of mean numbers.
func (f *Fit) slot(class int, factors ...likelihood.Factor) likelihood.Quantity {
	return likelihood.Quantity{Means: []likelihood.Mean{{Class: class, Factors: factors, Z: f.meanNumbers(), Each: 1, N: 1}}}
}

func (f *Fit) meanNumbers() [][]float64 {
	z := make([][]float64, f.Problem.Design.Numbers-1)
	for i := range z {
		z[i] = []float64{0}
	}
	return z
}

// estimate is q with its standard error by the delta method and its interval.
func (f *Fit) estimate(ctx context.Context, q *likelihood.Quantity) (Estimate, error) {
	var p likelihood.Point
	q.Eval(f.design, f.X, 1, &p)
	return f.conclude(ctx, p.F, p.G, q, func() *likelihood.Quantity { return q })
}

// conclude makes the estimate of a quantity from its value and gradient. about
// names the probabilities it is made of; whole is the quantity for profiling.
func (f *Fit) conclude(ctx context.Context, value float64, grad []float64, about *likelihood.Quantity, whole func() *likelihood.Quantity) (Estimate, error) {
	e := Estimate{Value: value, SE: math.NaN(), Low: math.NaN(), High: math.NaN(), Status: Estimated}
	s := f.about(about)
	if !s.free && !s.bounded {
		if s.held {
			e.Status = Held
		}
		return e, nil
	}
	if s.between {
		return NoEstimate(Inseparable), nil
	}
	borrowed := f.borrows(about)
	if f.running != nil {
		if e, ok, err := f.bounds(ctx, whole()); ok || err != nil {
			return e, err
		}
	}
	if s.free {
		if f.scaled.Outside(grad, hereTolerance) > determined {
			return NoEstimate(Inseparable), nil
		}
		e.SE = math.Sqrt(f.variance(grad))
	}
	if s.bounded && !(e.SE > 0) {
		e.SE, e.Status = math.NaN(), Boundary
	} else if borrowed {
		e.Status = Borrowed
	}
	// A probability known no better than to 1 is one that rounding alone makes
	// look determined.
	if (len(f.limits) > 0 || e.SE > 1) && !f.byDesign(whole()) {
		return NoEstimate(Inseparable), nil
	}
	rough := false
	if f.told != nil {
		var early bool
		if early, rough = f.told.early(value, grad); early {
			e, err := f.profileInterval(ctx, whole(), e)
			e.Value, e.SE, e.Status = math.NaN(), math.NaN(), TooEarly
			return e, err
		}
	}
	if f.Options.EstimatesOnly && s.bounded && !rough {
		return e, nil
	}
	byProfile := s.bounded || rough || f.Options.Interval == "profile"
	if !byProfile && f.Options.Interval == "auto" && !f.Options.EstimatesOnly {
		beside, err := f.besideLimit(ctx, grad)
		if err != nil {
			return e, err
		}
		byProfile = borrowed || beside || doubtful(e) || f.restsOnDoubtful(grad, e.SE)
		if !byProfile && f.atOutage(about) {
			e, err := f.profileInterval(ctx, whole(), e)
			e.forOutage = true
			return e, err
		}
	}
	if byProfile {
		return f.profileInterval(ctx, whole(), e)
	}
	e.Low, e.High, e.Method = f.interval(e.Value, e.SE)
	return e, nil
}

// atOutage tells whether q has to do with a site that did not work all the time:
// the detection there, or the survival of a reach beside it.
func (f *Fit) atOutage(q *likelihood.Quantity) bool {
	l := f.Problem.Layout
	if !f.Problem.Windowed() {
		return false
	}
	for i := range q.Means {
		for _, c := range q.Means[i].Factors {
			if r := l.Reach(c.Slot); r >= 0 {
				if r > 0 && l.Idle(r) || l.Idle(r+1) {
					return true
				}
			} else if l.Row(c.Slot) >= 0 && l.Idle(l.Site(c.Slot)+1) {
				return true
			}
		}
	}
	return false
}

// variance is gᵀ C g.
func (f *Fit) variance(g []float64) float64 {
	n := f.Parameters
	var v float64
	for i, gi := range g {
		if gi == 0 {
			continue
		}
		for j, gj := range g {
			v += gi * f.Covariance[i*n+j] * gj
		}
	}
	return max(0, v)
}

// interval is symmetric on the logit scale for a value inside (0, 1) —
// logit ± z·SE/(p(1−p)) — and on the value's own scale otherwise.
func (f *Fit) interval(v, se float64) (low, high float64, method string) {
	return Interval(v, se, f.z)
}

// Interval is the interval of a probability v with standard error se, z
// standard errors wide on the logit scale; outside (0, 1), where a linear link
// can lead, on the value's own scale.
func Interval(v, se, z float64) (low, high float64, method string) {
	if math.IsNaN(v) || math.IsNaN(se) {
		return math.NaN(), math.NaN(), ""
	}
	if !(v > 0 && v < 1) {
		return v - z*se, v + z*se, "wald"
	}
	eta, w := likelihood.LogitOf(v), z*se/(v*(1-v))
	low, _ = likelihood.Expit(eta - w)
	high, _ = likelihood.Expit(eta + w)
	return low, high, "logit"
}

// Wilson is the score interval of x out of n, z standard errors wide (Wilson
// 1927). Absent when n is 0, and when x of n cannot be.
func Wilson(x, n int, z float64) Estimate {
	if n <= 0 || x < 0 || x > n {
		return NoEstimate(Absent)
	}
	N := float64(n)
	p := float64(x) / N
	mid := (p + z*z/(2*N)) / (1 + z*z/N)
	half := z / (1 + z*z/N) * math.Sqrt(p*(1-p)/N+z*z/(4*N*N))
	e := Estimate{Value: p, SE: math.Sqrt(p * (1 - p) / N), Low: max(0, mid-half), High: min(1, mid+half), Status: Estimated, Method: "wilson"}
	if x == 0 {
		e.Low = 0
	}
	if x == n {
		e.High = 1
	}
	return e
}

// ownDetection tells whether site k's detection can be had at that site alone:
// fish are seen farther down, it is divided, or it has test passes.
func ownDetection(p *model.Problem, k int) bool {
	if k < p.Layout.Sites()-1 || p.Histories.River.Sites[k].Divided() {
		return true
	}
	from, to := p.Layout.SiteRows(k)
	for _, t := range p.TestPasses {
		if t.Row >= from && t.Row < to {
			return true
		}
	}
	return false
}

// estimates fills survival, detection, products and passed.
func (f *Fit) estimates(ctx context.Context) error {
	p := f.Problem
	l := p.Layout
	last := l.Sites() - 1
	var err error
	if f.running, err = f.newRunning(ctx); err != nil {
		return err
	}
	if f.told = f.running; f.told == nil {
		f.told = f.overWithWindows()
	}
	at := f.covariates(model.Survival)
	for _, gr := range groups(p, p.SurvivalCategories) {
		t := gr.tally(p)
		raw := model.NewClosedForm(&t)
		for k := range last {
			q := f.slot(gr.classes[0], likelihood.Factor{Slot: l.Survival(k)})
			e, err := f.estimate(ctx, &q)
			if err != nil {
				return err
			}
			f.Survival = append(f.Survival, Survival{Of: gr.of, From: k, At: at, Estimate: e, Raw: raw.Survival[k]})
		}
	}
	at = f.covariates(model.Detection)
	for _, gr := range groups(p, p.DetectionCategories) {
		for k := 1; k <= last; k++ {
			from, to := l.SiteRows(k)
			var all []likelihood.Factor
			for b := from; b < to; b++ {
				factor := likelihood.Factor{Slot: l.Detection(b)}
				q := f.slot(gr.classes[0], factor)
				e, err := f.estimate(ctx, &q)
				if err != nil {
					return err
				}
				row := b - from
				if to-from == 1 {
					row = -1
				}
				f.Detection = append(f.Detection, Detection{Of: gr.of, Site: k, Row: row, At: at, Estimate: e})
				factor.Miss = true
				all = append(all, factor)
			}
			if to-from > 1 {
				q := f.slot(gr.classes[0], all...)
				q.Complement = true
				e, err := f.estimate(ctx, &q)
				if err != nil {
					return err
				}
				f.Detection = append(f.Detection, Detection{Of: gr.of, Site: k, Row: -1, At: at, Estimate: e})
			}
		}
	}
	if err := f.movement(ctx); err != nil {
		return err
	}
	if f.Options.EstimatesOnly {
		return f.passed(ctx, true)
	}
	if err := f.products(ctx); err != nil {
		return err
	}
	f.RowTests = rowTests(p)
	f.working()
	return f.passed(ctx, false)
}

// working fills Working.
func (f *Fit) working() {
	p := f.Problem
	if !p.Windowed() {
		return
	}
	fish := p.NewReleases()
	for k := 1; k < p.Layout.Sites(); k++ {
		from, to := p.Layout.SiteRows(k)
		for b := from; b < to && p.Layout.Idle(k); b++ {
			w := Working{Site: k, Row: b - from, Share: likelihood.AtWork(f.design, f.X, fish, b), Idle: p.IdleTimes(b, math.MaxInt64)}
			if to-from == 1 {
				w.Row = -1
			}
			f.Working = append(f.Working, w)
		}
	}
}

// AtWork is, of the passages by which newly released fish of some classes would come
// to numbered row b were none to die, the share for which it worked, by the law of
// travel; 1 where it always did.
func (f *Fit) AtWork(b int, in func(class int) bool) float64 {
	if !f.Problem.Windowed() {
		return 1
	}
	fish := slices.DeleteFunc(f.Problem.NewReleases(), func(w likelihood.Wait) bool { return !in(w.Class) })
	return likelihood.AtWork(f.design, f.X, fish, b)
}

// covariates are the means of the numbers a part uses.
func (f *Fit) covariates(part model.Part) []Covariate {
	terms := f.Problem.TermsOf(part)
	var out []Covariate
	for _, name := range terms.Names() {
		for _, n := range f.Problem.Numbers {
			if n.Name == name {
				out = append(out, Covariate{name, n.Mean})
			}
		}
	}
	return out
}

// products are survival × detection of the last reach where the two cannot be
// told apart but their product can.
func (f *Fit) products(ctx context.Context) error {
	p := f.Problem
	l := p.Layout
	last := l.Sites() - 1
	if last < 1 || p.Histories.River.Sites[last].Divided() {
		return nil
	}
	names := union(p.Categories, p.SurvivalCategories, p.DetectionCategories)
	for _, gr := range groups(p, names) {
		g := gr.classes[0]
		s, d := likelihood.Factor{Slot: l.Survival(last - 1)}, likelihood.Factor{Slot: l.Detection(l.RowCount() - 1)}
		q := f.slot(g, s)
		e, err := f.estimate(ctx, &q)
		if err != nil {
			return err
		}
		if e.Status != Inseparable {
			continue
		}
		q = f.slot(g, s, d)
		if e, err = f.estimate(ctx, &q); err != nil {
			return err
		}
		if e.Status == Inseparable {
			continue
		}
		f.Products = append(f.Products, Product{Of: gr.of, From: last - 1, Site: last, Estimate: e})
	}
	return nil
}

// union is those of order that are in one of the lists.
func union(order []string, lists ...[]string) []string {
	var out []string
	for _, n := range order {
		in := false
		for _, l := range lists {
			for _, m := range l {
				in = in || m == n
			}
		}
		if in {
			out = append(out, n)
		}
	}
	return out
}

// coefficients are X in the columns' own units.
func (f *Fit) coefficients() {
	n := f.Parameters
	for j, c := range f.Problem.Columns {
		se := math.Sqrt(f.Covariance[j*n+j])
		unit := make([]float64, n)
		unit[j] = 1
		k := Coefficient{Part: string(c.Part), Term: c.Term, Against: c.Against, Estimate: f.X[j] * c.Scale, SE: se * c.Scale, PerSD: math.NaN(), Status: Estimated}
		if c.Numeric {
			k.PerSD = f.X[j] * c.SlotSD
		}
		if f.scaled.Outside(unit, hereTolerance) > determined {
			k.Status = Inseparable
			if f.atBound(j) {
				k.Status = Boundary
			}
			k.Estimate, k.SE, k.PerSD = math.NaN(), math.NaN(), math.NaN()
		}
		f.Coefficients = append(f.Coefficients, k)
	}
}

// atBound tells whether coefficient j goes to infinity.
func (f *Fit) atBound(j int) bool {
	for _, d := range f.limits {
		if d[j] != 0 {
			return true
		}
	}
	return false
}
