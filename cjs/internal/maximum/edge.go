package maximum

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"example.org/unseen/likelihood"
	"example.org/unseen/likelihood/linear"
)

// slope is how a predictor changes with the coefficients: with each of some columns,
// in ascending order, by so much.
type slope struct {
	columns []int
	by      []float64
}

// slope is that of the predictor of a slot for a fish of a class with numbers z.
func (s *Search) slope(class, slot int, z []float64) (row slope) {
	for _, e := range s.Design.Slots[class][slot] {
		k, found := slices.BinarySearch(row.columns, e.Column)
		if !found {
			row.columns, row.by = slices.Insert(row.columns, k, e.Column), slices.Insert(row.by, k, 0)
		}
		row.by[k] += e.Value * z[e.Number]
	}
	return row
}

// along is how the predictor changes as the coefficients go in direction d.
func (row slope) along(d []float64) (sum float64) {
	for k, j := range row.columns {
		sum += row.by[k] * d[j]
	}
	return sum
}

// mostNear: of the fish of one slot near one bound no more than this are kept
// one by one, those with the most extreme numbers first; the direction found is
// held to all of them.
const mostNear = 64

// EdgeAt looks for predictors whose probability is within tol of 0 or 1 at x,
// among those the data have to do with.
func (s *Search) EdgeAt(x []float64, tol float64) *Edge { return s.EdgeOf(x, tol, nil) }

// EdgeOf is [Search.EdgeAt] of what goes there.
func (s *Search) EdgeOf(x []float64, tol float64, goes func(Row) bool) *Edge {
	n := s.Design.Columns
	e := &Edge{search: s, goes: goes, keep: make([]float64, n*n)}
	for g := range s.Design.Slots {
		for a := range s.Design.Slots[g] {
			if s.Design.Links[g][a].Kind == likelihood.Fixed || len(s.Design.Slots[g][a]) == 0 || !s.concerns(g, a) {
				continue
			}
			e.slot(x, g, a, tol)
		}
	}
	return e
}

func (e *Edge) slot(x []float64, g, a int, tol float64) {
	s := e.search
	low, high := s.predictors(x, g, a)
	link := s.Design.Links[g][a]
	if !link.Bounded() || outward(link, low, tol) == 0 && outward(link, high, tol) == 0 {
		// Nothing of it may move, for no number of the fish, if any is there.
		if !s.anyFish(x, g, a) {
			return
		}
		for k := range s.Design.Numbers {
			z := make([]float64, s.Design.Numbers)
			z[k] = 1
			e.stay(s.slope(g, a, z))
		}
		return
	}
	if !s.Design.Varies(g, a) {
		if s.anyFish(x, g, a) {
			e.sort(Row{g, a, Constant(s.Design.Numbers), outward(link, low, tol)}, func(r Row) { e.near = append(e.near, r) })
		}
		return
	}
	// Fish by fish: the extreme ones near each bound, and those that stay.
	far := map[float64][]Row{}
	s.eachFish(x, g, a, func(z []float64) bool {
		if s.Design.AtLimit(g, a, z) != 0 {
			return true
		}
		out := outward(link, s.Design.Predictor(x, g, a, z), tol)
		e.sort(Row{g, a, z, out}, func(r Row) {
			r.Z = slices.Clone(z)
			far[out] = append(far[out], r)
		})
		return true
	})
	for _, out := range []float64{-1, 1} {
		e.near = append(e.near, extremes(far[out])...)
	}
}

// sort hands a row that may go to its bound to goes; any other has to stay.
func (e *Edge) sort(r Row, goes func(Row)) {
	if r.Out == 0 || e.goes != nil && !e.goes(r) {
		e.stay(e.search.slope(r.Class, r.Slot, r.Z))
		return
	}
	goes(r)
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

// extremes are, of many rows, those with the lowest and highest value of each
// number, and others evenly until there are mostNear.
func extremes(rows []Row) []Row {
	if len(rows) <= mostNear {
		return rows
	}
	keep := map[int]bool{}
	for n := 1; n < len(rows[0].Z); n++ {
		low, high := 0, 0
		for i := range rows {
			if rows[i].Z[n] < rows[low].Z[n] {
				low = i
			}
			if rows[i].Z[n] > rows[high].Z[n] {
				high = i
			}
		}
		keep[low], keep[high] = true, true
	}
	for i := 0; i < mostNear; i++ {
		keep[i*len(rows)/mostNear] = true
	}
	var out []Row
	for i := range rows {
		if keep[i] {
			out = append(out, rows[i])
		}
	}
	return out
}

// stay adds a predictor that must not move.
func (e *Edge) stay(row slope) {
	size := math.Sqrt(Dot(row.by, row.by))
	if size == 0 {
		return
	}
	n := e.search.Design.Columns
	for k, i := range row.columns {
		for l, j := range row.columns {
			e.keep[i*n+j] += row.by[k] * row.by[l] / (size * size)
		}
	}
}

// Direction is one in which all that can go to its bound does and nothing else
// moves, with the rows that go; nil where nothing can. Rows that contradict
// each other stay: they are near a bound, and no more.
func (e *Edge) Direction() (d []float64, rows []Row) {
	near := e.near
	for len(near) > 0 {
		basis := nullSpace(e.keep, e.search.Design.Columns)
		if len(basis) == 0 {
			return nil, nil
		}
		projected := make([][]float64, len(near))
		for i, r := range near {
			row := e.search.slope(r.Class, r.Slot, r.Z)
			projected[i] = make([]float64, len(basis))
			for k, b := range basis {
				projected[i][k] = r.Out * row.along(b)
			}
		}
		y, against := openDirection(projected)
		if y != nil {
			d = make([]float64, e.search.Design.Columns)
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
			e.stay(e.search.slope(r.Class, r.Slot, r.Z))
		}
		var rest []Row
		for i, r := range near {
			if !out[i] {
				rest = append(rest, r)
			}
		}
		near = rest
	}
	return nil, nil
}

// Settles tells whether all directions in which the rows of the last direction
// found can go move a further predictor to the same side.
func (e *Edge) Settles(r Row) bool {
	basis := nullSpace(e.keep, e.search.Design.Columns)
	projected := make([][]float64, 0, len(e.near)+1)
	for _, one := range append(slices.Clip(e.near), Row{r.Class, r.Slot, r.Z, -r.Out}) {
		row := e.search.slope(one.Class, one.Slot, one.Z)
		p := make([]float64, len(basis))
		for k, b := range basis {
			p[k] = one.Out * row.along(b)
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
	type part struct {
		index  []int
		values []float64
		vector mat.Dense
	}
	var parts []part
	top := 1.0
	for _, index := range linear.Blocks(a, n) {
		m := len(index)
		sym := mat.NewSymDense(m, nil)
		for x, i := range index {
			for y := x; y < m; y++ {
				sym.SetSym(x, y, a[i*n+index[y]])
			}
		}
		var eigen mat.EigenSym
		if !eigen.Factorize(sym, true) {
			return nil
		}
		p := part{index: index, values: eigen.Values(nil)}
		eigen.VectorsTo(&p.vector)
		top = max(top, p.values[m-1])
		parts = append(parts, p)
	}
	var out [][]float64
	for i := range parts {
		p := &parts[i]
		for k, v := range p.values {
			if v >= 1e-11*top {
				continue
			}
			d := make([]float64, n)
			for x, j := range p.index {
				d[j] = p.vector.At(x, k)
			}
			out = append(out, d)
		}
	}
	return out
}
