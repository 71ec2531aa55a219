package assess_test

import (
	"fmt"

	"example.org/unseen/cjs/assess"
	"example.org/unseen/history"
)

// smolts are fish let go at Mill Lade, early and late in spring.
func smolts() *history.Histories {
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

// Whether fish seen above fare like those not seen.
func ExampleCheck() {
	r, err := assess.Check(smolts(), assess.Options{})
	if err != nil {
		panic(err)
	}
	fmt.Printf("chi-square %.1f on %d df\n", r.Total.Statistic, r.Total.DF)
	// Output:
	// chi-square 0.4 on 4 df
}

// By how much variances are to be inflated.
func ExampleResult_VarianceInflation() {
	r, err := assess.Check(smolts(), assess.Options{})
	if err != nil {
		panic(err)
	}
	factor, ok := r.VarianceInflation()
	fmt.Printf("%.2f %v\n", factor, ok)
	// Output:
	// 1.00 true
}
