package compare_test

import (
	"context"
	"fmt"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/compare"
	"example.org/unseen/cjs/model"
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

// Models of the same fish, best first.
func ExampleRun() {
	in := model.Input{Histories: hollin()}
	specs := compare.Grid(map[model.Part][]string{model.Survival: {"reach", "reach + cohort", "reach by cohort"}}, model.Spec{Detection: "site"})
	r, err := compare.Run(context.Background(), in, specs, cjs.Options{}, nil)
	if err != nil {
		panic(err)
	}
	for _, v := range r.Variants {
		fmt.Printf("%s: ΔAICc %.1f\n", v.Fit.Problem.TermsOf(model.Survival), v.Delta)
	}
	t, err := compare.Against(r.Variants[2], r.Variants[0])
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("chi-square %.1f on %d df\n", t.Statistic, t.DF)
	// Output:
	// reach + cohort: ΔAICc 0.0
	// reach by cohort: ΔAICc 0.7
	// reach: ΔAICc 33.0
	// chi-square 37.1 on 2 df
}

// Akaike weights of three models.
func ExampleWeights() {
	fmt.Printf("%.3f\n", compare.Weights([]float64{100, 102, 110}))
	// Output:
	// [0.727 0.268 0.005]
}
