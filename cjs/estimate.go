package cjs

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
	"example.org/unseen/likelihood/linear"
)

// hereTolerance: eigenvalues of the observed information with unit diagonal
// below this belong to combinations these data do not determine.
const hereTolerance = 1e-9

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
	if math.IsNaN(v) || !(se >= 0) || !(z >= 0) {
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
	if n <= 0 || x < 0 || x > n || !(z >= 0) || math.IsInf(z, 1) {
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

// working fills Working.
func (f *Fit) working() {
	p := f.Problem
	if !p.Windowed() {
		return
	}
	fish := p.NewReleases()
	for k := 1; k < p.Layout.Sites(); k++ {
		from, to := p.Layout.SiteRows(k)
		for b := from; b < to; b++ {
			w := Working{Site: k, Row: b - from, Idle: p.IdleTimes(b, math.MaxInt64)}
			if len(w.Idle) == 0 {
				continue
			}
			w.Share = likelihood.AtWork(f.design, f.X, fish, k, 1<<uint(b))
			if to-from == 1 {
				w.Row = -1
			}
			f.Working = append(f.Working, w)
		}
	}
}

// AtWork is, of the passages by which newly released fish of some classes would come
// to site k were none to die, the share for which one of its numbered rows (as bits)
// worked, by the law of travel; 1 where that was always so.
func (f *Fit) AtWork(k int, rows uint64, in func(class int) bool) float64 {
	if f.Check() != nil {
		return math.NaN()
	}
	if !f.Problem.Windowed() {
		return 1
	}
	if in == nil {
		in = func(int) bool { return true }
	}
	fish := slices.DeleteFunc(f.Problem.NewReleases(), func(w likelihood.Wait) bool { return !in(w.Class) })
	return likelihood.AtWork(f.design, f.X, fish, k, rows)
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

// atBound tells whether coefficient j goes to infinity, and must.
func (f *Fit) atBound(j int) bool {
	d := f.Problem.Design
	for _, l := range f.levels {
		if es := d.Slots[l.Row.Class][l.Row.Slot]; len(es) == 1 && es[0].Column == j {
			return false
		}
	}
	for _, d := range f.limits {
		if d[j] != 0 {
			return true
		}
	}
	return false
}

// designed is the expected information by which the design is judged, whatever
// the data; nil where there is none.
func (f *Fit) designed() *linear.Eigen {
	if p := f.Problem; f.designInfo == nil {
		f.interior, f.designInfo = likelihood.DesignInformation(p.Design, releases(p), p.TestUnits())
	}
	return f.designInfo
}

// byDesign tells whether the design can estimate q whatever the data. A bound
// can make determined what the design confounds — where survival × detection
// comes out as 1, both must be 1 — but that is chance, not knowledge. How fish
// move is told by the times, of which the design knows nothing.
func (f *Fit) byDesign(q *likelihood.Quantity) bool {
	moves := func(m likelihood.Mean) bool {
		return slices.ContainsFunc(m.Factors, func(c likelihood.Factor) bool { return f.Problem.PartOf(c.Slot).Moves() })
	}
	info := f.designed()
	if info == nil || slices.ContainsFunc(q.Means, moves) {
		return true
	}
	var at likelihood.Point
	q.Eval(f.Problem.Design, f.interior, 1, &at)
	return info.Determines(at.G)
}

// releases are what the fish of p tell apart: numbers and sites of release of
// each class.
func releases(p *model.Problem) []likelihood.Released {
	var releases []likelihood.Released
	for g := range p.Classes {
		at := make([]float64, p.Layout.Sites())
		for i, n := range p.Classes[g].Released {
			if n > 0 {
				at[i] = 1
			}
		}
		for _, z := range p.TypicalNumbers(g) {
			releases = append(releases, likelihood.Released{Class: g, Z: z, At: at})
		}
	}
	return releases
}
