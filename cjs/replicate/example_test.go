package replicate_test

import (
	"context"
	"fmt"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/replicate"
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

// A parametric bootstrap of the share that passed.
func ExampleRun() {
	f := fitted("reach", "same")
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
	f := fitted("reach", "same")
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
