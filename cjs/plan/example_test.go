package plan_test

import (
	"context"
	"fmt"

	"example.org/unseen/cjs/plan"
	"example.org/unseen/history"
)

// spring is what is supposed of a season to come.
func spring() *plan.Plan {
	return &plan.Plan{River: history.River{Sites: []history.Site{{Name: "Mill Lade", Km: 58}, {Name: "Alder Ford", Km: 36.6}, {Name: "Tidehead", Rows: []string{"upper", "lower"}}}},
		Values:  []plan.Value{{About: "survival", Low: 0.8, High: 0.8}, {About: "detection", Low: 0.6, High: 0.6}},
		Cohorts: []plan.Cohort{{Name: "all", Fish: 400, Survival: []int{0, 0}, Detection: []int{1, 1, 1}}}}
}

// The precision to expect of 400 fish.
func ExampleNew() {
	f, err := plan.New(context.Background(), spring())
	if err != nil {
		panic(err)
	}
	for _, l := range f.Passed {
		fmt.Printf("passed %s: %.0f ± %.1f %%\n", f.Plan.River.Sites[l.Site].Name, 100*l.Value, 100*l.Half)
	}
	// Output:
	// passed Alder Ford: 80 ± 6.4 %
	// passed Tidehead: 64 ± 7.0 %
}

// The fish that a wish takes.
func ExampleForecast_Need() {
	f, err := plan.New(context.Background(), spring())
	if err != nil {
		panic(err)
	}
	want, err := f.Plan.ParseWant("passed at Tidehead ± 3")
	if err != nil {
		panic(err)
	}
	n, err := f.Need(context.Background(), want)
	if err != nil {
		panic(err)
	}
	fmt.Println(n.Total, "fish")
	// Output:
	// 2198 fish
}
