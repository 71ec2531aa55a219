package season_test

import (
	"context"
	"fmt"
	"time"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/internal/hollin"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/season"
)

// What would have been said after five days, beside what it came to.
func ExampleReplay() {
	day := []time.Time{time.Date(2025, 4, 6, 0, 0, 0, 0, time.UTC)}
	list, err := season.Replay(context.Background(), model.Input{Histories: hollin.Timed()}, model.Spec{Survival: "same", Detection: "same"}, day, cjs.Options{Interval: "logit"}, nil)
	if err != nil {
		panic(err)
	}
	d := list[0]
	last := len(d.Final.Passed) - 1
	fmt.Printf("%d released, %d sightings\n", d.Released, d.Seen)
	fmt.Printf("passed Tidehead: taken for the end %.0f %%, in the end %.0f %%\n", 100*d.Plain.Passed[last].PassedShare.Value, 100*d.Final.Passed[last].PassedShare.Value)
	// Output:
	// 60 released, 33 sightings
	// passed Tidehead: taken for the end 17 %, in the end 78 %
}

// The days on which a season can be replayed, every third.
func ExampleDays() {
	for _, d := range season.Days(hollin.Timed(), 3, time.UTC) {
		fmt.Println(d.Format(time.DateOnly))
	}
	// Output:
	// 2025-04-04
	// 2025-04-07
	// 2025-04-10
	// 2025-04-13
}
