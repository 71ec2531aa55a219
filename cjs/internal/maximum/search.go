package maximum

import (
	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
)

// Search is a maximisation that treats bounds as such: where the likelihood
// rises as coefficients go to infinity, probabilities are put at 0 or 1, where
// it has its limit, and the others are fitted with that held.
type Search struct {
	problem *model.Problem
	data    *likelihood.Data
	Design  *likelihood.Design // at its limits
	// Limits are the directions in which the coefficients go to infinity, the
	// first the fastest; Moved are the predictors that each takes to a bound.
	Limits [][]float64
	Moved  [][]Row
	Edges  []*Edge
	Climb  *likelihood.Climb
	// Iterations counts all steps of all climbs.
	Iterations int
	reach      [][2][]float64       // class → lowest and highest of each number
	concerned  [][]bool             // class → slot; see concerns
	units      [][]*likelihood.Unit // by class; see unitsOf
}

// Row is the predictor of one slot for one fish, near a bound.
type Row struct {
	Class, Slot int
	Z           []float64
	Out         float64 // +1 or −1: where the predictor goes
}

// Edge is what lies near 0 or 1 at some coefficients, and what must stay where
// it is when that goes there: the question whether the coefficients can go to
// infinity in some direction without moving anything else.
type Edge struct {
	search *Search
	// goes, where not nil, tells of what lies near its bound whether it may go
	// there; the rest stays.
	goes func(Row) bool
	near []Row
	// keep is the sum of rrᵀ over the predictors r that must not move, each of
	// length one, Columns × Columns.
	keep []float64
}

// Constant are the numbers of a fish of mean numbers: 1, 0, 0, ….
func Constant(numbers int) []float64 {
	z := make([]float64, numbers)
	z[0] = 1
	return z
}

// predictors are bounds on the predictor of a slot over the fish of a class.
func (s *Search) predictors(x []float64, g, a int) (low, high float64) {
	for _, e := range s.Design.Slots[g][a] {
		v := e.Value * x[e.Column]
		if e.Number == 0 {
			low += v
			high += v
			continue
		}
		r := s.reach[g]
		u, w := v*r[0][e.Number], v*r[1][e.Number]
		low += min(u, w)
		high += max(u, w)
	}
	return low, high
}
