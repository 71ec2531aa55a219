package simulate_test

import (
	"math"

	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/simulate"
	"example.org/unseen/history"
	"example.org/unseen/likelihood"
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
	return onLogits([]simulate.Study{
		{Name: "demo-like", About: "5 cohorts of 360, 4 sites, two rows at the first array", Truth: demo, Seed: 202501},
		{Name: "two-rows", About: "5 cohorts of 360, 4 sites, two rows at the last", Truth: rows, Seed: 202502},
		{Name: "test-passes", About: "5 cohorts of 360, 4 sites, 200 test passes at the last", Truth: test, Seed: 202503},
	})
}

// onLogits makes the studies ones of the interval on the logit scale.
func onLogits(list []simulate.Study) []simulate.Study {
	for i := range list {
		list[i].Options.Interval = "logit"
	}
	return list
}

// effectStudies are the designs of coefficients: length on survival, flow on
// detection, and a mortality per km. Seeds were fixed before the first run.
func effectStudies() []simulate.Study {
	length := simulate.Truth{River: river(4, map[int]int{3: 2}),
		Cohorts: cohorts(1, 1000, []float64{0.75, 0.80, 0.85}, []float64{0.5, 0.6, 0.5, 0.6}),
		Covariates: []simulate.Covariate{
			{Name: "fork_length_mm", Mean: 170, SD: 15, Survival: []float64{0.02, 0.02, 0.02}},
		}}

	flow := history.CohortCondition{Name: "flow"}
	water := simulate.Truth{River: river(4, map[int]int{3: 2}), Cohorts: cohorts(5, 400, []float64{0.75, 0.80, 0.85}, nil)}
	for c := range water.Cohorts {
		var means []float64
		for k := range 4 {
			means = append(means, 8+3*float64(c)-float64(k)+2*float64((c*k)%3))
		}
		flow.Mean = append(flow.Mean, means)
		flow.Fish = append(flow.Fish, []int{0, 100, 100, 100})
		for b, site := range []int{1, 2, 3, 3} {
			p, _ := likelihood.Expit([]float64{1.2, 1.4, 1.0, 1.3}[b] - 0.06*means[site])
			water.Cohorts[c].Detection = append(water.Cohorts[c].Detection, p)
		}
	}
	flow.Within, flow.Between = 1, 5

	long := river(6, nil)
	for k, km := range []float64{58, 49, 36.6, 22, 14.2, 0} {
		long.Sites[k].Km = km
	}
	perKm := simulate.Truth{River: long, Cohorts: cohorts(1, 800, simulate.PerKmSurvival(&long, 0.012), []float64{0.5, 0.6, 0.4, 0.6, 0.5})}
	return onLogits([]simulate.Study{
		{Name: "length-on-survival", About: "1,000 fish, 4 sites, two rows at the last; 0.02 per mm on the logit of survival", Truth: length, Seed: 202504,
			Spec:         model.Spec{Survival: "reach + fork_length_mm", Detection: "row"},
			Coefficients: map[string]float64{"survival fork_length_mm": 0.02, "detection row Tidehead/upper": 0}},
		{Name: "flow-on-detection", About: "5 cohorts of 400, 4 sites, two rows at the last; −0.06 per m³/s on the logit of detection", Truth: water, Seed: 202505,
			Spec: model.Spec{Survival: "reach by cohort", Detection: "row + flow"}, Conditions: []history.CohortCondition{flow},
			Coefficients: map[string]float64{"detection flow": -0.06}},
		{Name: "rate-per-km", About: "800 fish, 6 sites 7.8 to 14.6 km apart; a mortality of 0.012 per km in every reach", Truth: perKm, Seed: 202506,
			Spec:         model.Spec{Survival: "same", Detection: "site", SurvivalLink: "per km"},
			Coefficients: map[string]float64{"survival same": math.Log(0.012), "detection site Alder Ford": 0, "detection site Scar Weir": likelihood.LogitOf(0.6)}},
	})
}

// coverageReplicates of each design of the coverage study.
const coverageReplicates = 10000
