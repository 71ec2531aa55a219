package ingest_test

import (
	"context"
	"fmt"

	"example.org/unseen/history/ingest"
	"example.org/unseen/history/study"
)

const exampleStudy = "../../cmd/unseen/internal/demo/files/study.toml"

// Every record of the demo ends in one box: the first of a passage, a repeat in
// it, or set aside.
func ExampleRun() {
	st, err := study.Load(exampleStudy)
	if err != nil {
		panic(err)
	}
	d, err := ingest.Run(context.Background(), st, ingest.Options{})
	if err != nil {
		panic(err)
	}
	a := d.Accounting
	fmt.Println(d.Histories.Fish(), "fish;", a.Read, "records read,", a.Kept, "kept,", a.Repeats, "repeats,", a.Read-a.Kept-a.Repeats, "set aside")
	// Output:
	// 1800 fish; 5474 records read, 2266 kept, 3050 repeats, 158 set aside
}

// A record that stands in two files, or twice in one, is a duplicate.
func ExampleDuplicates() {
	st, err := study.Load(exampleStudy)
	if err != nil {
		panic(err)
	}
	n, err := ingest.Duplicates(context.Background(), st, ingest.Options{})
	if err != nil {
		panic(err)
	}
	fmt.Println(n.Read, "records read,", n.Duplicates, "of them duplicates")
	// Output:
	// 5474 records read, 39 of them duplicates
}
