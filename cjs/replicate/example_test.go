package replicate_test

import (
	"context"
	"fmt"

	"example.org/unseen/cjs/internal/hollin"
	"example.org/unseen/cjs/replicate"
)

// A parametric bootstrap of the share that passed.
func ExampleRun() {
	f := hollin.Fitted("reach", "same")
	set, err := replicate.Run(context.Background(), f, 1, 200, replicate.Options{Seed: 1})
	if err != nil {
		panic(err)
	}
	sum, err := set.Summarise(0.9)
	if err != nil {
		panic(err)
	}
	for _, e := range sum.Estimates {
		if e.Name == "passed Tidehead" {
			fmt.Printf("%s: %.3f, 90 %% of the replicates from %.3f to %.3f\n", e.Name, e.Value, e.Low, e.High)
		}
	}
	// Output:
	// passed Tidehead: 0.676, 90 % of the replicates from 0.608 to 0.712
}

// Parts made apart, on other machines, belong together.
func ExampleMerge() {
	f := hollin.Fitted("reach", "same")
	var parts []*replicate.Set
	for _, from := range []int{1, 11} {
		part, err := replicate.Run(context.Background(), f, from, from+9, replicate.Options{Seed: 1})
		if err != nil {
			panic(err)
		}
		parts = append(parts, part)
	}
	all, err := replicate.Merge(parts...)
	if err != nil {
		panic(err)
	}
	fmt.Println(len(all.Replicates), "replicates")
	_, err = replicate.Merge(parts[0], parts[0])
	fmt.Println(err)
	// Output:
	// 20 replicates
	// replicate 1 stands in part 1 and in part 2: give every part its own numbers
}
