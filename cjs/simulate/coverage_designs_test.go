package simulate_test

import (
	"example.org/unseen/cjs/simulate"
)

// same is n times v.
func same(n int, v float64) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = v
	}
	return out
}

// removing is cohorts with a share taken out of the fish seen at each site.
func removing(cs []simulate.Cohort, removed []float64) []simulate.Cohort {
	for i := range cs {
		cs[i].Removed = removed
	}
	return cs
}

// coverageStudies span what users bring: 100 to 20,000 fish, 2 to 8 sites,
// detection 0.05 to 0.95, probabilities at their bounds, removals, rows, test
// passes, a tag trial. Seeds were fixed before the first run.
func coverageStudies() []simulate.Study {
	one := func(sites int, rows map[int]int, fish int, survival, detection []float64) simulate.Truth {
		return simulate.Truth{River: river(sites, rows), Cohorts: cohorts(1, fish, survival, detection)}
	}
	trial := func(t simulate.Truth, row, passes int) simulate.Truth {
		t.TestPasses = []simulate.TestPasses{{Row: row, Passes: passes}}
		return t
	}
	removals := one(5, nil, 5000, []float64{0.8, 0.75, 0.8, 0.7}, []float64{0.5, 0.4, 0.5, 0.5})
	removals.Cohorts = removing(removals.Cohorts, []float64{0, 0.2, 0.3, 0.1, 0})
	kept := one(4, map[int]int{3: 2}, 1500, []float64{0.7, 0.75, 0.75}, []float64{0.5, 0.5, 0.5, 0.5})
	kept.Retention = simulate.Retention{Held: 300, Kept: 0.95}
	entries := one(5, nil, 900, []float64{0.7, 0.75, 0.7, 0.7}, []float64{0.5, 0.5, 0.5, 0.5})
	later := cohorts(1, 700, []float64{0.7, 0.75, 0.7, 0.7}, []float64{0.5, 0.5, 0.5, 0.5})[0]
	later.Entry = 2
	entries.Cohorts = append(entries.Cohorts, later)
	weeks := simulate.Truth{River: river(4, nil), Cohorts: cohorts(5, 600, []float64{0.6, 0.65, 0.7}, []float64{0.5, 0.5, 0.5})}
	sparse := simulate.Truth{River: river(4, nil), Cohorts: cohorts(3, 24, []float64{0.6, 0.65, 0.7}, []float64{0.3, 0.3, 0.3})}

	list := []simulate.Study{
		{Name: "one-array-100", About: "100 fish, 2 sites, two rows read .6 and .7", Truth: one(2, map[int]int{1: 2}, 100, []float64{0.6}, []float64{0.6, 0.7})},
		{Name: "two-arrays-300", About: "300 fish, 3 sites, detection .6, two rows at the last", Truth: one(3, map[int]int{2: 2}, 300, []float64{0.65, 0.65}, []float64{0.6, 0.6, 0.6})},
		{Name: "four-sites-2000", About: "2,000 fish, 4 sites, detection .4", Truth: one(4, nil, 2000, []float64{0.65, 0.65, 0.65}, same(3, 0.4))},
		{Name: "weeks", About: "5 cohorts of 600, 4 sites, detection .5", Truth: weeks},
		{Name: "eight-sites-3000", About: "3,000 fish, 8 sites, detection .5", Truth: one(8, nil, 3000, same(7, 0.75), same(7, 0.5))},
		{Name: "faint-arrays-20000", About: "20,000 fish, 4 sites, detection .05 and two rows at the last, read .5", Truth: one(4, map[int]int{3: 2}, 20000, same(3, 0.65), []float64{0.05, 0.05, 0.5, 0.5})},
		{Name: "sharp-arrays-2000", About: "2,000 fish, 5 sites, detection .95", Truth: one(5, nil, 2000, same(4, 0.7), same(4, 0.95))},
		{Name: "removals", About: "5,000 fish, 5 sites, 10 to 30 % of the fish seen taken out", Truth: removals},
		{Name: "three-rows", About: "2,000 fish, 3 sites, three rows at each, read .25", Truth: one(3, map[int]int{1: 3, 2: 3}, 2000, []float64{0.65, 0.65}, same(6, 0.25))},
		{Name: "trial-250", About: "1,000 fish, 3 sites, detection .5, 250 test passes at the last", Truth: trial(one(3, nil, 1000, []float64{0.65, 0.65}, []float64{0.5, 0.5}), 1, 250)},
		{Name: "tags-lost", About: "1,500 fish, 4 sites, two rows at the last; 5 % of tags lost, 300 fish held to see it", Truth: kept},
		{Name: "two-entries", About: "900 fish from the first site and 700 from the third, 5 sites, detection .5", Truth: entries},
		{Name: "all-survive", About: "500 fish, 4 sites, detection .5; in one reach every fish survives", Truth: one(4, nil, 500, []float64{0.7, 1, 0.7}, same(3, 0.5))},
		{Name: "all-seen", About: "500 fish, 4 sites; one array sees every fish", Truth: one(4, nil, 500, same(3, 0.7), []float64{0.5, 1, 0.5})},
		{Name: "faint-arrays-300", About: "300 fish, 4 sites, detection .05", Truth: one(4, nil, 300, same(3, 0.7), same(3, 0.05))},
		{Name: "small-weeks", About: "3 cohorts of 24, 4 sites, detection .3", Truth: sparse},
		{Name: "trial-10", About: "300 fish, 3 sites, detection .5, 10 test passes at the last", Truth: trial(one(3, nil, 300, []float64{0.65, 0.8}, []float64{0.5, 0.5}), 1, 10)},
		{Name: "good-survival-100", About: "100 fish, 4 sites, survival .97, detection .5", Truth: one(4, nil, 100, same(3, 0.97), same(3, 0.5))},
	}
	for i := range list {
		list[i].Seed = 202510 + uint64(i)
	}
	return onLogits(list)
}
