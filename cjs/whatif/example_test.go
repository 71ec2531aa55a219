package whatif_test

import (
	"context"
	"fmt"

	"example.org/unseen/cjs/internal/hollin"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/whatif"
)

// What the answer hangs on: refits with one thing left out.
func ExampleRun() {
	in := model.Input{Histories: hollin.Counted()}
	r, err := whatif.Run(context.Background(), hollin.Fitted("reach + cohort", "site"), whatif.Changes(in), whatif.Options{})
	if err != nil {
		panic(err)
	}
	for _, o := range r.Outcomes {
		if m := o.Largest(); m != nil {
			fmt.Printf("%s: %d fish, %+.1f points\n", o.Words, o.Fish, 100*m.By)
		}
	}
	// Output:
	// without cohort early: 200 fish, -16.7 points
	// without cohort late: 300 fish, +10.1 points
	// without Tidehead: 500 fish, +7.9 points
	// without Scar Weir: 500 fish, +7.4 points
	// without Alder Ford: 500 fish, -2.2 points
}

// The fish that move the shares most.
func ExampleInfluences() {
	list, err := whatif.Influences(context.Background(), hollin.Fitted("reach", "same"), 2)
	if err != nil {
		panic(err)
	}
	for _, x := range list {
		fmt.Printf("%s, %d alike: %+.2f points at the last site\n", x.History, x.Alike, 100*x.By[2])
	}
	// Output:
	// 1 0 0 1, 22 alike: -0.21 points at the last site
	// 1 0 0 1, 11 alike: -0.21 points at the last site
}
