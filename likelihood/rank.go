package likelihood

import (
	"math"
	"math/rand/v2"

	"example.org/unseen/likelihood/linear"
)

// Released is fish of one class with the same numbers, by site of release.
type Released struct {
	Class int       // index of the fish's class
	Z     []float64 // numbers of the fish as in [Unit]
	// At[i] is the number released at site i; only whether it is zero matters
	// for the rank.
	At []float64
	// Work are, by site, the sets of rows at work as the fish pass, with shares that
	// are known and add up to 1; nil: all rows, always. See [ExpectedAtWork].
	Work [][]Work
}

// DesignRank is the number of coefficients, or combinations of them, that the
// releases could tell apart: the rank of the derivative of all cell
// probabilities at interior points (Catchpole & Morgan 1997), found as the
// rank of the expected information, which is the same. fixed counts (test
// passes) are added as they are. The points are drawn with a fixed seed.
func DesignRank(d *Design, releases []Released, fixed []Unit) int {
	_, s := DesignInformation(d, releases, fixed)
	if s == nil {
		return 0
	}
	return s.Rank(linear.RankTolerance)
}

// DesignInformation is the expected information of which [DesignRank] is the
// rank, at the interior point x where the rank was greatest; nil where it
// could not be had.
func DesignInformation(d *Design, releases []Released, fixed []Unit) (x []float64, info *linear.Eigen) {
	for seed := range uint64(3) {
		at := Interior(d, seed)
		data := &Data{Units: append([]Unit(nil), fixed...)}
		for i := range releases {
			r := &releases[i]
			data.Units = append(data.Units, Expected(d, at, r.Class, r.Z, r.At))
		}
		var p Point
		NewCJS(d, data).Eval(at, 2, &p)
		for i := range p.H {
			p.H[i] = -p.H[i]
		}
		if s, ok := linear.Decompose(p.H, d.Columns); ok && (info == nil || s.Rank(linear.RankTolerance) > info.Rank(linear.RankTolerance)) {
			x, info = at, s
		}
		if info != nil && info.Rank(linear.RankTolerance) == d.Columns {
			break // none is greater
		}
	}
	return x, info
}

// Interior is a point at which all probabilities are well inside (0, 1) as far
// as the design allows, with no symmetry; drawn from seed.
func Interior(d *Design, seed uint64) []float64 {
	rnd := rand.New(rand.NewPCG(seed, 0x1a7e))
	target := make([][]float64, d.Classes())
	for g := range target {
		target[g] = make([]float64, d.Layout.Slots())
		for a := range target[g] {
			target[g][a] = 0.45 + 0.4*rnd.Float64()
		}
	}
	x := Project(d, target, nil)
	for j, set := range numbered(d) {
		if set {
			x[j] = 0.3 * rnd.NormFloat64()
		}
	}
	return x
}

// numbered marks the columns that act through numbers of the fish only.
func numbered(d *Design) []bool {
	out := make([]bool, d.Columns)
	for i := range out {
		out[i] = true
	}
	for g := range d.Slots {
		for a := range d.Slots[g] {
			for _, e := range d.Slots[g][a] {
				if e.Number == 0 {
					out[e.Column] = false
				}
			}
		}
	}
	return out
}

// Project is the coefficients whose predictors come nearest, by weighted least
// squares, to those of the probabilities target[class][slot] for fish whose
// numbers are at their mean. Weights nil are 1; a target of NaN counts for
// nothing.
func Project(d *Design, target, weight [][]float64) []float64 {
	n := d.Columns
	a := make([]float64, n*n)
	b := make([]float64, n)
	for g := range d.Slots {
		for s := range d.Slots[g] {
			if d.Links[g][s].Kind == Fixed || math.IsNaN(target[g][s]) {
				continue
			}
			w := 1.0
			if weight != nil {
				w = weight[g][s]
			}
			eta := d.Links[g][s].Inverse(target[g][s])
			for _, e := range d.Slots[g][s] {
				if e.Number != 0 {
					continue
				}
				b[e.Column] += w * e.Value * eta
				for _, f := range d.Slots[g][s] {
					if f.Number == 0 {
						a[e.Column*n+f.Column] += w * e.Value * f.Value
					}
				}
			}
		}
	}
	x := make([]float64, n)
	if n > 0 {
		linear.SolveRidge(a, b, n, 1e-10, x)
	}
	return x
}
