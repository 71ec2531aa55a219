package cjs

import (
	"math"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// rowTests tests neighbouring rows of every divided site for independence, on
// fish seen farther down: these passed the site whatever its rows saw. Where a row
// did not always work they are those known, by their sightings above and below, to
// have passed while both did: whether such a fish was seen has nothing to do with
// when it passed.
func rowTests(p *model.Problem) []RowTest {
	h := p.Histories
	masks := h.River.SiteMasks()
	outages := p.Outages()
	var stops []model.Stop
	var out []RowTest
	for k := 1; k < p.Layout.Sites(); k++ {
		from, to := p.Layout.SiteRows(k)
		var below uint64
		for _, m := range masks[k+1:] {
			below |= m
		}
		for b := from; b+1 < to; b++ {
			t := RowTest{Site: k, RowA: b - from, RowB: b + 1 - from, P: math.NaN()}
			for i := range h.Len() {
				if p.ClassOf[i] < 0 || int(h.Entry[i]) >= k || h.Seen[i]&below == 0 || h.End[i] == history.Continued {
					continue
				}
				if outages.At(k) {
					stops = model.Stops(stops[:0], h, i)
					from, to, ok := model.Around(stops, k)
					if !ok || model.Touches(outages.Rows[b], from, to) || model.Touches(outages.Rows[b+1], from, to) {
						continue
					}
				}
				w := h.Weight(i)
				switch h.Seen[i] >> uint(b) & 3 {
				case 3:
					t.Both += w
				case 1:
					t.OnlyA += w
				case 2:
					t.OnlyB += w
				default:
					t.Neither += w
				}
			}
			n := t.Both + t.OnlyA + t.OnlyB + t.Neither
			switch {
			case below == 0:
				t.Why = "no site farther down shows which fish passed unseen"
			case n == 0 && outages.At(k):
				t.Why = "no fish is known to have passed while both rows worked"
			case n == 0:
				t.Why = "no fish was detected downstream"
			case t.Both+t.OnlyA == 0 || t.Both+t.OnlyB == 0 || t.Both+t.OnlyA == n || t.Both+t.OnlyB == n:
				t.Why = "one of the rows detected all or none of the fish detected downstream"
			default:
				t.P = FisherExact(t.Both, t.OnlyA, t.OnlyB, t.Neither)
			}
			out = append(out, t)
		}
	}
	return out
}

// FisherExact is the two-sided exact probability of the 2 × 2 table
//
//	a b
//	c d
//
// with its margins given: the sum over all tables no more probable than the
// one observed (Fisher 1935; a relative tolerance of 1e-7 decides ties, as is
// common practice). NaN where a count is below 0, or there are more than ten
// million in all.
func FisherExact(a, b, c, d int) float64 {
	if most := mostExact; min(a, b, c, d) < 0 || max(a, b, c, d) > most || a+b+c+d > most {
		return math.NaN()
	}
	row, col, n := a+b, a+c, a+b+c+d
	low, high := max(0, row+col-n), min(row, col)
	logp := func(x int) float64 {
		return logChoose(col, x) + logChoose(n-col, row-x) - logChoose(n, row)
	}
	observed := logp(a)
	var sum float64
	for x := low; x <= high; x++ {
		if l := logp(x); l <= observed+1e-7 {
			sum += math.Exp(l)
		}
	}
	return min(1, sum)
}

const mostExact = 10_000_000

func logChoose(n, k int) float64 {
	a, _ := math.Lgamma(float64(n + 1))
	b, _ := math.Lgamma(float64(k + 1))
	c, _ := math.Lgamma(float64(n - k + 1))
	return a - b - c
}
