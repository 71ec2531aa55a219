package fishtable_test

import (
	"context"
	"fmt"
	"time"

	"example.org/unseen/history/fishtable"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/study"
	"example.org/unseen/history/tagindex"
)

// The tagging table of the demo: who was released, and what a tag stands for.
func ExampleRead() {
	st, err := study.Load("../../cmd/unseen/internal/demo/files/study.toml")
	if err != nil {
		panic(err)
	}
	fish, err := fishtable.Read(context.Background(), st, rule.SeasonOf(st, time.Time{}), tagindex.Form{}, 1)
	if err != nil {
		panic(err)
	}
	h := fish.Histories
	fmt.Println(h.Fish(), "fish of", fish.Total, "in cohorts", h.Cohorts)
	key, err := tagindex.Form{}.KeyOf(h.Tag[2])
	fmt.Println(fish.Index.Find(key, nil).Fish(), err)
	// Output:
	// 1800 fish of 1800 in cohorts [week 1 week 2 week 3 week 4 week 5]
	// 2 <nil>
}

// A fish released after the moment up to which records count is left out.
func ExampleRead_asOf() {
	st, err := study.Load("../../cmd/unseen/internal/demo/files/study.toml")
	if err != nil {
		panic(err)
	}
	day := time.Date(2025, 4, 10, 0, 0, 0, 0, st.Location)
	fish, err := fishtable.Read(context.Background(), st, rule.SeasonOf(st, day), tagindex.Form{}, 1)
	if err != nil {
		panic(err)
	}
	fmt.Println(fish.Histories.Fish(), "fish of", fish.Total)
	// Output:
	// 360 fish of 1800
}
