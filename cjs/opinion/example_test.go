package opinion_test

import (
	"context"
	"fmt"

	"example.org/unseen/cjs/internal/hollin"
	"example.org/unseen/cjs/opinion"
)

// Other optimisers, each from several starts, agree with the fit.
func ExampleRun() {
	r, err := opinion.Run(context.Background(), hollin.Fitted("reach + cohort", "same"), opinion.Options{Starts: 4})
	if err != nil {
		panic(err)
	}
	fmt.Println("a higher maximum:", r.Better())
	// Output:
	// a higher maximum: false
}

// How many runs there were.
func ExampleResult_Counts() {
	r, err := opinion.Run(context.Background(), hollin.Fitted("same", "same"), opinion.Options{Starts: 3, Seed: 7})
	if err != nil {
		panic(err)
	}
	methods, starts, _ := r.Counts()
	fmt.Println(methods, "methods,", starts, "starts")
	// Output:
	// 3 methods, 9 starts
}
