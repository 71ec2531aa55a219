package study_test

import (
	"fmt"
	"strings"

	"example.org/unseen/history/study"
)

const hollin = `title = "Hollin Water"
[next_seen]
file = "m.csv"
[[site]]
name = "Mill Lade"
km = 58
[[site]]
name = "Tidehead"
km = 0
[[model]]
name = "one survival"
survival = "same"
`

// A study file, read and checked in itself.
func ExampleParse() {
	st, err := study.Parse("hollin.toml", []byte(hollin))
	if err != nil {
		panic(err)
	}
	river := st.River()
	fmt.Println(st.Title+":", river.Reach(0), river.ReachKm(0), "km")
	for _, m := range st.Models {
		fmt.Println(m.Name+":", "survival =", m.Terms["survival"])
	}
	// Output:
	// Hollin Water: Mill Lade to Tidehead 58 km
	// one survival: survival = same
}

// What is wrong is said with its line and what was meant.
func ExampleParse_mistake() {
	_, err := study.Parse("hollin.toml", []byte(strings.Replace(hollin, "survival =", "survivel =", 1)))
	fmt.Println(err)
	// Output:
	// hollin.toml:12: unknown key "survivel" in [[model]]; did you mean "survival"?
}
