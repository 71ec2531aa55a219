package likelihood

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// atWorkCells are the probabilities of a fish of class g let go at site i to be next
// seen at each site, by a set of rows of those at work, and last never.
func atWorkCells(d *Design, x []float64, g int, z []float64, i int, work [][]Work) (cells []float64) {
	l := d.Layout
	reach, never := 1.0, 1.0
	for j := i + 1; j < l.Sites(); j++ {
		reach *= d.Prob(x, g, l.Survival(j-1), z).P
		miss := 0.0
		for _, w := range work[j] {
			from, to := l.SiteRows(j)
			for seen := range uint64(1) << uint(to-from) {
				seen <<= uint(from)
				if seen&^w.Rows != 0 {
					continue
				}
				p := w.Share
				for _, b := range rowsOf(w.Rows) {
					at := d.Prob(x, g, l.Detection(b), z)
					if seen>>uint(b)&1 == 1 {
						p *= at.P
					} else {
						p *= at.Q
					}
				}
				if seen == 0 {
					miss += p
					continue
				}
				cells = append(cells, reach*p)
				never -= reach * p
			}
		}
		reach *= miss
	}
	return append(cells, never)
}

// The information with rows at work in sets is that of all cells, their gradients taken
// as central differences (error some 1e-8 of the gradients); with all rows always at work
// it is minus the Hessian at the expected counts.
func TestExpectedAtWork(t *testing.T) {
	rnd := rand.New(rand.NewPCG(14, 3))
	d := randomDesign(rnd, []int{0, 2, 3, 1}, 2, 2, 7, Logit, Rate, CLogLog, Fixed)
	l := d.Layout
	x := make([]float64, d.Columns)
	for j := range x {
		x[j] = rnd.NormFloat64() / 2
	}
	releases := []Released{{Class: 0, Z: []float64{1, 0.4}, At: []float64{300, 20, 7, 5}}, {Class: 1, Z: []float64{1, -0.7}, At: []float64{0, 150, 0, 0}}}
	all := [][]Work{nil, {{1, 0b11}}, {{1, 0b11100}}, {{1, 0b100000}}}
	some := [][]Work{nil, {{0.7, 0b11}, {0.3, 0}}, {{0.5, 0b11100}, {0.2, 0b01000}, {0.1, 0b10100}, {0.2, 0}}, {{0.9, 0b100000}, {0.1, 0}}}
	for name, work := range map[string][][][]Work{"always": {all, all}, "sets": {some, all}} {
		for i := range releases {
			releases[i].Work = work[i]
		}
		want := make([]float64, d.Columns*d.Columns)
		for _, r := range releases {
			for i, n := range r.At[:l.Sites()-1] {
				if n == 0 {
					continue
				}
				cells := atWorkCells(d, x, r.Class, r.Z, i, r.Work)
				grad := make([][]float64, d.Columns)
				for j := range grad {
					const h = 1e-5
					y := append([]float64(nil), x...)
					y[j] += h
					up := atWorkCells(d, y, r.Class, r.Z, i, r.Work)
					y[j] -= 2 * h
					for k, v := range atWorkCells(d, y, r.Class, r.Z, i, r.Work) {
						grad[j] = append(grad[j], (up[k]-v)/(2*h))
					}
				}
				for a := range grad {
					for b := range grad {
						for k, p := range cells {
							want[a*d.Columns+b] += n * grad[a][k] * grad[b][k] / p
						}
					}
				}
			}
		}
		got := ExpectedAtWork(d, x, releases)
		require.Len(t, got, len(want), name)
		most := 0.0
		for _, v := range want {
			most = max(most, math.Abs(v))
		}
		assert.InDeltaSlice(t, want, got, 1e-7*most, name)
		if name == "always" {
			var at Point
			data := &Data{}
			for _, r := range releases {
				data.Units = append(data.Units, Expected(d, x, r.Class, r.Z, r.At))
			}
			NewCJS(d, data).Eval(x, 2, &at)
			for k, h := range at.H {
				assert.InDelta(t, -h, got[k], 1e-11*most, "rounding")
			}
			releases[0].Work, releases[1].Work = make([][]Work, 4), nil
			assert.Equal(t, got, ExpectedAtWork(d, x, releases), "nil: always")
		}
	}
}
