package travel_test

import (
	"context"
	"fmt"
	"time"

	"example.org/unseen/cjs/travel"
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

// Days from release to each site.
func ExampleNew() {
	h := hollin()
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
func ExampleLaw_Passage() {
	r, err := travel.New(context.Background(), hollin(), travel.Options{})
	if err != nil {
		panic(err)
	}
	law := r.Stretches[2].Law
	fmt.Printf("drift %.1f km/day; half of the fish go 100 km in %.1f days\n", law.Drift.Value, law.Passage(100).Quantile(0.5))
	// Output:
	// drift 11.5 km/day; half of the fish go 100 km in 8.5 days
}
