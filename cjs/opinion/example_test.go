package opinion_test

import (
	"context"
	"fmt"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/opinion"
	"example.org/unseen/history"
)

// hollin are fish let go at Mill Lade, early and late in spring.
func hollin() *history.Histories {
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

// fitted is a model fitted to them.
func fitted(survival, detection string) *cjs.Fit {
	p, err := model.Build(model.Input{Histories: hollin()}, model.Spec{Survival: survival, Detection: detection})
	if err != nil {
		panic(err)
	}
	f, err := cjs.New(context.Background(), p, cjs.Options{Interval: "logit"})
	if err != nil {
		panic(err)
	}
	return f
}

// Other optimisers, each from several starts, agree with the fit.
func ExampleRun() {
	r, err := opinion.Run(context.Background(), fitted("reach + cohort", "same"), opinion.Options{Starts: 4})
	if err != nil {
		panic(err)
	}
	fmt.Println("a higher maximum:", r.Better())
	// Output:
	// a higher maximum: false
}

// How many runs there were.
func ExampleResult_Counts() {
	r, err := opinion.Run(context.Background(), fitted("same", "same"), opinion.Options{Starts: 3, Seed: 7})
	if err != nil {
		panic(err)
	}
	methods, starts, _ := r.Counts()
	fmt.Println(methods, "methods,", starts, "starts")
	// Output:
	// 3 methods, 9 starts
}
