package ready_test

import (
	"fmt"

	"example.org/unseen/history/ready"
	"example.org/unseen/history/study"
)

// Ready histories, one record a bird.
func ExampleRead() {
	st, err := study.Load("../../testdata/published/lebreton1992/dipper.toml")
	if err != nil {
		panic(err)
	}
	h, _, err := ready.Read(st)
	if err != nil {
		panic(err)
	}
	fmt.Println(h.Fish(), "birds,", len(h.River.Sites), "years")
	fmt.Println("sex:", h.Column("sex").Levels)
	// Output:
	// 294 birds, 7 years
	// sex: [female male]
}

// The same birds as counts.
func ExampleRead_counts() {
	st, err := study.Load("../../testdata/published/lebreton1992/dipper_next_seen.toml")
	if err != nil {
		panic(err)
	}
	h, _, err := ready.Read(st)
	if err != nil {
		panic(err)
	}
	first := h.NextSeen()[0]
	fmt.Printf("%d let go in %s: next seen %v, never %d\n", first.Released, h.River.Sites[first.Site].Name, first.Next[1:], first.Never())
	// Output:
	// 22 let go in 1981: next seen [11 2 0 0 0 0], never 9
}
