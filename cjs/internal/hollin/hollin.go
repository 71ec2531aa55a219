// Package hollin has fish of an invented river, for examples.
package hollin

import (
	"context"
	"time"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// Counted are fish let go at Mill Lade, early and late in spring.
func Counted() *history.Histories {
	river := history.River{Sites: []history.Site{{Name: "Mill Lade", Km: 58}, {Name: "Alder Ford", Km: 36.6}, {Name: "Scar Weir", Km: 14.2}, {Name: "Tidehead"}}}
	var records []history.Record
	for _, x := range []struct {
		seen        []history.Sighting
		early, late int
	}{
		{history.At("Alder Ford"), 32, 20}, {history.At("Scar Weir"), 18, 12}, {history.At("Tidehead"), 22, 11},
		{history.At("Alder Ford", "Scar Weir"), 30, 14}, {history.At("Alder Ford", "Tidehead"), 34, 10}, {history.At("Scar Weir", "Tidehead"), 40, 18},
		{history.At("Alder Ford", "Scar Weir", "Tidehead"), 58, 20}, {nil, 66, 95},
	} {
		records = append(records, history.Record{Cohort: "early", Seen: x.seen, Count: x.early}, history.Record{Cohort: "late", Seen: x.seen, Count: x.late})
	}
	h, err := history.NewHistories(river, records)
	if err != nil {
		panic(err)
	}
	return h
}

// Timed are fish with times, a day's journey or two for each reach.
func Timed() *history.Histories {
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

// Fitted is a model fitted to [Counted].
func Fitted(survival, detection string) *cjs.Fit {
	p, err := model.Build(model.Input{Histories: Counted()}, model.Spec{Survival: survival, Detection: detection})
	if err != nil {
		panic(err)
	}
	f, err := cjs.New(context.Background(), p, cjs.Options{Interval: "logit"})
	if err != nil {
		panic(err)
	}
	return f
}
