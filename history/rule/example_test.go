package rule_test

import (
	"fmt"

	"example.org/unseen/history/rule"
)

// The rules in their documented order.
func ExampleOf() {
	fmt.Println(rule.Of(rule.None + 1).Name)
	_, err := rule.NewOff([]string{"too_fsat"})
	fmt.Println(err)
	// Output:
	// unreadable record
	// off names "too_fsat", which is no rule that can be switched off; these can: test_tag, outside_working, too_fast, turned_back, parked_tag, uncertain_species, below_minimum_length, odd_length, released_after_records, alike_sites, outage, clock_jump, season_runs, sites_reversed; did you mean "too_fast"?
}

// A fish at Tidehead, 58 km down, two hours after its release: the passage is
// not its own.
func ExampleFindTooFast() {
	hour := int64(3_600_000)
	passages := []rule.Passage{{Site: 1, First: 30 * hour, Last: 30 * hour, Reads: 1}, {Site: 2, First: 2 * hour, Last: 2 * hour, Reads: 1}}
	fmt.Printf("%02b\n", rule.FindTooFast(passages, 0, 0, []float64{58, 36.6, 0}, 200))
	// Output:
	// 10
}
