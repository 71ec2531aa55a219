package assess

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/cjs"
)

// test fills in the outcome. Columns are pooled from the last leftwards until
// each line expects at least 2; left-overs join the earliest pool. Where that
// leaves no two columns, of more than two lines the smallest joins the smaller
// of its neighbours and pooling starts anew; a table of two lines is taken as
// 2 × 2, its first column that is not empty against the rest, and enters by
// its exact probability, if its margins allow one below 0.05.
func (t *Table) test() {
	t.P, t.SmallestP = math.NaN(), math.NaN()
	lines, counts := identity(len(t.Counts)), t.Counts
	for {
		perLine, perColumn, total := margins(counts)
		if zeros(perLine)+1 >= len(perLine) || zeros(perColumn)+1 >= len(perColumn) {
			t.Why = "nothing to compare: all fish are in one line or one column"
			return
		}
		if pools, n := pool(perLine, perColumn, total); n > 1 {
			t.Pooled = pools
			counts = gather(counts, pools, n)
			perLine, perColumn, total = margins(counts)
			t.Method = ChiSquare
			t.DF = (len(counts) - 1) * (n - 1)
			if t.sets == nil {
				t.Statistic = pearson(counts, perLine, perColumn, total)
			} else if !t.mantel(pools, n) {
				_, perColumn, _ = margins(t.Counts)
				t.exact(t.Counts, perColumn)
				break
			}
			t.P = upperTail(t.Statistic, t.DF)
			t.ByChance = Level
			t.Counted = true
			break
		}
		if len(counts) == 2 {
			t.exact(counts, perColumn)
			break
		}
		counts, lines = joinSmallest(counts, perLine, lines)
	}
	if len(counts) < len(t.Counts) {
		t.PooledLines = lines
	}
}

// exact tests a table of two lines as 2 × 2.
func (t *Table) exact(counts [][]int, perColumn []int) {
	first := 0
	for perColumn[first] == 0 {
		first++
	}
	t.Pooled = make([]int, len(perColumn))
	for c := first + 1; c < len(perColumn); c++ {
		t.Pooled[c] = 1
	}
	two := gather(counts, t.Pooled, 2)
	a, b, c, d := two[0][0], two[0][1], two[1][0], two[1][1]
	t.Method, t.DF = Exact, 1
	if t.sets != nil {
		t.exactInSets()
		return
	}
	t.P = cjs.FisherExact(a, b, c, d)
	z := distuv.UnitNormal.Quantile(t.P / 2)
	t.Statistic = z * z
	// Of all tables with these margins the least probable is at an end.
	line, column, n := a+b, a+c, a+b+c+d
	low, high := max(0, line+column-n), min(line, column)
	t.SmallestP = 1
	for x := low; x <= high; x++ {
		p := cjs.FisherExact(x, line-x, column-x, n-line-column+x)
		t.SmallestP = min(t.SmallestP, p)
		if below(p) {
			// p of the most probable of these tables sums over all of them.
			t.ByChance = max(t.ByChance, p)
		}
	}
	if t.Counted = t.SmallestP <= Level*(1+rounding); !t.Counted {
		t.Why = "too few fish: no outcome could have a probability below 0.05"
	}
}

// Tables of two lines in sets: within each set the lines are alike under the
// model, given the set's margins, whatever differs between sets.

// mantel tests such a table, its columns in n pools, by the sum over sets of
// observed less expected in its first line, with the covariance of the
// hypergeometric distribution (Mantel & Haenszel 1959, Journal of the National
// Cancer Institute 22:719–748; for several columns Birch 1965, Journal of the Royal
// Statistical Society B 27:111–124). false: the sets tell too little for that.
func (t *Table) mantel(pools []int, n int) bool {
	off, cov := make([]float64, n), mat.NewSymDense(n-1, nil)
	t.Expected = make([]float64, n)
	for _, set := range t.sets {
		perLine, perColumn, total := margins(gather(set, pools, n))
		observed := gather(set, pools, n)[0]
		size := float64(total)
		share := float64(perLine[0]) / size
		for c := range n {
			e := share * float64(perColumn[c])
			t.Expected[c] += e
			off[c] += float64(observed[c]) - e
		}
		if total < 2 {
			continue
		}
		scale := share * (1 - share) / (size - 1)
		for c := range n - 1 {
			for d := c; d < n-1; d++ {
				v := -float64(perColumn[c]) * float64(perColumn[d])
				if c == d {
					v += size * float64(perColumn[c])
				}
				cov.SetSym(c, d, cov.At(c, d)+scale*v)
			}
		}
	}
	for c := range n - 1 {
		// So few fish make too few different outcomes.
		if cov.At(c, c) < 1 {
			return false
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(cov) || chol.Cond() > 1e8 {
		return false
	}
	var x mat.VecDense
	d := mat.NewVecDense(n-1, off[:n-1])
	if err := chol.SolveVecTo(&x, d); err != nil {
		return false
	}
	t.Statistic = mat.Dot(d, &x)
	return true
}

// exactInSets tests such a table as 2 × 2 (by Pooled) given the margins of every
// set: the number in its first cell is a sum of hypergeometric ones.
func (t *Table) exactInSets() {
	prob, first, observed := []float64{1}, 0, 0
	t.Expected = []float64{0, 0}
	for _, set := range t.sets {
		two := gather(set, t.Pooled, 2)
		line, column := two[0][0]+two[0][1], two[0][0]+two[1][0]
		n := line + two[1][0] + two[1][1]
		low, high := max(0, line+column-n), min(line, column)
		one := make([]float64, high-low+1)
		for x := range one {
			one[x] = math.Exp(logChoose(column, low+x) + logChoose(n-column, line-low-x) - logChoose(n, line))
		}
		next := make([]float64, len(prob)+len(one)-1)
		for i, p := range prob {
			for x, q := range one {
				next[i+x] += p * q
			}
		}
		prob, first, observed = next, first+low, observed+two[0][0]
		e := float64(line) * float64(column) / float64(n)
		t.Expected[0] += e
		t.Expected[1] += float64(line) - e
	}
	// As Fisher's: the sum over all no more probable than the one observed.
	p := func(at int) (sum float64) {
		for _, q := range prob {
			if q <= prob[at]*(1+1e-7) {
				sum += q
			}
		}
		return min(1, sum)
	}
	t.P, t.SmallestP = p(observed-first), 1
	for x := range prob {
		v := p(x)
		t.SmallestP = min(t.SmallestP, v)
		if below(v) {
			t.ByChance = max(t.ByChance, v)
		}
	}
	z := distuv.UnitNormal.Quantile(t.P / 2)
	t.Statistic = z * z
	if t.Counted = t.SmallestP <= Level*(1+rounding); !t.Counted {
		t.Why = "too few fish of like times: no outcome could have a probability below 0.05"
	}
}

func logChoose(n, k int) float64 {
	a, _ := math.Lgamma(float64(n + 1))
	b, _ := math.Lgamma(float64(k + 1))
	c, _ := math.Lgamma(float64(n - k + 1))
	return a - b - c
}
