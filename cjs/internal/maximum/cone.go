package maximum

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// openDirection is a y with rows·y > 0 for every row, the one that leaves the
// widest margin for rows of length one, scaled so that the least of rows·y is
// 1. Where there is none, against are rows that contradict each other: a sum of
// them with positive weights is zero. It is the least-distance problem of
// Lawson & Hanson (1974, chapter 23): min ‖y‖ with rows·y ≥ 1.
func openDirection(rows [][]float64) (y []float64, against []int) {
	if len(rows) == 0 {
		return nil, nil
	}
	m := len(rows[0])
	e := mat.NewDense(m+1, len(rows), nil)
	for j, r := range rows {
		size := math.Sqrt(Dot(r, r))
		if !(size > 1e-9) {
			against = append(against, j)
			continue
		}
		for i, v := range r {
			e.Set(i, j, v/size)
		}
		e.Set(m, j, 1)
	}
	if against != nil {
		return nil, against
	}
	f := make([]float64, m+1)
	f[m] = 1
	u := leastSquaresPositive(e, f)
	var rest mat.VecDense
	rest.MulVec(e, mat.NewVecDense(len(u), u))
	rest.SubVec(&rest, mat.NewVecDense(m+1, f))
	contradict := func() []int {
		var out []int
		for j, v := range u {
			if v > 1e-9 {
				out = append(out, j)
			}
		}
		return out
	}
	if rest.Norm(2) < 1e-8 {
		return nil, contradict()
	}
	y = make([]float64, m)
	for i := range y {
		y[i] = -rest.AtVec(i) / rest.AtVec(m)
	}
	least := math.Inf(1)
	for _, r := range rows {
		least = min(least, Dot(r, y))
	}
	if !(least > 0) {
		return nil, contradict()
	}
	for i := range y {
		y[i] /= least
	}
	return y, nil
}

func Dot(a, b []float64) float64 {
	var sum float64
	for i, v := range a {
		sum += v * b[i]
	}
	return sum
}

// leastSquaresPositive is the u ≥ 0 that minimises ‖E u − f‖ (Lawson & Hanson
// 1974, algorithm NNLS).
func leastSquaresPositive(e *mat.Dense, f []float64) []float64 {
	rows, cols := e.Dims()
	u := make([]float64, cols)
	in := make([]bool, cols)
	rest := mat.NewVecDense(rows, nil)
	var w mat.VecDense
	// Each round takes in a column; it ends long before this.
	for range 3 * (rows + cols) {
		rest.MulVec(e, mat.NewVecDense(cols, u))
		rest.SubVec(mat.NewVecDense(rows, f), rest)
		w.MulVec(e.T(), rest)
		best := -1
		for j := range cols {
			if !in[j] && w.AtVec(j) > 1e-10 && (best < 0 || w.AtVec(j) > w.AtVec(best)) {
				best = j
			}
		}
		if best < 0 {
			break
		}
		in[best] = true
		for {
			s, ok := passive(e, f, in)
			if !ok {
				in[best] = false
				return u
			}
			step := 1.0
			for j := range cols {
				if in[j] && s[j] <= 0 {
					step = min(step, u[j]/(u[j]-s[j]))
				}
			}
			for j := range cols {
				u[j] += step * (s[j] - u[j])
				if in[j] && u[j] <= 1e-14 {
					in[j], u[j] = false, 0
				}
			}
			if step == 1 {
				break
			}
		}
	}
	return u
}

// passive solves the least squares of the columns that are in; the others are 0.
func passive(e *mat.Dense, f []float64, in []bool) ([]float64, bool) {
	rows, cols := e.Dims()
	var index []int
	for j := range cols {
		if in[j] {
			index = append(index, j)
		}
	}
	if len(index) > rows {
		return nil, false
	}
	sub := mat.NewDense(rows, len(index), nil)
	for k, j := range index {
		for i := range rows {
			sub.Set(i, k, e.At(i, j))
		}
	}
	var x mat.Dense
	if err := x.Solve(sub, mat.NewDense(rows, 1, append([]float64(nil), f...))); err != nil {
		return nil, false
	}
	s := make([]float64, cols)
	for k, j := range index {
		s[j] = x.At(k, 0)
	}
	return s, true
}
