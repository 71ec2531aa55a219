package compare_test

import (
	"context"
	"fmt"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/compare"
	"example.org/unseen/cjs/internal/hollin"
	"example.org/unseen/cjs/model"
)

// Models of the same fish, best first.
func ExampleRun() {
	in := model.Input{Histories: hollin.Counted()}
	specs := compare.Grid(map[model.Part][]string{model.Survival: {"reach", "reach + cohort", "reach by cohort"}}, model.Spec{Detection: "site"})
	r, err := compare.Run(context.Background(), in, specs, cjs.Options{}, nil)
	if err != nil {
		panic(err)
	}
	for _, v := range r.Variants {
		fmt.Printf("%s: ΔAICc %.1f\n", v.Fit.Problem.TermsOf(model.Survival), v.Delta)
	}
	t, err := compare.Against(r.Variants[2], r.Variants[0])
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("chi-square %.1f on %d df\n", t.Statistic, t.DF)
	// Output:
	// reach + cohort: ΔAICc 0.0
	// reach by cohort: ΔAICc 0.7
	// reach: ΔAICc 33.0
	// chi-square 37.1 on 2 df
}

// Akaike weights of three models.
func ExampleWeights() {
	fmt.Printf("%.3f\n", compare.Weights([]float64{100, 102, 110}))
	// Output:
	// [0.727 0.268 0.005]
}
