package table_test

import (
	"fmt"
	"strings"

	"example.org/unseen/history/table"
)

// A table with its own delimiter; what is no number is a fault of its line.
func ExampleNew() {
	t, err := table.New("fish.csv", strings.NewReader("tag;length\n999041000000908;142\n999041000000911;14o\n"))
	if err != nil {
		panic(err)
	}
	length := t.Column("length")
	for t.Next() {
		if mm, ok := t.Number(length); ok {
			fmt.Println(t.Field(t.Column("tag")), mm)
		}
	}
	fmt.Println(t.Err())
	// Output:
	// 999041000000908 142
	// fish.csv:3: column "length": "14o" is not a number
}

// Numbers as tables write them.
func ExampleParseNumber() {
	for _, s := range []string{"36.6", "1e3", "NA", "12 mm"} {
		v, ok := table.ParseNumber(s)
		fmt.Println(s, v, ok)
	}
	// Output:
	// 36.6 36.6 true
	// 1e3 1000 true
	// NA 0 false
	// 12 mm 0 false
}
