package sighting_test

import (
	"context"
	"fmt"
	"time"

	"example.org/unseen/history/fishtable"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/sighting"
	"example.org/unseen/history/study"
	"example.org/unseen/history/tagindex"
)

// demo reads the tagging table of the demo.
func demo() (*study.Study, *fishtable.Table, sighting.Options) {
	st, err := study.Load("../../cmd/unseen/internal/demo/files/study.toml")
	if err != nil {
		panic(err)
	}
	how := sighting.Options{Season: rule.SeasonOf(st, time.Time{}), Workers: 1}
	fish, err := fishtable.Read(context.Background(), st, how.Season, tagindex.Form{}, 1)
	if err != nil {
		panic(err)
	}
	return st, fish, how
}

// Sightings complete the histories of the tagging table.
func ExampleRead() {
	st, fish, how := demo()
	seen, err := sighting.Read(context.Background(), st, fish, how)
	if err != nil {
		panic(err)
	}
	fmt.Println(seen.Accounting.Read, "records,", seen.Accounting.Kept, "passages")
	fmt.Printf("%s %04b\n", fish.Histories.Tag[0], fish.Histories.Seen[0])
	// Output:
	// 5474 records, 2266 passages
	// 999041000000031 0111
}

// Exact duplicates are counted in a pass of their own.
func ExampleDuplicates() {
	st, fish, how := demo()
	n, err := sighting.Duplicates(context.Background(), st, fish, how)
	if err != nil {
		panic(err)
	}
	fmt.Println(n.Duplicates, "of", n.Read, "records")
	// Output:
	// 39 of 5474 records
}
