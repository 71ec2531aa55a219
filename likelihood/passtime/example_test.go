package passtime_test

import (
	"fmt"

	"example.org/unseen/likelihood/passtime"
)

var ride = passtime.Law{Km: 58, Drift: 12, Spread: 15}

// How many of the fish have come after 3, 6 and 12 days.
func ExampleLaw_CDF() {
	for _, days := range []float64{3, 6, 12} {
		fmt.Printf("%2.0f days: %2.0f %%\n", days, 100*ride.CDF(days))
	}
	// Output:
	// 3 days: 27 %
	//  6 days: 75 %
	// 12 days: 98 %
}

// By when half and nine tenths of the fish have come.
func ExampleLaw_Quantile() {
	fmt.Printf("half by day %.1f, nine tenths by day %.1f\n", ride.Quantile(0.5), ride.Quantile(0.9))
	// Output:
	// half by day 4.2, nine tenths by day 8.4
}
