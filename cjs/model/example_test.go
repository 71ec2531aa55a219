package model_test

import (
	"fmt"

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

// Terms in canonical form, and what is wrong with those that are none.
func ExampleParse() {
	t, err := model.Parse("sex + cohort by reach + cohort")
	fmt.Println(t, err)
	_, err = model.Parse("reach cohort")
	fmt.Println(err)
	// Output:
	// reach by cohort + sex <nil>
	// "reach cohort": + or by is missing before "cohort" at character 7
}

// A model in words becomes coefficients.
func ExampleBuild() {
	p, err := model.Build(model.Input{Histories: hollin()}, model.Spec{Survival: "reach + cohort", Detection: "same"})
	if err != nil {
		panic(err)
	}
	fmt.Println(p.Words())
	for _, c := range p.Columns {
		fmt.Printf("%s: %s\n", c.Part, c.Term)
	}
	_, err = model.Build(model.Input{Histories: hollin()}, model.Spec{Survival: "site"})
	fmt.Println(err)
	// Output:
	// survival: reach + cohort · detection: same
	// survival: reach Mill Lade to Alder Ford
	// survival: reach Alder Ford to Scar Weir
	// survival: reach Scar Weir to Tidehead
	// survival: cohort late
	// detection: same
	// survival "site": survival is about reaches; write reach instead of site
}
