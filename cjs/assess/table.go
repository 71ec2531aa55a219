package assess

// leastExpected: columns are pooled until every line expects as many fish as
// this (our rule; 2 is far below the old 5, see docs/checks.md for the size
// this gives).
const leastExpected = 2

func identity(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

func margins(counts [][]int) (perLine, perColumn []int, total int) {
	if len(counts) == 0 {
		return nil, nil, 0
	}
	perLine, perColumn = make([]int, len(counts)), make([]int, len(counts[0]))
	for l, line := range counts {
		for c, n := range line[:min(len(line), len(perColumn))] {
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
