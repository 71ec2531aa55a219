package history_test

import (
	"fmt"

	"example.org/unseen/history"
)

// Fish by what is known of each, and the counts that carry it all.
func ExampleNewHistories() {
	river := history.River{Sites: []history.Site{{Name: "Mill Lade"}, {Name: "Alder Ford"}, {Name: "Tidehead"}}}
	h, err := history.NewHistories(river, []history.Record{
		{Seen: history.At("Alder Ford", "Tidehead"), Count: 30},
		{Seen: history.At("Alder Ford"), Count: 12},
		{Seen: history.At("Tidehead"), Count: 20},
		{Count: 38},
	})
	if err != nil {
		panic(err)
	}
	fmt.Println(h.Fish(), "fish")
	for _, row := range h.NextSeen() {
		fmt.Printf("of %d at %s: next seen %v, never %d\n", row.Released, river.Sites[row.Site].Name, row.Next[1:], row.Never())
	}
	// Output:
	// 100 fish
	// of 100 at Mill Lade: next seen [42 20], never 38
	// of 42 at Alder Ford: next seen [0 30], never 12
}

// A record that cannot be is refused with what would be right.
func ExampleHistories_Check() {
	river := history.River{Sites: []history.Site{{Name: "Mill Lade"}, {Name: "Alder Ford"}}}
	_, err := history.NewHistories(river, []history.Record{{Tag: "999041000000908", Seen: history.At("Alder Frod")}})
	fmt.Println(err)
	h := history.Histories{River: river, Entry: []uint8{0}, Seen: []uint64{1 << 1}, End: make([]history.End, 1), Cohort: make([]int32, 1), Cohorts: []string{"all"}}
	fmt.Println(h.Check())
	// Output:
	// record 1 (999041000000908): no row "Alder Frod" lies below the first site; there are Alder Ford
	// record 1 has bit 1 of Seen set, but the sites below the first have 1 rows, so bits 0 to 0; a bit is of a row, not of a site (see River.FirstRow)
}
