package linear

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
)

// Arrow is where a symmetric matrix may differ from zero: within blocks of
// indices, and in a border that has to do with all of them. With the border last
// the matrix has the shape of an arrow, and its Cholesky factor is zero where it
// is (George & Liu 1981, Computer Solution of Large Sparse Positive Definite
// Systems, chapter 6).
type Arrow struct {
	n      int
	blocks [][]int
	border []int
	order  []int // all, the border last
	// Runs are the elements that may differ from zero, as row · n + column: from and
	// to of each stretch, none longer than a row.
	Runs [][2]int
}

// worthwhile: an arrow is kept where a solution by it takes less than this share
// of what one by the whole matrix does.
const worthwhile = 0.25

// NewArrow is the arrow of an n × n matrix that is zero but on its diagonal and
// between indices of one of the sets; nil where it would save little, and where
// an index is outside the matrix. The border are the indices that more sets have
// than others do.
func NewArrow(sets [][]int, n int) *Arrow {
	if n < 0 || n > 1<<20 {
		return nil
	}
	often := make([]int, n)
	for _, set := range sets {
		for _, i := range set {
			if i < 0 || i >= n {
				return nil
			}
			often[i]++
		}
	}
	var best *Arrow
	least := worthwhile * math.Pow(float64(n), 3)
	for _, most := range slices.Compact(slices.Sorted(slices.Values(often))) {
		o := &Arrow{n: n}
		for i, count := range often {
			if count > most {
				o.border = append(o.border, i)
			}
		}
		o.blocks = joined(sets, n, func(i int) bool { return often[i] <= most })
		if c := o.cost(); c < least {
			best, least = o, c
		}
	}
	if best != nil {
		best.place()
	}
	return best
}

// joined are the indices that are in, those of one set together.
func joined(sets [][]int, n int, in func(i int) bool) [][]int {
	u := newUnion(n)
	for _, set := range sets {
		first := -1
		for _, i := range set {
			if !in(i) {
				continue
			}
			if first < 0 {
				first = i
			}
			u.join(first, i)
		}
	}
	return u.sets(in)
}

// cost is about how many multiplications a factor takes.
func (o *Arrow) cost() float64 {
	b := float64(len(o.border))
	sum := b * b * b
	for _, index := range o.blocks {
		m := float64(len(index))
		sum += m * (m + b) * (m + b)
	}
	return sum
}

func (o *Arrow) place() {
	for _, index := range o.blocks {
		columns := slices.Sorted(slices.Values(slices.Concat(index, o.border)))
		for _, i := range index {
			for k, j := range columns {
				if k > 0 && columns[k-1] == j-1 {
					o.Runs[len(o.Runs)-1][1]++
				} else {
					o.Runs = append(o.Runs, [2]int{i*o.n + j, i*o.n + j + 1})
				}
			}
		}
	}
	for _, i := range o.border {
		o.Runs = append(o.Runs, [2]int{i * o.n, (i + 1) * o.n})
	}
	slices.SortFunc(o.Runs, func(a, b [2]int) int { return a[0] - b[0] })
	o.order = slices.Concat(append(slices.Clip(o.blocks), o.border)...)
}

// Within tells whether vvᵀ is zero outside the arrow.
func (o *Arrow) Within(v []float64) bool {
	if len(v) != o.n {
		return false
	}
	nonzero := func(i int) bool { return v[i] != 0 }
	return len(slices.DeleteFunc(slices.Clone(o.blocks), func(index []int) bool { return !slices.ContainsFunc(index, nonzero) })) <= 1
}

// SolveRidge2 is [SolveRidge2] for an n × n matrix of which only what lies in
// the arrow is read.
func (o *Arrow) SolveRidge2(a, b, c []float64, ridge float64, x, y []float64) (used float64, definite bool) {
	n := o.n
	if !sizes(a, b, c, n, x, y) {
		return math.Inf(1), false
	}
	index := o.order
	scale := make([]float64, n)
	right := blas64.General{Rows: len(index), Cols: 1, Stride: 1, Data: make([]float64, len(index), 2*len(index))}
	if c != nil {
		right = blas64.General{Rows: len(index), Cols: 2, Stride: 2, Data: right.Data[:2*len(index)]}
	}
	for k, i := range index {
		if v := math.Abs(a[i*n+i]); v > 0 {
			scale[i] = 1 / math.Sqrt(v)
		}
		right.Data[k*right.Cols] = b[i] * scale[i]
		if c != nil {
			right.Data[k*2+1] = c[i] * scale[i]
		}
	}
	f := o.newFactor()
	// Where the matrix is not positive definite, first the unknowns whose own
	// diagonal is negative are parted from the others and taken as positive;
	// if that is not enough, the ridge is raised for all.
	definite = true
	for parted := false; ; {
		f.fill(a, scale, func(i int, v float64) float64 {
			if scale[i] == 0 || parted && v < 0 {
				return 1
			}
			return v + ridge
		})
		if parted {
			f.part(func(i int) bool { return a[i*n+i] < 0 })
		}
		if f.cholesky() {
			f.solve(right)
			break
		}
		if !parted {
			parted = true
			f.fill(a, nil, func(_ int, v float64) float64 { return v + (slightRidge*math.Abs(v) + slightCurvature) })
			definite = f.cholesky()
			continue
		}
		ridge = max(10*ridge, 1e-12)
		if ridge > 1e12 || math.IsNaN(ridge) {
			return math.Inf(1), false
		}
	}
	for k, i := range index {
		x[i] = right.Data[k*right.Cols] * scale[i]
		if c != nil {
			y[i] = right.Data[k*2+1] * scale[i]
		}
	}
	return ridge, definite
}

// factor is a matrix in the places of an arrow, and then its Cholesky factor.
type factor struct {
	*Arrow
	blocks  []blas64.Symmetric
	factors []blas64.Triangular
	sides   []blas64.General // block × border
	corner  blas64.Symmetric
	last    blas64.Triangular
}

func (o *Arrow) newFactor() *factor {
	b := len(o.border)
	size := b * b
	for _, index := range o.blocks {
		size += len(index) * (len(index) + b)
	}
	room := make([]float64, size)
	take := func(count int) []float64 {
		out := room[:count:count]
		room = room[count:]
		return out
	}
	f := &factor{Arrow: o, blocks: make([]blas64.Symmetric, len(o.blocks)), factors: make([]blas64.Triangular, len(o.blocks)), sides: make([]blas64.General, len(o.blocks))}
	symmetric := func(m int) blas64.Symmetric {
		return blas64.Symmetric{N: m, Stride: max(1, m), Uplo: blas.Upper, Data: take(m * m)}
	}
	for k, index := range o.blocks {
		m := len(index)
		f.blocks[k] = symmetric(m)
		f.sides[k] = blas64.General{Rows: m, Cols: b, Stride: max(1, b), Data: take(m * b)}
	}
	f.corner = symmetric(b)
	return f
}

// fill sets the matrix to a, the rows and columns times scale (nil: 1), with its
// diagonal as on makes it.
func (f *factor) fill(a, scale []float64, on func(i int, v float64) float64) {
	row := func(i int, columns []int, to []float64) {
		from := a[i*f.n : (i+1)*f.n]
		if scale == nil {
			for l, j := range columns {
				to[l] = from[j]
			}
			return
		}
		s := scale[i]
		for l, j := range columns {
			to[l] = from[j] * s * scale[j]
		}
	}
	upper := func(index []int, to blas64.Symmetric) {
		for k, i := range index {
			r := to.Data[k*to.N+k : (k+1)*to.N]
			row(i, index[k:], r)
			r[0] = on(i, r[0])
		}
	}
	for k, index := range f.Arrow.blocks {
		upper(index, f.blocks[k])
		if b := len(f.border); b > 0 {
			for x, i := range index {
				row(i, f.border, f.sides[k].Data[x*b:(x+1)*b])
			}
		}
	}
	upper(f.border, f.corner)
}

// part makes zero what ties an index of which down is true to others.
func (f *factor) part(down func(i int) bool) {
	part := func(rows, columns []int, stride int, to []float64) {
		for k, i := range rows {
			for l, j := range columns {
				if i != j && (down(i) || down(j)) {
					to[k*stride+l] = 0
				}
			}
		}
	}
	for k, index := range f.Arrow.blocks {
		part(index, index, len(index), f.blocks[k].Data)
		part(index, f.border, len(f.border), f.sides[k].Data)
	}
	part(f.border, f.border, len(f.border), f.corner.Data)
}

// cholesky factorises the matrix; false: it is not positive definite.
func (f *factor) cholesky() (ok bool) {
	for k, side := range f.sides {
		if f.factors[k], ok = lapack64.Potrf(f.blocks[k]); !ok {
			return false
		}
		if len(f.border) > 0 {
			blas64.Trsm(blas.Left, blas.Trans, 1, f.factors[k], side)
			blas64.Syrk(blas.Trans, -1, side, 1, f.corner)
		}
	}
	if len(f.border) > 0 {
		f.last, ok = lapack64.Potrf(f.corner)
	}
	return ok
}

// solve sets right, whose rows are those of the blocks and then of the border, to
// the solution.
func (f *factor) solve(right blas64.General) {
	rows := func(from, count int) blas64.General {
		return blas64.General{Rows: count, Cols: right.Cols, Stride: right.Stride, Data: right.Data[from*right.Stride:]}
	}
	b := len(f.border)
	end := rows(right.Rows-b, b)
	at := 0
	for k, side := range f.sides {
		r := rows(at, side.Rows)
		at += side.Rows
		blas64.Trsm(blas.Left, blas.Trans, 1, f.factors[k], r)
		if b > 0 {
			blas64.Gemm(blas.Trans, blas.NoTrans, -1, side, r, 1, end)
		}
	}
	if b > 0 {
		lapack64.Potrs(f.last, end)
	}
	for k, side := range slices.Backward(f.sides) {
		at -= side.Rows
		r := rows(at, side.Rows)
		if b > 0 {
			blas64.Gemm(blas.NoTrans, blas.NoTrans, -1, side, end, 1, r)
		}
		blas64.Trsm(blas.Left, blas.NoTrans, 1, f.factors[k], r)
	}
}

// SolveRidge solves (A + ridge·diag A) x = b for a symmetric positive
// semidefinite A, raising the ridge until that is possible; where the diagonal
// is zero x is 0. It reports the largest ridge used, +Inf where none helped.
func SolveRidge(a, b []float64, n int, ridge float64, x []float64) float64 {
	used, _ := SolveRidge2(a, b, nil, n, ridge, x, nil)
	return used
}

// sizes tells whether a is n × n and the others have n values.
func sizes(a, b, c []float64, n int, x, y []float64) bool {
	return square(a, n) && len(b) == n && len(x) == n && (c == nil || len(c) == n && len(y) == n)
}

// SolveRidge2 is [SolveRidge] for two right sides at once; c and y may be nil.
// definite tells whether A is positive semidefinite, but for rounding. Where the
// sizes do not match nothing is solved.
func SolveRidge2(a, b, c []float64, n int, ridge float64, x, y []float64) (used float64, definite bool) {
	if !sizes(a, b, c, n, x, y) {
		return math.Inf(1), false
	}
	used, definite = ridge, true
	for _, index := range Blocks(a, n) {
		r, d := (&Arrow{n: n, blocks: [][]int{index}, order: index}).SolveRidge2(a, b, c, ridge, x, y)
		used, definite = max(used, r), definite && d
	}
	return used, definite
}
