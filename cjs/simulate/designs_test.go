package simulate_test

import (
	"math"

	"example.org/unseen/cjs/simulate"
	"example.org/unseen/history"
)

// river is n sites; rows gives the number of rows of divided ones.
func river(n int, rows map[int]int) history.River {
	names := []string{"Mill Lade", "Alder Ford", "Scar Weir", "Otter Pool", "Long Reach", "Kiln Bridge", "Salt Marsh", "Tidehead"}
	// A shorter river ends at Tidehead all the same.
	names = append(append([]string{}, names[:n-1]...), "Tidehead")
	r := history.River{}
	for k, name := range names {
		s := history.Site{Name: name, Km: math.NaN(), Days: math.NaN()}
		if m := rows[k]; m > 1 {
			s.Rows = []string{"upper", "middle", "lower"}[:m]
			if m == 2 {
				s.Rows = []string{"upper", "lower"}
			}
		}
		r.Sites = append(r.Sites, s)
	}
	return r
}

// cohorts are n cohorts of so many fish, their survival shifted a little.
func cohorts(n, fish int, survival, detection []float64) []simulate.Cohort {
	names := []string{"week 1", "week 2", "week 3", "week 4", "week 5"}
	var out []simulate.Cohort
	for i := range n {
		c := simulate.Cohort{Name: names[i], Fish: fish, Detection: detection}
		if n == 1 {
			c.Name = "all"
		}
		for _, s := range survival {
			c.Survival = append(c.Survival, s+0.02*(float64(i)-float64(n-1)/2))
		}
		out = append(out, c)
	}
	return out
}

// passedStudies are the designs of the main job: like the demo; two rows at
// the last site; test passes there. Seeds were fixed before the first run.
func passedStudies() []simulate.Study {
	demo := simulate.Truth{River: river(4, map[int]int{1: 2}),
		Cohorts: cohorts(5, 360, []float64{0.75, 0.80, 0.85}, []float64{0.5, 0.6, 0.6, 0.5})}
	rows := simulate.Truth{River: river(4, map[int]int{3: 2}),
		Cohorts: cohorts(5, 360, []float64{0.75, 0.80, 0.85}, []float64{0.5, 0.6, 0.5, 0.6})}
	test := simulate.Truth{River: river(4, nil),
		Cohorts:    cohorts(5, 360, []float64{0.75, 0.80, 0.85}, []float64{0.5, 0.6, 0.5}),
		TestPasses: []simulate.TestPasses{{Row: 2, Passes: 200}}}
	return []simulate.Study{
		{Name: "demo-like", About: "5 cohorts of 360, 4 sites, two rows at the first array", Truth: demo, Seed: 202501},
		{Name: "two-rows", About: "5 cohorts of 360, 4 sites, two rows at the last", Truth: rows, Seed: 202502},
		{Name: "test-passes", About: "5 cohorts of 360, 4 sites, 200 test passes at the last", Truth: test, Seed: 202503},
	}
}

// plannedStudy is a study with the number of its replicates.
type plannedStudy struct {
	simulate.Study
	replicates int
}

func allStudies() []plannedStudy {
	var out []plannedStudy
	for _, s := range passedStudies() {
		out = append(out, plannedStudy{s, 2000})
	}
	return out
}
