package growth_test

import (
	"fmt"

	"example.org/unseen/history"
	"example.org/unseen/history/growth"
)

// A smolt of 142 mm and 27 g.
func ExampleCondition() {
	fmt.Printf("K = %.2f\n", growth.Condition(142, 27))
	// Output:
	// K = 0.94
}

// Lengths and weights at tagging; one was typed in wrong.
func ExampleNew() {
	river := history.River{Sites: []history.Site{{Name: "Mill Lade"}, {Name: "Tidehead"}}}
	var records []history.Record
	for i, weight := range []float64{20, 21, 225, 23, 24} {
		records = append(records, history.Record{Tag: fmt.Sprint("fish ", i+1), Values: map[string]float64{"fork_length_mm": 128 + float64(i), growth.Weight: weight}})
	}
	h, err := history.NewHistories(river, records)
	if err != nil {
		panic(err)
	}
	r, err := growth.New(h, nil, growth.Options{})
	if err != nil {
		panic(err)
	}
	for _, x := range r.Odd {
		fmt.Println(h.Tag[x.Fish], x.Flags.Names())
	}
	// Output:
	// fish 3 [condition factor outside 0.5–2]
}
