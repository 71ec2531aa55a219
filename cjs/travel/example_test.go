package travel_test

import (
	"context"
	"fmt"

	"example.org/unseen/cjs/internal/hollin"
	"example.org/unseen/cjs/travel"
)

// Days from release to each site.
func ExampleNew() {
	h := hollin.Timed()
	r, err := travel.New(context.Background(), h, travel.Options{})
	if err != nil {
		panic(err)
	}
	for _, s := range r.Stretches {
		fmt.Printf("%s to %s: %d fish, median %.1f days\n", h.River.Sites[s.From].Name, h.River.Sites[s.To].Name, s.Days.N, s.Days.Median)
	}
	// Output:
	// Mill Lade to Alder Ford: 32 fish, median 1.9 days
	// Alder Ford to Tidehead: 24 fish, median 3.1 days
	// Mill Lade to Tidehead: 36 fish, median 5.0 days
}

// The law of the whole path: what it says of fish farther on.
func ExampleLaw_Over() {
	r, err := travel.New(context.Background(), hollin.Timed(), travel.Options{})
	if err != nil {
		panic(err)
	}
	law := r.Stretches[2].Law
	fmt.Printf("drift %.1f km/day; half of the fish go 100 km in %.1f days\n", law.Drift.Value, law.Over(100).Quantile(0.5))
	// Output:
	// drift 11.5 km/day; half of the fish go 100 km in 8.5 days
}
