package season_test

import (
	"math"
	"time"

	"example.org/unseen/cjs/simulate"
	"example.org/unseen/history"
)

var start = time.Date(2025, 4, 1, 0, 0, 0, 0, time.UTC)

const msPerDay = 24 * 60 * 60 * 1000

// truth is a season with known truth: sites km below the release, survival and
// detection of each, drift and spread of the migrants.
type truth struct {
	km, s, p      []float64
	drift, spread float64
	// second, if set, is the drift of a second kind of migrants, share of
	// all; rest is the share that rests for restDays (exponential mean)
	// before it starts.
	second, share  float64
	rest, restDays float64
	// restKm is the way lost by the rest, as the model has it.
	restKm float64
}

// spring is the season of the study: what the numbers were to be was settled
// before the first run.
func spring() truth {
	return truth{km: []float64{0, 40, 75, 110}, s: []float64{.70, .80, .85}, p: []float64{.30, .40, .50}, drift: 6, spread: 18}
}

// season draws fish released at noon of each of 40 days, an equal number a day.
func (tr truth) season(seed, index uint64, fish int) *history.Histories {
	c := simulate.Cohort{Name: "all", Fish: fish, Survival: tr.s, Detection: tr.p,
		Movement: simulate.Movement{Drift: tr.drift, Spread: tr.spread, Rest: tr.rest, RestDays: tr.restDays, RestKm: tr.restKm}}
	for day := range 40 {
		c.Released = append(c.Released, at(float64(day)+0.5))
	}
	t := simulate.Truth{Cohorts: []simulate.Cohort{c}, Violations: simulate.Violations{Second: simulate.Mixture{Share: tr.share, Drift: tr.second}}}
	for k, x := range tr.km {
		t.River.Sites = append(t.River.Sites, history.Site{Name: []string{"Mill Lade", "Alder Ford", "Scar Weir", "Tidehead"}[k], Km: x, Days: math.NaN()})
	}
	if err := t.Check(); err != nil {
		panic(err)
	}
	return t.Draw(seed, index).Histories
}

// at is the instant of a day of the season.
func at(day float64) int64 { return start.UnixMilli() + int64(day*msPerDay) }
