package edit_test

import (
	"fmt"

	"example.org/unseen/history/study/edit"
)

const small = `title = "Hollin Water"
[next_seen]
file = "m.csv"
[[site]]
name = "Mill Lade"
km   = 58     # the trap
[[site]]
name = "Tidehead"
km   = 0
`

// One key of the second site, and a model; comments and spacing stay.
func ExampleFile_Apply() {
	f, err := edit.Parse("hollin.toml", []byte(small))
	if err != nil {
		panic(err)
	}
	err = f.Apply(
		edit.Set(edit.Path{"site", 0, "km"}, 58.4),
		edit.Set(edit.Path{"site", 1, "days"}, 3.5),
		edit.Append(edit.Path{"model"}, edit.Table{{"name", "one survival"}, {"survival", "same"}}),
	)
	if err != nil {
		panic(err)
	}
	fmt.Printf("%s", f.Bytes())
	// Output:
	// title = "Hollin Water"
	// [next_seen]
	// file = "m.csv"
	// [[site]]
	// name = "Mill Lade"
	// km   = 58.4     # the trap
	// [[site]]
	// name = "Tidehead"
	// km   = 0
	// days = 3.5
	//
	// [[model]]
	// name = "one survival"
	// survival = "same"
}

// What would leave no study is refused, and nothing is changed.
func ExampleFile_Apply_refused() {
	f, err := edit.Parse("hollin.toml", []byte(small))
	if err != nil {
		panic(err)
	}
	fmt.Println(f.Apply(edit.Set(edit.Path{"site", 1, "kn"}, 3)))
	fmt.Println(string(f.Bytes()) == small)
	// Output:
	// hollin.toml:10: unknown key "kn" in [[site]]; did you mean "km"?
	// true
}
