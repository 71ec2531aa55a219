package view

import (
	"fmt"

	"example.org/unseen/cjs"
)

// SupposedDetection answers, where detection cannot be estimated, what the
// share seen would mean: if the array sees d of those that pass, seen ÷ d
// passed. d runs from the lowest possible, the share seen itself (all passed),
// to 1. The interval is that of the share seen, divided likewise.
func SupposedDetection(seen cjs.Estimate) Table {
	t := Table{ID: "supposed_detection",
		Title: "If the array sees this share of the fish that pass, then this share passed:",
		Columns: []Column{
			{Name: "detection_percent", Title: "detection %", Kind: Number, Digits: 1},
			{Name: "passed_percent", Title: "passed %", Kind: Range, Digits: 1},
		}}
	add := func(d float64) {
		t.Rows = append(t.Rows, []Cell{N(100 * d),
			R(100*min(1, seen.Value/d), 100*min(1, seen.Low/d), 100*min(1, seen.High/d))})
	}
	if seen.Value <= 0 {
		return t
	}
	add(seen.Value)
	for percent := 10; percent <= 100; percent += 10 {
		if d := float64(percent) / 100; d > seen.Value {
			add(d)
		}
	}
	return t
}

// ToMakeEstimable says what a study with one site would need.
func ToMakeEstimable(site string) string {
	return fmt.Sprintf("With one site alone, survival and detection cannot be told apart. Any one of these makes the share "+
		"that passed %s estimable: a second row of antennas there, a site farther down, or test passes "+
		"([[test_passes]]: known passes of a test tag over the array, and how many were read).", site)
}
