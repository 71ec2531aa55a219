// Package linear takes symmetric matrices apart and solves by them, such as the
// information of a likelihood, whose coefficients differ in scale by orders of
// magnitude and may not be told apart at all.
//
// Begin with [Decompose]; ExampleDecompose shows it. Matrices are n×n in one
// slice, row by row.
package linear

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// RankTolerance: eigenvalues of an information matrix with unit diagonal below
// this are zero. A true zero comes out near 1e-15, the smallest real ones met
// at interior points near 1e-6.
const RankTolerance = 1e-10

// Eigen is a symmetric matrix brought to unit diagonal and taken apart: into
// parts that have nothing to do with each other, and each into eigenvectors.
type Eigen struct {
	N int // rows and columns
	// Scale is 1/√diagonal; 0 where the diagonal is zero or negative.
	Scale []float64
	parts []part
}

type part struct {
	index  []int
	values []float64 // ascending
	vector *mat.Dense
}

// tinyDiagonal: a diagonal element below this share of the largest is zero.
const tinyDiagonal = 1e-15

// Decompose scales the symmetric n × n matrix a to unit diagonal and finds its
// eigenvalues and vectors. ok is false when that fails, or a is not n × n.
func Decompose(a []float64, n int) (s *Eigen, ok bool) {
	if !square(a, n) {
		return nil, false
	}
	s = &Eigen{N: n, Scale: make([]float64, n)}
	top := 0.0
	for i := range n {
		top = max(top, a[i*n+i])
	}
	for i := range n {
		if v := a[i*n+i]; v > tinyDiagonal*top {
			s.Scale[i] = 1 / math.Sqrt(v)
		}
	}
	for _, index := range Blocks(a, n) {
		sym := mat.NewSymDense(len(index), nil)
		for x, i := range index {
			for y := x; y < len(index); y++ {
				j := index[y]
				v := a[i*n+j] * s.Scale[i] * s.Scale[j]
				if math.IsNaN(v) || math.IsInf(v, 0) {
					return nil, false
				}
				sym.SetSym(x, y, v)
			}
		}
		var e mat.EigenSym
		if !e.Factorize(sym, true) {
			return nil, false
		}
		p := part{index: index, values: e.Values(nil), vector: new(mat.Dense)}
		e.VectorsTo(p.vector)
		s.parts = append(s.parts, p)
	}
	return s, true
}

// Rank is the number of eigenvalues above tol.
func (s *Eigen) Rank(tol float64) int {
	n := 0
	for _, p := range s.parts {
		for _, v := range p.values {
			if v > tol {
				n++
			}
		}
	}
	return n
}

// Determines tells whether the information, of a design at x, says anything
// on the quantity with gradient grad there.
func (s *Eigen) Determines(grad []float64) bool { return s.Outside(grad, RankTolerance) < 1e-4 }

// Smallest is the smallest eigenvalue; +Inf of an empty matrix.
func (s *Eigen) Smallest() float64 {
	least := math.Inf(1)
	for _, p := range s.parts {
		least = min(least, p.values[0])
	}
	return least
}

// Inverse is the pseudo-inverse of the unscaled matrix over the eigenvalues
// above tol, n × n.
func (s *Eigen) Inverse(tol float64) []float64 {
	n := s.N
	if len(s.Scale) != n {
		return nil
	}
	out := make([]float64, n*n)
	for _, p := range s.parts {
		for e, v := range p.values {
			if v <= tol {
				continue
			}
			for x, i := range p.index {
				wi := p.vector.At(x, e) * s.Scale[i] / v
				if wi == 0 {
					continue
				}
				for y, j := range p.index {
					out[i*n+j] += wi * p.vector.At(y, e) * s.Scale[j]
				}
			}
		}
	}
	return out
}

// Outside is the share of the direction v (a gradient by the unscaled
// coefficients) that lies where the matrix says nothing: 0 when what v
// measures is determined, up to 1.
func (s *Eigen) Outside(v []float64, tol float64) float64 {
	if s == nil || len(v) != s.N {
		return 1
	}
	var all, null float64
	for _, p := range s.parts {
		var has []int
		for x, i := range p.index {
			if v[i] == 0 {
				continue
			}
			if s.Scale[i] == 0 {
				return 1
			}
			has = append(has, x)
		}
		for e := 0; e < len(p.values) && len(has) > 0; e++ {
			var dot float64
			for _, x := range has {
				i := p.index[x]
				dot += p.vector.At(x, e) * v[i] * s.Scale[i]
			}
			all += dot * dot
			if p.values[e] <= tol {
				null += dot * dot
			}
		}
	}
	if all == 0 {
		return 0
	}
	return math.Sqrt(null / all)
}

// Null are the directions (in unscaled coefficients) the matrix says nothing
// about, each of N values; rows of zeros are left out.
func (s *Eigen) Null(tol float64) [][]float64 {
	var out [][]float64
	for _, p := range s.parts {
		for e, val := range p.values {
			if val > tol || len(p.index) == 1 && s.Scale[p.index[0]] == 0 {
				continue
			}
			v := make([]float64, s.N)
			for x, i := range p.index {
				v[i] = p.vector.At(x, e) * s.Scale[i]
			}
			out = append(out, v)
		}
	}
	return out
}

func square(a []float64, n int) bool { return n >= 0 && n <= 1<<20 && len(a) == n*n }

// Blocks are the sets of indices between which the symmetric n × n matrix a is
// zero throughout; nil where a is not n × n.
func Blocks(a []float64, n int) [][]int {
	if !square(a, n) {
		return nil
	}
	u := newUnion(n)
	for i := range n {
		for j, v := range a[i*n : i*n+i] {
			if v != 0 {
				u.join(i, j)
			}
		}
	}
	return u.sets(func(int) bool { return true })
}

// union joins indices to sets; root leads from an index to that of its set.
type union struct{ root []int }

func newUnion(n int) union {
	u := union{make([]int, n)}
	for i := range u.root {
		u.root[i] = i
	}
	return u
}

func (u union) find(i int) int {
	for u.root[i] != i {
		u.root[i] = u.root[u.root[i]]
		i = u.root[i]
	}
	return i
}

func (u union) join(i, j int) { u.root[u.find(j)] = u.find(i) }

// sets are those of the indices that are in, in the order of their first.
func (u union) sets(in func(i int) bool) (out [][]int) {
	where := make([]int, len(u.root))
	for i := range u.root {
		if !in(i) {
			continue
		}
		r := u.find(i)
		if where[r] == 0 {
			out = append(out, nil)
			where[r] = len(out)
		}
		out[where[r]-1] = append(out[where[r]-1], i)
	}
	return out
}

// What is positive definite with these, one a share of the diagonal and one
// added to it, is so but for rounding and for curvature that no one would
// notice a unit away.
const (
	slightRidge     = 1e-5
	slightCurvature = 1e-6
)
