package season_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/season"
	"example.org/unseen/history"
)

func mustFit(t testing.TB, in model.Input, spec model.Spec) *cjs.Fit {
	t.Helper()
	p, err := model.Build(in, spec)
	require.NoError(t, err)
	f, err := cjs.New(context.Background(), p, cjs.Options{})
	require.NoError(t, err)
	require.Equal(t, cjs.Converged, f.Verdict)
	return f
}

// mixedSeason has what a real one has: two cohorts, two rows at the first
// array, fish removed at the second, test passes at the last.
func mixedSeason(fish int) (*history.Histories, []model.TestPasses) {
	rnd := rand.New(rand.NewPCG(31, 8))
	h := spring().season(31, 7, fish)
	// Split the first site into two rows: what was one sighting becomes one
	// at either or both.
	h.River.Sites[1].Rows = []string{"upper", "lower"}
	first := make([]int64, 0, 4*fish)
	h.Cohorts = []string{"early", "late"}
	for i := range fish {
		seen := h.Seen[i]
		at := h.First[i*3 : i*3+3]
		row := []int64{history.NoTime, history.NoTime, at[1], at[2]}
		var bits uint64
		if seen&1 != 0 {
			// Independent rows that see 0.163 each see 0.3 together; of those
			// seen, 0.089 at both.
			which := 1 + rnd.IntN(2)
			if rnd.Float64() < 0.0889 {
				which = 3
			}
			bits = uint64(which)
			for b := range 2 {
				if which>>b&1 == 1 {
					row[b] = at[0] + int64(b)*60000
				}
			}
		}
		h.Seen[i] = bits | seen>>1<<2
		first = append(first, row...)
		if h.Seen[i]&(1<<2) != 0 && h.Seen[i]&(1<<3) == 0 && rnd.IntN(6) == 0 {
			h.End[i] = history.Removed
		}
		if i >= fish/2 {
			h.Cohort[i] = 1
		}
	}
	h.First, h.Last = first, append([]int64(nil), first...)
	return h, []model.TestPasses{{Row: 3, Passes: 60, Read: 31}}
}

// TestLateEndEqualsPlainFit: when every migrant has come the joint model is the
// plain one times the travel times.
func TestLateEndEqualsPlainFit(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	h, tests := mixedSeason(3000)
	spec := model.Spec{Survival: "reach by cohort", Detection: "row"}
	plain := mustFit(t, model.Input{Histories: h, TestPasses: tests}, spec)
	late := mustFit(t, model.Input{Histories: h, TestPasses: tests, AsOf: start.AddDate(3, 0, 0)}, spec)
	require.Equal(t, plain.Estimable+2, late.Estimable)
	// 1e-6; every 1 − F is below 1e-10.
	for i, s := range plain.Survival {
		assert.InDelta(t, s.Value, late.Survival[i].Value, 1e-6)
		assert.InDelta(t, s.SE, late.Survival[i].SE, 1e-6)
	}
	for i, d := range plain.Detection {
		assert.InDelta(t, d.Value, late.Detection[i].Value, 1e-6)
		assert.InDelta(t, d.SE, late.Detection[i].SE, 1e-6)
	}
	for i, p := range plain.Passed {
		q := late.Passed[i]
		assert.InDelta(t, p.PassedShare.Value, q.PassedShare.Value, 1e-6)
		assert.InDelta(t, p.PassedShare.Value, q.SoFar.Value, 1e-6)
		assert.InDelta(t, 0, q.StillToPass.Value, 1e-6)
		assert.InDelta(t, p.PassedFish.Value, q.PassedFish.Value, 1e-3)
		assert.InDelta(t, p.PassedFish.SE, q.PassedFish.SE, 1e-3)
	}
	require.Len(t, late.Movement, 1)
	assert.InDelta(t, 6, late.Movement[0].Drift.Value, 4*late.Movement[0].Drift.SE)
	assert.InDelta(t, 18, late.Movement[0].Spread.Value, 4*late.Movement[0].Spread.SE)
}

// TestMidSeason: what has passed and what will add up, and the plain model
// takes those on their way for dead.
func TestMidSeason(t *testing.T) {
	h, tests := mixedSeason(3000)
	asOf := start.AddDate(0, 0, 30)
	in := model.Input{Histories: season.Known(h, asOf), TestPasses: tests, AsOf: asOf}
	f := mustFit(t, in, model.Spec{Survival: "reach", Detection: "row"})
	in.AsOf = time.Time{}
	plain := mustFit(t, in, model.Spec{Survival: "reach", Detection: "row"})
	for i, r := range f.Passed {
		if r.PassedShare.Status == cjs.TooEarly {
			assert.True(t, math.IsNaN(r.PassedShare.Value))
			assert.True(t, r.PassedShare.Low < r.PassedShare.High)
			continue
		}
		assert.InDelta(t, r.PassedShare.Value, r.SoFar.Value+r.StillToPass.Value, 1e-12)
		assert.Greater(t, r.PassedShare.Value, plain.Passed[i].PassedShare.Value)
		// Of fish, what has passed so far is known to lie above those seen.
		assert.GreaterOrEqual(t, r.PassedFish.Low, float64(r.KnownPassed))
		assert.InDelta(t, float64(r.Released)*r.SoFar.Value, r.PassedFish.Value, 4*r.PassedFish.SE)
	}
	assert.Less(t, plain.Survival[0].Value, 0.6)
	assert.True(t, f.Survival[0].Low < 0.7 && 0.7 < f.Survival[0].High)
}

// TestTooEarly: on the first days there is an interval and no point.
func TestTooEarly(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	h := spring().season(5, 5, 3600)
	asOf := start.AddDate(0, 0, 12)
	f := mustFit(t, model.Input{Histories: season.Known(h, asOf), AsOf: asOf}, model.Spec{})
	s := f.Survival[1]
	assert.Equal(t, cjs.TooEarly, s.Status)
	assert.True(t, math.IsNaN(s.Value) && math.IsNaN(s.SE))
	assert.Equal(t, "profile", s.Method)
	assert.True(t, s.Low < 0.8 && 0.8 < s.High)
	var ids []string
	for _, w := range f.Warnings {
		ids = append(ids, w.ID)
	}
	assert.Contains(t, ids, cjs.WarnTooEarly)
}

// TestRest: where a share of the fish rests, the variant that allows it fits
// far better and finds the drift, which the other mistakes.
func TestRest(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	tr := spring()
	tr.rest, tr.restKm = 0.4, 72
	tr.spread = 8
	h := tr.season(6, 6, 3600)
	in := model.Input{Histories: h, AsOf: start.AddDate(3, 0, 0)}
	without := mustFit(t, in, model.Spec{Survival: "reach", Detection: "site", Drift: "same", Spread: "same"})
	with := mustFit(t, in, model.Spec{Survival: "reach", Detection: "site", Drift: "same", Spread: "same", Rest: "same"})
	assert.Equal(t, without.Parameters+2, with.Parameters)
	assert.Equal(t, without.Estimable+2, with.Estimable)
	assert.Less(t, with.AICc, without.AICc-50)
	assert.Less(t, math.Abs(with.Movement[0].Drift.Value-6), math.Abs(without.Movement[0].Drift.Value-6))
	m := with.Movement[0]
	assert.InDelta(t, 0.4, m.Rest.Value, 4*m.Rest.SE)
	assert.InDelta(t, 12, m.RestDays.Value, 4*m.RestDays.SE)
	assert.Less(t, m.RestDays.SE, 3.0)
	// Days are the way lost over the drift, both on the log scale: the
	// variance of the log is that of a difference.
	at := map[model.Part]int{}
	for j, c := range with.Problem.Columns {
		at[c.Part] = j
	}
	n := with.Parameters
	c := func(a, b model.Part) float64 { return with.Covariance[at[a]*n+at[b]] }
	days := math.Exp(with.X[at[model.RestKm]] - with.X[at[model.Drift]])
	se := math.Sqrt(c(model.RestKm, model.RestKm) + c(model.Drift, model.Drift) - 2*c(model.RestKm, model.Drift))
	// 1e-9: rounding.
	assert.InDelta(t, days, m.RestDays.Value, 1e-9)
	assert.InDelta(t, days*se, m.RestDays.SE, 1e-9)
	assert.InDelta(t, days*math.Exp(-1.959963984540054*se), m.RestDays.Low, 1e-8)
	assert.InDelta(t, days*math.Exp(1.959963984540054*se), m.RestDays.High, 1e-8)
}

// TestDriftDiffers: terms of drift find the cohort that is faster.
func TestDriftDiffers(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	slow, fast := spring(), spring()
	fast.drift = 12
	a, b := slow.season(7, 1, 1500), fast.season(7, 2, 1500)
	h := *a
	h.Cohorts = []string{"slow", "fast"}
	h.Entry, h.Seen, h.End = append(a.Entry, b.Entry...), append(a.Seen, b.Seen...), append(a.End, b.End...)
	h.Released, h.First, h.Last = append(a.Released, b.Released...), append(a.First, b.First...), append(a.Last, b.Last...)
	h.Cohort = append(append([]int32(nil), a.Cohort...), make([]int32, 1500)...)
	for i := 1500; i < 3000; i++ {
		h.Cohort[i] = 1
	}
	f := mustFit(t, model.Input{Histories: &h, AsOf: start.AddDate(3, 0, 0)}, model.Spec{Survival: "reach", Detection: "site", Drift: "cohort"})
	require.Len(t, f.Movement, 2)
	assert.InDelta(t, 6, f.Movement[0].Drift.Value, 4*f.Movement[0].Drift.SE)
	assert.InDelta(t, 12, f.Movement[1].Drift.Value, 4*f.Movement[1].Drift.SE)
	// The day of release as a number: no effect here, but a coefficient of its own.
	g := mustFit(t, model.Input{Histories: &h, AsOf: start.AddDate(3, 0, 0)}, model.Spec{Survival: "reach", Detection: "site", Drift: "cohort + release_day"})
	assert.Equal(t, f.Parameters+1, g.Parameters)
	assert.LessOrEqual(t, g.MinusTwoLogLikelihood, f.MinusTwoLogLikelihood+1e-6)
	// A law for each reach too; a rest is before all of them.
	in := model.Input{Histories: &h, AsOf: start.AddDate(3, 0, 0)}
	k := mustFit(t, in, model.Spec{Survival: "reach", Detection: "site", Drift: "reach by cohort", Spread: "reach"})
	require.Len(t, k.Movement, 6)
	assert.Equal(t, f.Parameters+4+2, k.Parameters)
	for i, m := range k.Movement {
		assert.InDelta(t, []float64{6, 6, 6, 12, 12, 12}[i], m.Drift.Value, 4*m.Drift.SE)
		assert.InDelta(t, 18, m.Spread.Value, 4*m.Spread.SE)
		assert.Equal(t, []int{i % 3, i%3 + 1}, []int{m.From, m.To})
	}
	_, err := model.Build(in, model.Spec{Drift: "site"})
	assert.ErrorContains(t, err, "use reach, the cohort or columns of the fish")
	_, err = model.Build(in, model.Spec{Rest: "reach"})
	assert.ErrorContains(t, err, "use the cohort or columns of the fish")
}

func TestReplay(t *testing.T) {
	h := spring().season(8, 8, 600)
	days := season.Days(h, 10, time.UTC)
	require.Greater(t, len(days), 4)
	if testing.Short() {
		days = append(days[:3], days[len(days)-1])
	}
	calls := 0
	out, err := season.Replay(context.Background(), model.Input{Histories: h}, model.Spec{}, append([]time.Time{start.Add(time.Hour)}, days...), cjs.Options{}, func(n, of int) { calls++ })
	require.NoError(t, err)
	assert.Equal(t, len(days)+1, calls)
	assert.Error(t, out[0].Err)
	last := out[len(out)-1]
	require.NoError(t, last.Err)
	assert.Equal(t, 600, last.Released)
	// What was known on a day is what the histories cut to it say.
	asOf := days[2]
	f := mustFit(t, model.Input{Histories: season.Known(h, asOf), AsOf: asOf}, model.Spec{})
	assert.Equal(t, f.MinusTwoLogLikelihood, out[3].Running.MinusTwoLogLikelihood)
	// And the plain fit of that day has no times.
	f = mustFit(t, model.Input{Histories: season.Known(h, asOf)}, model.Spec{})
	assert.Equal(t, f.MinusTwoLogLikelihood, out[3].Plain.MinusTwoLogLikelihood)
	// What it came to is of the same fish, with all that is known in the end.
	f = mustFit(t, model.Input{Histories: season.ReleasedBy(h, asOf)}, model.Spec{})
	assert.Equal(t, f.MinusTwoLogLikelihood, out[3].Final.MinusTwoLogLikelihood)
	assert.Less(t, out[3].Released, 600)
	assert.Equal(t, out[3].Running.Passed[0].Released, out[3].Final.Passed[0].Released)
	assert.Greater(t, out[3].Final.Passed[0].Seen, out[3].Running.Passed[0].Seen)
	// A record may stand for two fish.
	twice := *h
	twice.Count = make([]int32, h.Len())
	for i := range twice.Count {
		twice.Count[i] = 2
	}
	double, err := season.Replay(context.Background(), model.Input{Histories: &twice}, model.Spec{}, days[2:3], cjs.Options{}, nil)
	require.NoError(t, err)
	assert.Equal(t, 2*out[3].Released, double[0].Released)
	assert.Equal(t, 2*out[3].Seen, double[0].Seen)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = season.Replay(ctx, model.Input{Histories: h}, model.Spec{}, days, cjs.Options{}, nil)
	assert.ErrorIs(t, err, context.Canceled)
}

// Fish without the length that drift goes by are left out of the fit of the day,
// and so of the two beside it.
func TestReplayIsOfTheSameFish(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	h := *spring().season(5, 2, 600)
	length := history.Column{Name: "length_mm", Value: make([]float64, h.Len())}
	for i := range length.Value {
		if length.Value[i] = float64(150 + i%60); i%3 == 0 {
			length.Value[i] = math.NaN()
		}
	}
	h.Columns = append(h.Columns, length)
	out, err := season.Replay(context.Background(), model.Input{Histories: &h, Missing: "drop"},
		model.Spec{Survival: "reach", Detection: "same", Drift: "length_mm"}, []time.Time{start.Add(20 * 24 * time.Hour)}, cjs.Options{}, nil)
	require.NoError(t, err)
	require.NoError(t, out[0].Err)
	require.NoError(t, out[0].NoFinal)
	of := out[0].Running.Passed[0].Released
	assert.Less(t, of, out[0].Released)
	assert.Equal(t, of, out[0].Plain.Passed[0].Released)
	assert.Equal(t, of, out[0].Final.Passed[0].Released)
}

// A day has 23 hours when the clocks go forward: 30 March 2025 in Dublin.
func TestDaysEndAtMidnight(t *testing.T) {
	dublin, err := time.LoadLocation("Europe/Dublin")
	require.NoError(t, err)
	at := func(s string) int64 {
		x, err := time.ParseInLocation("2006-01-02 15:04", s, dublin)
		require.NoError(t, err)
		return x.UnixMilli()
	}
	h := &history.Histories{Released: []int64{at("2025-03-29 21:00"), at("2025-03-28 09:00")}, Last: []int64{history.NoTime, at("2025-04-01 12:00")}}
	var got []string
	for _, x := range season.Days(h, 2, dublin) {
		got = append(got, x.In(dublin).Format("2006-01-02 15:04"))
	}
	assert.Equal(t, []string{"2025-03-30 00:00", "2025-04-01 00:00", "2025-04-03 00:00"}, got)
	assert.Empty(t, season.Days(h, 0, dublin))
	assert.Empty(t, season.Days(&history.Histories{}, 1, dublin))
}

// The end of a day belongs to the next: a fish released at that midnight is not
// known yet, a sighting of that moment neither, and the last of all is known
// only by the end of its own day.
func TestMidnightIsTheNextDay(t *testing.T) {
	dublin, err := time.LoadLocation("Europe/Dublin")
	require.NoError(t, err)
	midnight := time.Date(2025, 5, 8, 0, 0, 0, 0, dublin)
	ms := midnight.UnixMilli()
	h := spring().season(12, 8, 3)
	copy(h.Released, []int64{ms - 86400_000, ms - 1, ms})
	for i := range h.First {
		h.First[i], h.Last[i] = history.NoTime, history.NoTime
	}
	h.Seen = []uint64{0b011, 0, 0}
	h.First[0], h.Last[0] = ms-1, ms-1
	h.First[1], h.Last[1] = ms, ms
	known := season.Known(h, midnight)
	assert.Equal(t, []uint64{0b001, 0}, known.Seen)
	assert.Equal(t, 2, season.ReleasedBy(h, midnight).Len())
	var days []string
	for _, x := range season.Days(h, 1, dublin) {
		days = append(days, x.Format(time.RFC3339))
	}
	assert.Equal(t, []string{"2025-05-08T00:00:00+01:00", "2025-05-09T00:00:00+01:00"}, days)

	p, err := model.Build(model.Input{Histories: season.Known(h, midnight), AsOf: midnight}, model.Spec{Survival: "reach", Detection: "same"})
	require.NoError(t, err)
	assert.Equal(t, 0, p.NotYet)
	h = h.Until(ms) // the fish of midnight is still there
	p, err = model.Build(model.Input{Histories: h, AsOf: midnight}, model.Spec{Survival: "reach", Detection: "same"})
	require.NoError(t, err)
	assert.Equal(t, 1, p.NotYet)
	h.Seen[0], h.First[1], h.Last[1] = 0b011, ms, ms
	_, err = model.Build(model.Input{Histories: h, AsOf: midnight}, model.Spec{Survival: "reach", Detection: "same"})
	assert.ErrorContains(t, err, "after as_of")
}
