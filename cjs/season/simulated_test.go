package season_test

import (
	"math"
	"math/rand/v2"
	"time"

	"example.org/unseen/history"
	"example.org/unseen/likelihood/passtime"
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
	// restKm, where set instead of restDays, is the way lost by the rest, as
	// the model has it.
	restKm float64
}

// issue is the season of the study: what the numbers were to be was settled
// before the first run.
func issue() truth {
	return truth{km: []float64{0, 40, 75, 110}, s: []float64{.70, .80, .85}, p: []float64{.30, .40, .50}, drift: 6, spread: 18}
}

// season draws fish released at noon of each of 40 days, an equal number a day.
func (tr truth) season(rnd *rand.Rand, fish int) *history.Histories {
	const releaseDays = 40
	h := &history.Histories{Cohorts: []string{"all"}}
	for k, x := range tr.km {
		h.River.Sites = append(h.River.Sites, history.Site{Name: []string{"Mill Lade", "Alder Ford", "Scar Weir", "Tidehead"}[k], Km: x, Days: math.NaN()})
	}
	rows := len(tr.km) - 1
	for i := range fish {
		released := float64(i*releaseDays/fish) + 0.5
		drift := tr.drift
		if tr.share > 0 && rnd.Float64() < tr.share {
			drift = tr.second
		}
		t := released
		if tr.rest > 0 && rnd.Float64() < tr.rest {
			t += tr.restDays * rnd.ExpFloat64()
			if tr.restKm > 0 {
				t += passtime.Law{Km: tr.restKm, Drift: drift, Spread: tr.spread}.Quantile(rnd.Float64())
			}
		}
		var seen uint64
		for range rows {
			h.First = append(h.First, history.NoTime)
		}
		for k := range rows {
			if rnd.Float64() >= tr.s[k] {
				break
			}
			t += passtime.Law{Km: tr.km[k+1] - tr.km[k], Drift: drift, Spread: tr.spread}.Quantile(rnd.Float64())
			if rnd.Float64() < tr.p[k] {
				seen |= 1 << uint(k)
				h.First[i*rows+k] = at(t)
			}
		}
		h.Entry, h.Seen = append(h.Entry, 0), append(h.Seen, seen)
		h.End, h.Cohort = append(h.End, history.Open), append(h.Cohort, 0)
		h.Released = append(h.Released, at(released))
	}
	h.Last = append([]int64(nil), h.First...)
	return h
}

// at is the instant of a day of the season.
func at(day float64) int64 { return start.UnixMilli() + int64(day*msPerDay) }
