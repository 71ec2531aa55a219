package simulate_test

import (
	"math/rand/v2"
	"time"

	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/simulate"
	"example.org/unseen/likelihood"
)

// thinReplicates of each design of the study of thin data.
const thinReplicates = 2000

// thinStudy is a design where data are thin, or nearly.
type thinStudy struct {
	simulate.Study
	// ample: warnings about passed % are to be rare.
	ample bool
	// centre is the truth about which that of each replicate is drawn.
	centre simulate.Truth
}

// vary draws a probability anew.
type vary func(p float64) float64

// nearby draws uniformly within 0.02 of p, as far as that is a probability.
func nearby(rnd *rand.Rand) vary {
	return func(p float64) float64 { return min(1, max(0, p+0.02*(2*rnd.Float64()-1))) }
}

func (v vary) all(p ...float64) []float64 {
	out := make([]float64, len(p))
	for i := range p {
		out[i] = v(p[i])
	}
	return out
}

// thin is a design whose truth is made by truth, which draws every free
// probability once.
func thin(name, about string, spec model.Spec, truth func(v vary) simulate.Truth) thinStudy {
	centre := truth(func(p float64) float64 { return p })
	if !centre.AsOf.IsZero() {
		// One law of travel, not one by a test of each sample.
		spec.Drift, spec.Spread = "same", "same"
	}
	return thinStudy{centre: centre, Study: simulate.Study{Name: name, About: about, Spec: spec, Truth: centre,
		Vary: func(rnd *rand.Rand) simulate.Truth { return truth(nearby(rnd)) }}}
}

// group is one cohort with these survivals and detections.
func group(fish int, survival, detection []float64) []simulate.Cohort {
	return []simulate.Cohort{{Name: "all", Fish: fish, Survival: survival, Detection: detection}}
}

// additive are n cohorts whose survivals differ on the logit scale by the same
// in every reach, from −spread to spread.
func additive(n, fish int, spread float64, survival, detection []float64) []simulate.Cohort {
	var out []simulate.Cohort
	for i := range n {
		c := simulate.Cohort{Name: "week " + string(rune('1'+i)), Fish: fish, Detection: detection}
		for _, s := range survival {
			p := s
			if s > 0 && s < 1 {
				p, _ = likelihood.Expit(likelihood.LogitOf(s) + spread*(2*float64(i)/float64(n-1)-1))
			}
			c.Survival = append(c.Survival, p)
		}
		out = append(out, c)
	}
	return out
}

// onLength lets survival of every reach rise with a length, standard deviation
// 15 mm.
func onLength(t simulate.Truth, perMM float64) simulate.Truth {
	t.Covariates = []simulate.Covariate{{Name: "fork_length_mm", Mean: 170, SD: 15, Survival: same(len(t.River.Sites)-1, perMM)}}
	return t
}

// midway lets a season run: sites 25 km apart, fish that drift 10 km/day,
// released at noon of so many days from each cohort's first on, and as_of so
// many days after the first of all.
func midway(t simulate.Truth, released, apart int, asOf float64) simulate.Truth {
	n := len(t.River.Sites)
	for k := range t.River.Sites {
		t.River.Sites[k].Km = 25 * float64(n-1-k)
	}
	for i := range t.Cohorts {
		c := &t.Cohorts[i]
		c.Movement = simulate.Movement{Drift: 10, Spread: 12}
		for d := range released {
			c.Released = append(c.Released, firstDay.Add(time.Duration(i*apart+d)*day).UnixMilli())
		}
	}
	t.AsOf = firstDay.Add(time.Duration(asOf * float64(day)))
	return t
}

// thinStudies: additive cohorts (2 to 6), survival of 0.95 to 1, detection of
// 0.1 to 1, 30 to 300 fish, a length with and without separation, removals, two
// rows, a borrowed last site, test passes, days of a season that runs. Designs,
// seeds, number of replicates and limits were fixed before the first run.
func thinStudies() []thinStudy {
	last := func(sites int) map[int]int { return map[int]int{sites - 1: 2} }
	plus := model.Spec{Survival: "reach + cohort", Detection: "row"}
	plain := model.Spec{Survival: "reach", Detection: "row"}
	borrowed := model.Spec{Survival: "reach", Detection: "same"}
	length := model.Spec{Survival: "reach + fork_length_mm", Detection: "row"}
	at := func(sites int, rows map[int]int, c []simulate.Cohort) simulate.Truth {
		return simulate.Truth{River: river(sites, rows), Cohorts: c}
	}
	test := func(t simulate.Truth, row, passes int) simulate.Truth {
		t.TestPasses = []simulate.TestPasses{{Row: row, Passes: passes}}
		return t
	}
	list := []thinStudy{
		thin("additive-2", "2 cohorts of 150, 4 sites, survival .7, .97, .8, cohorts ∓0.3 on the logit, detection .4, two rows at the last", plus,
			func(v vary) simulate.Truth {
				return at(4, last(4), additive(2, 150, 0.3, v.all(0.7, 0.97, 0.8), v.all(0.4, 0.4, 0.4, 0.4)))
			}),
		thin("additive-3", "3 cohorts of 150, otherwise the same", plus,
			func(v vary) simulate.Truth {
				return at(4, last(4), additive(3, 150, 0.3, v.all(0.7, 0.97, 0.8), v.all(0.4, 0.4, 0.4, 0.4)))
			}),
		thin("additive-4", "4 cohorts of 75, survival .9, .95, .85, ∓0.4, detection .5, two rows at the last", plus,
			func(v vary) simulate.Truth {
				return at(4, last(4), additive(4, 75, 0.4, v.all(0.9, 0.95, 0.85), v.all(0.5, 0.5, 0.5, 0.5)))
			}),
		thin("additive-5-sharp", "5 cohorts of 60, survival .85, .85, .9, ∓0.5, detection .9, two rows at the last", plus,
			func(v vary) simulate.Truth {
				return at(4, last(4), additive(5, 60, 0.5, v.all(0.85, 0.85, 0.9), v.all(0.9, 0.9, 0.9, 0.9)))
			}),
		thin("additive-6", "6 cohorts of 50, survival .8, .98, .9, ∓0.3, detection .3, two rows at the last", plus,
			func(v vary) simulate.Truth {
				return at(4, last(4), additive(6, 50, 0.3, v.all(0.8, 0.98, 0.9), v.all(0.3, 0.3, 0.3, 0.3)))
			}),
		thin("additive-removals", "2 cohorts of 200, survival .8, .95, .85, ∓0.3, detection .5, 20 % of the fish seen at the second array taken out", plus,
			func(v vary) simulate.Truth {
				return at(4, last(4), removing(additive(2, 200, 0.3, v.all(0.8, 0.95, 0.85), v.all(0.5, 0.5, 0.5, 0.5)), []float64{0, 0, 0.2, 0}))
			}),
		thin("additive-ample", "3 cohorts of 300, survival .7, .75, .7, ∓0.3, detection .7, two rows at the last", plus,
			func(v vary) simulate.Truth {
				return at(4, last(4), additive(3, 300, 0.3, v.all(0.7, 0.75, 0.7), v.all(0.7, 0.7, 0.6, 0.6)))
			}),
		thin("survival-97-100", "100 fish, 4 sites, survival .97, detection .5, two rows at the last", plain,
			func(v vary) simulate.Truth {
				return at(4, last(4), group(100, v.all(0.97, 0.97, 0.97), v.all(0.5, 0.5, 0.5, 0.5)))
			}),
		thin("survival-95-300", "300 fish, 4 sites, survival .95, detection .6, two rows at the last", plain,
			func(v vary) simulate.Truth {
				return at(4, last(4), group(300, v.all(0.95, 0.95, 0.95), v.all(0.6, 0.6, 0.6, 0.6)))
			}),
		thin("survival-1", "200 fish, 4 sites, every fish survives the second reach, .8 the others, detection .5, two rows at the last", plain,
			func(v vary) simulate.Truth {
				return at(4, last(4), group(200, v.all(0.8, 1, 0.8), v.all(0.5, 0.5, 0.5, 0.5)))
			}),
		thin("all-survive-60", "60 fish, 3 sites, survival 1, detection .3, two rows at the last", plain,
			func(v vary) simulate.Truth { return at(3, last(3), group(60, v.all(1, 1), v.all(0.3, 0.3, 0.3))) }),
		thin("thirty", "30 fish, 3 sites, survival .7, detection .5, two rows at the last", plain,
			func(v vary) simulate.Truth { return at(3, last(3), group(30, v.all(0.7, 0.7), v.all(0.5, 0.5, 0.5))) }),
		thin("thirty-high", "30 fish, 3 sites, survival .9 and .95, detection .7, two rows at the last", plain,
			func(v vary) simulate.Truth { return at(3, last(3), group(30, v.all(0.9, 0.95), v.all(0.7, 0.7, 0.7))) }),
		thin("faint-300", "300 fish, 4 sites, survival .8, detection .1, two rows at the last, read .3", plain,
			func(v vary) simulate.Truth {
				return at(4, last(4), group(300, v.all(0.8, 0.8, 0.8), v.all(0.1, 0.1, 0.3, 0.3)))
			}),
		thin("faint-first", "200 fish, 4 sites, survival .8, detection .1 at the first array, .6 below, two rows at the last", plain,
			func(v vary) simulate.Truth {
				return at(4, last(4), group(200, v.all(0.8, 0.8, 0.8), v.all(0.1, 0.6, 0.6, 0.6)))
			}),
		thin("all-seen", "100 fish, 4 sites, survival .7, the second array sees every fish, the others .5, two rows at the last", plain,
			func(v vary) simulate.Truth {
				return at(4, last(4), group(100, v.all(0.7, 0.7, 0.7), v.all(0.5, 1, 0.5, 0.5)))
			}),
		thin("two-rows-100", "100 fish, 3 sites, survival .7, detection .4, two rows at the last, read .3 and .4", plain,
			func(v vary) simulate.Truth { return at(3, last(3), group(100, v.all(0.7, 0.7), v.all(0.4, 0.3, 0.4))) }),
		thin("two-rows-ample", "300 fish, 3 sites, survival .7 and .75, detection .7, two rows at the last, read .6 and .7", plain,
			func(v vary) simulate.Truth { return at(3, last(3), group(300, v.all(0.7, 0.75), v.all(0.7, 0.6, 0.7))) }),
		thin("borrowed-150", "150 fish, 4 sites, survival .8, .7, .75, one detection of .4 for all sites", borrowed,
			func(v vary) simulate.Truth {
				return at(4, nil, group(150, v.all(0.8, 0.7, 0.75), same(3, v(0.4))))
			}),
		thin("borrowed-sharp", "100 fish, 3 sites, survival .7, one detection of .97 for all sites", borrowed,
			func(v vary) simulate.Truth { return at(3, nil, group(100, v.all(0.7, 0.7), same(2, v(0.97)))) }),
		thin("borrowed-same-50", "50 fish, 4 sites, one survival of .8 and one detection of .5", model.Spec{Survival: "same", Detection: "same"},
			func(v vary) simulate.Truth { return at(4, nil, group(50, same(3, v(0.8)), same(3, v(0.5)))) }),
		thin("tested-20", "150 fish, 3 sites, survival .7 and .8, detection .6, 20 test passes at the last", plain,
			func(v vary) simulate.Truth {
				return test(at(3, nil, group(150, v.all(0.7, 0.8), v.all(0.6, 0.6))), 1, 20)
			}),
		thin("tested-sharp-15", "100 fish, 3 sites, survival .8 and .6, detection .5 and .95, 15 test passes at the last", plain,
			func(v vary) simulate.Truth {
				return test(at(3, nil, group(100, v.all(0.8, 0.6), v.all(0.5, 0.95))), 1, 15)
			}),
		thin("removals-200", "200 fish, 4 sites, survival .85, detection .6, 20 and 30 % of the fish seen taken out, two rows at the last", plain,
			func(v vary) simulate.Truth {
				return at(4, last(4), removing(group(200, v.all(0.85, 0.85, 0.85), v.all(0.6, 0.6, 0.6, 0.6)), []float64{0, 0.2, 0.3, 0}))
			}),
		thin("length-200", "200 fish, 4 sites, survival .75, .8, .8 and 0.02 per mm, detection .5, two rows at the last", length,
			func(v vary) simulate.Truth {
				return onLength(at(4, last(4), group(200, v.all(0.75, 0.8, 0.8), v.all(0.5, 0.5, 0.5, 0.5))), 0.02)
			}),
		thin("length-ample", "300 fish, 3 sites, survival .7 and .75 and 0.02 per mm, detection .7, two rows at the last", length,
			func(v vary) simulate.Truth {
				return onLength(at(3, last(3), group(300, v.all(0.7, 0.75), v.all(0.7, 0.7, 0.7))), 0.02)
			}),
		thin("length-separates-60", "60 fish, 3 sites, survival .6 and .7 and 0.5 per mm, which all but settles it, detection .7, two rows at the last", length,
			func(v vary) simulate.Truth {
				return onLength(at(3, last(3), group(60, v.all(0.6, 0.7), v.all(0.7, 0.6, 0.6))), 0.5)
			}),
		thin("season-early", "200 fish of 8 days, 3 sites 25 km apart, survival .8, detection .6, two rows at the last, the 8th day", plain,
			func(v vary) simulate.Truth {
				return midway(at(3, last(3), group(200, v.all(0.8, 0.8), v.all(0.6, 0.6, 0.6))), 8, 0, 7.5)
			}),
		thin("season-midway", "300 fish of 10 days, 3 sites, survival .8, detection .6, two rows at the last, the 14th day", plain,
			func(v vary) simulate.Truth {
				return midway(at(3, last(3), group(300, v.all(0.8, 0.8), v.all(0.6, 0.6, 0.6))), 10, 0, 13.5)
			}),
		thin("season-additive", "2 cohorts of 150, of 4 days each and 5 days apart, 3 sites, survival .75 and .9, ∓0.3, detection .6, two rows at the last, the 16th day", plus,
			func(v vary) simulate.Truth {
				return midway(at(3, last(3), additive(2, 150, 0.3, v.all(0.75, 0.9), v.all(0.6, 0.6, 0.6))), 4, 5, 15.5)
			}),
		thin("season-late", "200 fish of 8 days, 3 sites, survival .9 and .85, detection .5, two rows at the last, the 21st day", plain,
			func(v vary) simulate.Truth {
				return midway(at(3, last(3), group(200, v.all(0.9, 0.85), v.all(0.5, 0.5, 0.5))), 8, 0, 20.5)
			}),
	}
	for i := range list {
		s := &list[i]
		s.Seed = 202801 + uint64(i)
		switch s.Name {
		case "additive-ample", "two-rows-ample", "length-ample":
			s.ample = true
		}
	}
	return list
}
