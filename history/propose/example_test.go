package propose_test

import (
	"context"
	"fmt"
	"path/filepath"

	"example.org/unseen/history/propose"
	"example.org/unseen/history/table"
)

const demoFolder = "../../cmd/unseen/internal/demo/files"

// Tables are told apart by what is in them.
func ExampleStudy() {
	p, err := propose.Study(context.Background(), []string{demoFolder}, demoFolder)
	if err != nil {
		panic(err)
	}
	fmt.Println("fish:", p.Fish)
	for _, s := range p.Sightings {
		fmt.Println("sightings:", s)
	}
	// Output:
	// fish: fish.csv
	// sightings: arrays/alder-ford.csv.gz
	// sightings: arrays/lower-river.csv.gz
}

// The first records of a table, as they stand in it.
func ExampleFirstRecords() {
	header, records, err := propose.FirstRecords(context.Background(), table.File{Path: filepath.Join(demoFolder, "fish.csv")}, 1)
	if err != nil {
		panic(err)
	}
	fmt.Println(header)
	fmt.Println(records[0].Line, records[0].Fields)
	// Output:
	// [tag released cohort species fork_length_mm weight_g removed]
	// 2 [999041000000031 2025-04-03 21:00 week 1 sea trout 162 48.7 ]
}
