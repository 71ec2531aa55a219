package cjs

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"example.org/unseen/likelihood"
)

// edge is what lies near 0 or 1 at some coefficients, and what must stay where
// it is when that goes there: the question whether the coefficients can go to
// infinity in some direction without moving anything else.
type edge struct {
	search *search
	near   []edgeRow
	// keep is the sum of rrᵀ over the predictors r that must not move, each of
	// length one, Columns × Columns.
	keep []float64
}

// edgeRow is the predictor of one slot for one fish, near a bound.
type edgeRow struct {
	class, slot int
	z           []float64
	out         float64 // +1 or −1: where the predictor goes
}

// predictor is row r by coefficients.
func (s *search) predictor(class, slot int, z []float64) []float64 {
	row := make([]float64, s.design.Columns)
	s.design.AddGradient(row, 1, class, slot, z)
	return row
}

// mostNear: of the fish of one slot near one bound no more than this are kept
// one by one, those with the most extreme numbers first; the direction found is
// held to all of them.
const mostNear = 64

// edgeAt looks for predictors whose probability is within tol of 0 or 1 at x,
// among those the data have to do with.
func (s *search) edgeAt(x []float64, tol float64) *edge {
	n := s.design.Columns
	e := &edge{search: s, keep: make([]float64, n*n)}
	for g := range s.design.Slots {
		for a := range s.design.Slots[g] {
			if s.design.Links[g][a].Kind == likelihood.Fixed || len(s.design.Slots[g][a]) == 0 || !s.concerns(g, a) {
				continue
			}
			e.slot(x, g, a, tol)
		}
	}
	return e
}

func (e *edge) slot(x []float64, g, a int, tol float64) {
	s := e.search
	low, high := s.predictors(x, g, a)
	link := s.design.Links[g][a]
	if !link.Bounded() || outward(link, low, tol) == 0 && outward(link, high, tol) == 0 {
		// Nothing of it may move, for no number of the fish, if any is there.
		if !s.anyFish(x, g, a) {
			return
		}
		for k := range s.design.Numbers {
			z := make([]float64, s.design.Numbers)
			z[k] = 1
			e.stay(s.predictor(g, a, z))
		}
		return
	}
	if !s.design.Varies(g, a) {
		if s.anyFish(x, g, a) {
			e.near = append(e.near, edgeRow{g, a, constant(s.design.Numbers), outward(link, low, tol)})
		}
		return
	}
	// Fish by fish: the extreme ones near each bound, and those that stay.
	far := map[float64][]edgeRow{}
	s.eachFish(x, g, a, func(z []float64) bool {
		if s.design.AtLimit(g, a, z) != 0 {
			return true
		}
		out := outward(link, s.design.Predictor(x, g, a, z), tol)
		if out == 0 {
			e.stay(s.predictor(g, a, z))
			return true
		}
		far[out] = append(far[out], edgeRow{g, a, append([]float64(nil), z...), out})
		return true
	})
	for _, out := range []float64{-1, 1} {
		e.near = append(e.near, extremes(far[out])...)
	}
}

// outward is the direction in which a predictor whose probability is within tol
// of 0 or 1 goes there; 0 where it is not near.
func outward(link likelihood.Link, eta, tol float64) float64 {
	p := link.At(eta)
	if p.P >= tol && p.Q >= tol {
		return 0
	}
	if eta > 0 || link.Kind == likelihood.Rate && p.P < tol {
		return 1
	}
	return -1
}

func constant(numbers int) []float64 {
	z := make([]float64, numbers)
	z[0] = 1
	return z
}

// extremes are, of many rows, those with the lowest and highest value of each
// number, and others evenly until there are mostNear.
func extremes(rows []edgeRow) []edgeRow {
	if len(rows) <= mostNear {
		return rows
	}
	keep := map[int]bool{}
	for n := 1; n < len(rows[0].z); n++ {
		low, high := 0, 0
		for i := range rows {
			if rows[i].z[n] < rows[low].z[n] {
				low = i
			}
			if rows[i].z[n] > rows[high].z[n] {
				high = i
			}
		}
		keep[low], keep[high] = true, true
	}
	for i := 0; i < mostNear; i++ {
		keep[i*len(rows)/mostNear] = true
	}
	var out []edgeRow
	for i := range rows {
		if keep[i] {
			out = append(out, rows[i])
		}
	}
	return out
}

// stay adds a predictor that must not move.
func (e *edge) stay(row []float64) {
	size := math.Sqrt(dot(row, row))
	if size == 0 {
		return
	}
	n := len(row)
	for i, v := range row {
		if v == 0 {
			continue
		}
		for j, w := range row {
			e.keep[i*n+j] += v * w / (size * size)
		}
	}
}

// direction is one in which all that can go to its bound does and nothing else
// moves, with the rows that go; nil where nothing can. Rows that contradict
// each other stay: they are near a bound, and no more.
func (e *edge) direction() (d []float64, rows []edgeRow) {
	near := e.near
	for len(near) > 0 {
		basis := nullSpace(e.keep, e.search.design.Columns)
		if len(basis) == 0 {
			return nil, nil
		}
		projected := make([][]float64, len(near))
		for i, r := range near {
			row := e.search.predictor(r.class, r.slot, r.z)
			projected[i] = make([]float64, len(basis))
			for k, b := range basis {
				projected[i][k] = r.out * dot(row, b)
			}
		}
		y, against := openDirection(projected)
		if y != nil {
			d = make([]float64, e.search.design.Columns)
			for k, b := range basis {
				for j, v := range b {
					d[j] += y[k] * v
				}
			}
			e.near = near
			return tidy(d), near
		}
		if len(against) == 0 {
			return nil, nil
		}
		out := map[int]bool{}
		for _, i := range against {
			out[i] = true
			r := near[i]
			e.stay(e.search.predictor(r.class, r.slot, r.z))
		}
		var rest []edgeRow
		for i, r := range near {
			if !out[i] {
				rest = append(rest, r)
			}
		}
		near = rest
	}
	return nil, nil
}

// settles tells whether all directions in which the rows of the last direction
// found can go move a further predictor to the same side.
func (e *edge) settles(r edgeRow) bool {
	basis := nullSpace(e.keep, e.search.design.Columns)
	projected := make([][]float64, 0, len(e.near)+1)
	for _, one := range append(slices.Clip(e.near), edgeRow{r.class, r.slot, r.z, -r.out}) {
		row := e.search.predictor(one.class, one.slot, one.z)
		p := make([]float64, len(basis))
		for k, b := range basis {
			p[k] = one.out * dot(row, b)
		}
		projected = append(projected, p)
	}
	y, _ := openDirection(projected)
	return y == nil
}

// tidy makes what rounding left of zero zero.
func tidy(d []float64) []float64 {
	var most float64
	for _, v := range d {
		most = max(most, math.Abs(v))
	}
	for i, v := range d {
		if math.Abs(v) < 1e-10*most {
			d[i] = 0
		}
	}
	return d
}

// nullSpace are orthonormal directions in which the positive semidefinite n × n
// matrix a is zero.
func nullSpace(a []float64, n int) [][]float64 {
	if n == 0 {
		return nil
	}
	sym := mat.NewSymDense(n, append([]float64(nil), a...))
	var eigen mat.EigenSym
	if !eigen.Factorize(sym, true) {
		return nil
	}
	values := eigen.Values(nil)
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	var out [][]float64
	for k, v := range values {
		if v < 1e-11*max(1, values[n-1]) {
			out = append(out, mat.Col(nil, k, &vectors))
		}
	}
	return out
}
