package linear_test

import (
	"fmt"

	"example.org/unseen/likelihood/linear"
)

// The data tell of the sum of two coefficients, and not of their difference.
func ExampleDecompose() {
	information := []float64{
		4, 4,
		4, 4,
	}
	s, ok := linear.Decompose(information, 2)
	fmt.Println(ok, "rank", s.Rank(linear.RankTolerance), "of", s.N)
	fmt.Println("their sum:", s.Determines([]float64{1, 1}))
	fmt.Println("the first alone:", s.Determines([]float64{1, 0}))
	// Output:
	// true rank 1 of 2
	// their sum: true
	// the first alone: false
}

// Two equations of two unknowns of very different size.
func ExampleSolveRidge() {
	a := []float64{
		2e12, 1,
		1, 2e-12,
	}
	x := make([]float64, 2)
	ridge := linear.SolveRidge(a, []float64{3e12, 3}, 2, 0, x)
	fmt.Printf("%.6g, ridge %g\n", x, ridge)
	// Output:
	// [1 1e+12], ridge 0
}
