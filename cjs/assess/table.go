package assess

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/cjs"
)

// How a table was tested.
const (
	ChiSquare = "chi-square"
	Exact     = "exact"
)

// Table is one contingency table: fish split by their past in lines, by their
// future in columns.
type Table struct {
	Check string         // ID
	Of    []cjs.Category // empty: all fish
	class int
	// Site is the site the fish are split at.
	Site int
	// Row is the upper of two neighbouring rows of a divided site, −1 else.
	Row int
	// Often: fish detected that often between release and Site, or oftener,
	// stand in the first line; 0 but for the checks of earlier history.
	Often int
	// Past names, in a table of likeness, what the lines differ in: "cohort",
	// "cohort and sex".
	Past  string
	Lines []string
	// Columns label Counts; one a column of it.
	Columns []string
	Counts  [][]int
	// Allowance says how the table allows for rows that did not work all the
	// time: [LikeTimes], [AtWork], or "" where it need not. Within sets of like
	// times the statistic is that of Mantel & Haenszel; Counts are of all sets.
	Allowance string
	// Expected are, in a table of like times, the fish of the first line expected
	// in each pooled column.
	Expected []float64
	sets     [][][]int
	// Pooled[c] is the pooled column that column c is tested in; nil where
	// nothing was tested. PooledLines likewise, nil where lines stand alone.
	Pooled, PooledLines []int
	Method              string // "" where a margin is zero
	// Statistic is chi-square, for an exact test the quantile of chi-square
	// on 1 degree of freedom that belongs to P.
	Statistic float64
	DF        int
	P         float64 // NaN where nothing was tested
	// SmallestP is the least P its margins allow; NaN but for exact tests.
	SmallestP float64
	// ByChance is the probability that P < 0.05 under the model.
	ByChance float64
	// Counted: the table adds to statistic and degrees of freedom.
	Counted bool
	// Why says why it does not, or "".
	Why string
}

// leastExpected: columns are pooled until every line expects as many fish as
// this (our rule; 2 is far below the old 5, see docs/checks.md for the size
// this gives).
const leastExpected = 2

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

func identity(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

func margins(counts [][]int) (perLine, perColumn []int, total int) {
	perLine, perColumn = make([]int, len(counts)), make([]int, len(counts[0]))
	for l, line := range counts {
		for c, n := range line {
			perLine[l] += n
			perColumn[c] += n
			total += n
		}
	}
	return perLine, perColumn, total
}

func zeros(v []int) int {
	n := 0
	for _, x := range v {
		if x == 0 {
			n++
		}
	}
	return n
}

// pool gives each column its pool, counted from the left, and their number.
func pool(perLine, perColumn []int, total int) (pools []int, n int) {
	least := perLine[0]
	for _, x := range perLine {
		least = min(least, x)
	}
	pools = make([]int, len(perColumn))
	sum := 0
	for c := len(perColumn) - 1; c >= 0; c-- {
		pools[c] = n
		sum += perColumn[c]
		if sum*least >= leastExpected*total {
			n++
			sum = 0
		}
	}
	// Counted from the right so far; what is left over joins the last pool.
	for c := range pools {
		pools[c] = max(0, n-1-pools[c])
	}
	return pools, n
}

func gather(counts [][]int, pools []int, n int) [][]int {
	out := make([][]int, len(counts))
	for l, line := range counts {
		out[l] = make([]int, n)
		for c, x := range line {
			out[l][pools[c]] += x
		}
	}
	return out
}

// pearson is Σ (observed − expected)² / expected.
func pearson(counts [][]int, perLine, perColumn []int, total int) float64 {
	var sum float64
	for l, line := range counts {
		for c, n := range line {
			e := float64(perLine[l]) * float64(perColumn[c]) / float64(total)
			sum += (float64(n) - e) * (float64(n) - e) / e
		}
	}
	return sum
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

// rounding: exact probabilities are good to about this share of themselves;
// one that is 1/20 must not be told from 0.05 by its last digits.
const rounding = 1e-9

// below tells whether a probability is below 0.05.
func below(p float64) bool { return p < Level*(1-rounding) }

// joinSmallest puts the line with the fewest fish together with the smaller of
// its neighbours.
func joinSmallest(counts [][]int, perLine, lines []int) ([][]int, []int) {
	least := 0
	for l, n := range perLine {
		if n < perLine[least] {
			least = l
		}
	}
	upper := least - 1
	if least == 0 || least+1 < len(perLine) && perLine[least+1] < perLine[least-1] {
		upper = least
	}
	var out [][]int
	for l, line := range counts {
		if l == upper+1 {
			joined := append([]int(nil), out[upper]...)
			addInts(joined, line)
			out[upper] = joined
			continue
		}
		out = append(out, line)
	}
	joined := make([]int, len(lines))
	for i, l := range lines {
		if l > upper {
			l--
		}
		joined[i] = l
	}
	return out, joined
}
