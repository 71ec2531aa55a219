package likelihood

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mat"
)

// rankTolerance: eigenvalues of an information matrix with unit diagonal below
// this are zero. A true zero comes out near 1e-15, the smallest real ones met
// at interior points near 1e-6.
const rankTolerance = 1e-10

// Scaled is a symmetric matrix brought to unit diagonal, with its eigenvalues.
type Scaled struct {
	N      int
	Scale  []float64 // 1/√diagonal; 0 where the diagonal is not positive
	Values []float64 // ascending
	Vector *mat.Dense
}

// Decompose scales the symmetric n × n matrix a to unit diagonal and finds its
// eigenvalues and vectors. ok is false when that fails.
func Decompose(a []float64, n int) (s *Scaled, ok bool) {
	s = &Scaled{N: n, Scale: make([]float64, n)}
	if n == 0 {
		return s, true
	}
	top := 0.0
	for i := range n {
		top = max(top, a[i*n+i])
	}
	for i := range n {
		if v := a[i*n+i]; v > 1e-13*top {
			s.Scale[i] = 1 / math.Sqrt(v)
		}
	}
	sym := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			v := a[i*n+j] * s.Scale[i] * s.Scale[j]
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return nil, false
			}
			sym.SetSym(i, j, v)
		}
	}
	var e mat.EigenSym
	if !e.Factorize(sym, true) {
		return nil, false
	}
	s.Values = e.Values(nil)
	s.Vector = mat.NewDense(n, n, nil)
	e.VectorsTo(s.Vector)
	return s, true
}

// Rank is the number of eigenvalues above tol.
func (s *Scaled) Rank(tol float64) int {
	n := 0
	for _, v := range s.Values {
		if v > tol {
			n++
		}
	}
	return n
}

// Released is fish of one class with the same numbers, by site of release.
type Released struct {
	Class int
	Z     []float64
	// At[i] is the number let go at site i; only whether it is zero matters
	// for the rank.
	At []float64
}

// DesignRank is the number of coefficients, or combinations of them, that the
// releases could tell apart: the rank of the derivative of all cell
// probabilities at interior points (Catchpole & Morgan 1997), found as the
// rank of the expected information, which is the same. fixed counts (test
// passes) are added as they are. The points are drawn with a fixed seed.
func DesignRank(d *Design, releases []Released, fixed []Unit) int {
	best := 0
	for seed := range uint64(3) {
		x := Interior(d, seed)
		data := &Data{Units: append([]Unit(nil), fixed...)}
		for i := range releases {
			r := &releases[i]
			data.Units = append(data.Units, Expected(d, x, r.Class, r.Z, r.At))
		}
		var p Point
		NewCJS(d, data).Eval(x, 2, &p)
		for i := range p.H {
			p.H[i] = -p.H[i]
		}
		if s, ok := Decompose(p.H, d.Columns); ok {
			best = max(best, s.Rank(rankTolerance))
		}
	}
	return best
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
		SolveRidge(a, b, n, 1e-10, x)
	}
	return x
}

// SolveRidge solves (A + ridge·diag A) x = b for a symmetric positive
// semidefinite A, raising the ridge until that is possible; rows of zeros get
// x = 0. It reports the ridge used.
func SolveRidge(a, b []float64, n int, ridge float64, x []float64) float64 {
	scale := make([]float64, n)
	for i := range n {
		if v := math.Abs(a[i*n+i]); v > 0 {
			scale[i] = 1 / math.Sqrt(v)
		}
	}
	sym := mat.NewSymDense(n, nil)
	rhs := mat.NewVecDense(n, nil)
	for i := range n {
		rhs.SetVec(i, b[i]*scale[i])
	}
	var chol mat.Cholesky
	for {
		for i := range n {
			for j := i; j < n; j++ {
				sym.SetSym(i, j, a[i*n+j]*scale[i]*scale[j])
			}
			if scale[i] == 0 {
				sym.SetSym(i, i, 1)
			} else {
				sym.SetSym(i, i, sym.At(i, i)+ridge)
			}
		}
		if chol.Factorize(sym) {
			break
		}
		ridge = max(10*ridge, 1e-12)
		if ridge > 1e12 || math.IsNaN(ridge) {
			return math.Inf(1)
		}
	}
	var v mat.VecDense
	if err := chol.SolveVecTo(&v, rhs); err != nil {
		// Ill-conditioned is no fault here: the ridge is meant to be small.
		if _, bad := err.(mat.Condition); !bad {
			return math.Inf(1)
		}
	}
	for i := range n {
		x[i] = v.AtVec(i) * scale[i]
	}
	return ridge
}
