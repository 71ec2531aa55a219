package whatif_test

import (
	"context"
	"fmt"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/whatif"
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

// What the answer hangs on: refits with one thing left out.
func ExampleRun() {
	in := model.Input{Histories: hollin()}
	r, err := whatif.Run(context.Background(), fitted("reach + cohort", "site"), whatif.Changes(in), whatif.Options{})
	if err != nil {
		panic(err)
	}
	for _, o := range r.Outcomes {
		if m := o.Largest(); m != nil {
			fmt.Printf("%s: %d fish, %+.1f points\n", o.Words, o.Fish, 100*m.By)
		}
	}
	// Output:
	// without cohort early: 200 fish, -16.7 points
	// without cohort late: 300 fish, +10.1 points
	// without Tidehead: 500 fish, +7.9 points
	// without Scar Weir: 500 fish, +7.4 points
	// without Alder Ford: 500 fish, -2.2 points
}

// The fish that move the shares most.
func ExampleInfluences() {
	list, err := whatif.Influences(context.Background(), fitted("reach", "same"), 2)
	if err != nil {
		panic(err)
	}
	for _, x := range list {
		fmt.Printf("%s, %d alike: %+.2f points at the last site\n", x.History, x.Alike, 100*x.By[2])
	}
	// Output:
	// 1 0 0 1, 22 alike: -0.21 points at the last site
	// 1 0 0 1, 11 alike: -0.21 points at the last site
}
