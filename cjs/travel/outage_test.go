package travel

import (
	"math"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/simulate"
	"example.org/unseen/history"
	"example.org/unseen/history/study"
	"example.org/unseen/likelihood/passtime"
)

// outage is a season in which a site did not work from one day to another, as
// declared: fish let go at noon of 15 days travel at 6 km/day with a spread of
// 9 km/√day to sites 40, 75 and 110 km below, survival .85, detection .6.
type outage struct {
	name    string
	site    int
	from    float64 // days from the first release
	to      float64 // +Inf: for good
	cohorts int
	// known: test passes tell the last site's detection.
	known bool
}

const outageSeed = 20250507 // fixed before the first run

var outageKm = []float64{0, 40, 75, 110}

var outages = []outage{
	{"first, seven days", 1, 9, 16, 1, true},
	{"last, for good", 3, 27, math.Inf(1), 1, true},
	{"last, six days, detection not known", 3, 21, 27, 1, false},
	{"last, eight days", 3, 21, 29, 1, true},
	{"inner, eight days", 2, 15, 23, 1, true},
	{"inner, eight days, three cohorts", 2, 15, 23, 3, true},
}

var outageLaw = simulate.Movement{Drift: 6, Spread: 9}

func (o *outage) truth() *simulate.Truth {
	t := &simulate.Truth{}
	for k, name := range []string{"Mill Lade", "Alder Ford", "Scar Weir", "Tidehead"} {
		t.River.Sites = append(t.River.Sites, history.Site{Name: name, Km: outageKm[k], Days: math.NaN()})
	}
	for c := range o.cohorts {
		each := 15 / o.cohorts
		co := simulate.Cohort{Name: []string{"week 1", "week 2", "week 3"}[c], Fish: 600 / o.cohorts,
			Survival: []float64{.85, .85, .85}, Detection: []float64{.6, .6, .6}, Movement: outageLaw}
		for d := c * each; d < (c+1)*each; d++ {
			co.Released = append(co.Released, o.at(float64(d)).UnixMilli())
		}
		t.Cohorts = append(t.Cohorts, co)
	}
	if o.known {
		t.TestPasses = []simulate.TestPasses{{Row: 2, Passes: 80}}
	}
	t.Working = make([][]study.Window, 3)
	w := []study.Window{{To: o.at(o.from)}}
	if !math.IsInf(o.to, 1) {
		w = append(w, study.Window{From: o.at(o.to)})
	}
	t.Working[o.site-1] = w
	return t
}

func (o *outage) at(day float64) time.Time {
	return time.Date(2025, 4, 1, 12, 0, 0, 0, time.UTC).Add(time.Duration(day * 24 * float64(time.Hour)))
}

// half is the day by which half of the fish that pass the site have: all reaches
// have one survival, so the mean of the laws' shares is one half there.
func (o *outage) half() float64 {
	law := passtime.Law{Km: outageKm[o.site], Drift: outageLaw.Drift, Spread: outageLaw.Spread}
	low, high := 0.0, 200.0
	for range 60 {
		day, sum := (low+high)/2, 0.0
		for d := range 15 {
			sum += law.CDF(day-float64(d)) / 15
		}
		if sum < 0.5 {
			low = day
		} else {
			high = day
		}
	}
	return low
}

// run fits replicate n and measures its travel times.
func (o *outage) run(t testing.TB, n int) *Result {
	t.Helper()
	truth := o.truth()
	require.NoError(t, truth.Check())
	s := truth.Draw(outageSeed, uint64(n))
	p, err := model.Build(model.Input{Histories: s.Histories, TestPasses: s.TestPasses, Working: truth.Working},
		model.Spec{Survival: "reach by cohort", Detection: "row", Drift: "same", Spread: "same"})
	require.NoError(t, err)
	f, err := cjs.New(t.Context(), p, cjs.Options{Interval: "logit"})
	require.NoError(t, err)
	require.Equal(t, cjs.Converged, f.Verdict)
	r, err := New(t.Context(), s.Histories, Options{Seen: f.SeenAt(), SeenKnown: f.SeenKnown, Unwatched: f.Unwatched, Working: f.Working})
	require.NoError(t, err)
	return r
}

// TestTravelInOutages: the corrected half date is where it is in truth,
// whenever the site stood still, |mean error| below 0.1 standard deviations + 3
// standard errors (fixed before the first run), where that of the fish seen is off
// by a third of a day at least. The law's median of the stretch above is likewise
// right, the interval of its drift holds the truth in 95 % less 3 binomial standard deviations
// of the studies at least, and its check rejects in 5 % and as many at most, going
// by the upper bound.
func TestTravelInOutages(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	for i := range outages[:outageDesigns] {
		o := &outages[i]
		t.Run(o.name, func(t *testing.T) {
			var off, seen, medians []float64
			covered, rejected := 0.0, 0.0
			law := passtime.Law{Km: outageKm[o.site] - outageKm[o.site-1], Drift: outageLaw.Drift, Spread: outageLaw.Spread}
			truth := law.Quantile(0.5)
			for n := range outageReplicates {
				r := o.run(t, n)
				at := slices.IndexFunc(r.Arrivals, func(a Arrival) bool { return a.Site == o.site && a.Cohort == All })
				require.GreaterOrEqual(t, at, 0)
				a := r.Arrivals[at]
				require.Empty(t, a.Why)
				day := func(ms int64) float64 { return time.UnixMilli(ms).Sub(o.at(0)).Hours() / 24 }
				off = append(off, day(a.Corrected[1])-o.half())
				seen = append(seen, day(a.Seen[1])-o.half())
				at = slices.IndexFunc(r.Stretches, func(s Stretch) bool { return s.To == o.site && s.Cohort == All })
				l := r.Stretches[at].Law
				require.NotNil(t, l)
				if l.Drift.Low <= outageLaw.Drift && outageLaw.Drift <= l.Drift.High {
					covered++
				}
				if l.Drift.Status == cjs.Estimated { // else it is too early
					medians = append(medians, l.Median.Value-truth)
				}
				if l.Check.PHigh < 0.05 {
					rejected++
				}
			}
			count := 3 * math.Sqrt(outageReplicates*0.95*0.05)
			assert.GreaterOrEqual(t, covered, 0.95*outageReplicates-count)
			assert.LessOrEqual(t, rejected, 0.05*outageReplicates+count)
			mean, sd := moments(medians)
			t.Logf("median %.2f days: %+.3f (SD %.3f), covered %.0f, rejected %.0f", truth, mean, sd, covered, rejected)
			assert.Less(t, math.Abs(mean), 0.1*sd+3*sd/math.Sqrt(float64(len(medians))))
			mean, sd = moments(off)
			bias, _ := moments(seen)
			t.Logf("half on day %.2f: corrected %+.3f (SD %.3f), seen %+.3f", o.half(), mean, sd, bias)
			assert.Less(t, math.Abs(mean), 0.1*sd+3*sd/math.Sqrt(outageReplicates))
			assert.Greater(t, math.Abs(bias), 1.0/3)
		})
	}
}

func moments(x []float64) (mean, sd float64) {
	n := float64(len(x))
	for _, v := range x {
		mean += v / n
	}
	for _, v := range x {
		sd += (v - mean) * (v - mean) / (n - 1)
	}
	return mean, math.Sqrt(sd)
}
