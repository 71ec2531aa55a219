package analysis_test

import (
	"context"
	"errors"
	"fmt"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/history/ingest"
)

const demo = "../../cmd/unseen/internal/demo/files/study.toml"

// A study file to the share of the fish that passed each site.
func Example() {
	ctx := context.Background()
	d, err := analysis.Open(ctx, demo, ingest.Options{})
	if err != nil {
		panic(err)
	}
	spec, err := d.Spec(analysis.Choice{Survival: "reach + cohort"})
	if err != nil {
		panic(err)
	}
	f, err := d.Fit(ctx, spec, analysis.Options{})
	if err != nil {
		panic(err)
	}
	for _, p := range f.Fit.Passed {
		if len(p.Of) == 0 { // of all fish
			fmt.Printf("%s: %.1f %% passed\n", d.Histories.River.Sites[p.Site].Name, 100*p.PassedShare.Value)
		}
	}
	fmt.Println(f.Fit.Verdict)
	// Output:
	// Alder Ford: 71.6 % passed
	// Scar Weir: 44.8 % passed
	// Tidehead: 35.6 % passed
	// converged
}

// A plan file to the fish that a precision takes.
func ExampleOpenPlan() {
	p, err := analysis.OpenPlan("testdata/plan.toml")
	if err != nil {
		panic(err)
	}
	a, err := p.Ask(context.Background(), analysis.Questions{Want: []string{"passed at Scar Weir ± 5"}})
	if err != nil {
		panic(err)
	}
	fmt.Println(a.Needs[0].Total, "fish")
	// Output:
	// 1768 fish
}

// What is refused has an ID, to be worded by the caller.
func ExampleError() {
	d, err := analysis.Open(context.Background(), demo, ingest.Options{})
	if err != nil {
		panic(err)
	}
	_, err = d.Spec(analysis.Choice{Name: "no such"})
	var refused *analysis.Error
	if errors.As(err, &refused) {
		fmt.Println(refused.ID, refused.Name)
		fmt.Println(refused.Known)
	}
	// Output:
	// no-such-model no such
	// ["cohorts alike in pattern" "each cohort its own"]
}
