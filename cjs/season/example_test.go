package season_test

import (
	"context"
	"fmt"
	"time"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/season"
	"example.org/unseen/history"
)

// hollin are fish with times, a day's journey or two for each reach.
func hollin() *history.Histories {
	river := history.River{Sites: []history.Site{{Name: "Mill Lade", Km: 58}, {Name: "Alder Ford", Km: 36.6}, {Name: "Tidehead"}}}
	start := time.Date(2025, 4, 1, 20, 0, 0, 0, time.UTC)
	var records []history.Record
	for i := range 60 {
		r := history.Record{Released: start.Add(time.Duration(i/20) * 24 * time.Hour)}
		days := []float64{1.2, 1.7, 2.1, 2.6, 3.4}[i%5]
		if i%3 != 0 && i%5 != 4 { // every fifth dies before
			r.Seen = append(r.Seen, history.Sighting{Row: "Alder Ford", First: r.Released.Add(time.Duration(days * 24 * float64(time.Hour)))})
		}
		if i%4 != 0 && i%5 != 4 {
			r.Seen = append(r.Seen, history.Sighting{Row: "Tidehead", First: r.Released.Add(time.Duration((2.5*days + 0.1*float64(i%7)) * 24 * float64(time.Hour)))})
		}
		records = append(records, r)
	}
	h, err := history.NewHistories(river, records)
	if err != nil {
		panic(err)
	}
	return h
}

// What would have been said after five days, beside what it came to.
func ExampleReplay() {
	day := []time.Time{time.Date(2025, 4, 6, 0, 0, 0, 0, time.UTC)}
	list, err := season.Replay(context.Background(), model.Input{Histories: hollin()}, model.Spec{Survival: "same", Detection: "same"}, day, cjs.Options{Interval: "logit"}, nil)
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
	for _, d := range season.Days(hollin(), 3, time.UTC) {
		fmt.Println(d.Format(time.DateOnly))
	}
	// Output:
	// 2025-04-04
	// 2025-04-07
	// 2025-04-10
	// 2025-04-13
}
