package simulate_test

import (
	"context"
	"fmt"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/simulate"
	"example.org/unseen/history"
)

// truth is what is true of the simulated fish.
func truth() simulate.Truth {
	return simulate.Truth{River: history.River{Sites: []history.Site{{Name: "Mill Lade"}, {Name: "Alder Ford"}, {Name: "Tidehead"}}},
		Cohorts:    []simulate.Cohort{{Name: "all", Fish: 500, Survival: []float64{0.8, 0.7}, Detection: []float64{0.6, 0.5}}},
		TestPasses: []simulate.TestPasses{{Row: 1, Passes: 100}}}
}

// One sample: the same seed and index draw the same fish.
func ExampleTruth_Draw() {
	t := truth()
	if err := t.Check(); err != nil {
		panic(err)
	}
	s := t.Draw(1, 1)
	fmt.Println(s.Histories.Fish(), "fish, of which passed", s.Passed[0][1:], "· test passes read", s.TestPasses[0].Read)
	// Output:
	// 500 fish, of which passed [404 281] · test passes read 52
}

// How often intervals hold the truth.
func ExampleStudy_Run() {
	s := simulate.Study{Name: "example", Truth: truth(), Spec: model.Spec{Survival: "reach", Detection: "site"}, Options: cjs.Options{Interval: "logit"}, Seed: 1}
	r, err := s.Run(context.Background(), 1, 100, nil)
	if err != nil {
		panic(err)
	}
	for _, q := range r.Quantities {
		if q.Kind == "passed" {
			fmt.Printf("passed %s: true %.2f, bias %.3f, held by %d of %d intervals\n", q.At, q.Truth, q.Bias, q.Covered, q.Intervals)
		}
	}
	// Output:
	// passed Alder Ford: true 0.80, bias 0.003, held by 94 of 100 intervals
	// passed Tidehead: true 0.56, bias 0.007, held by 97 of 100 intervals
}
