package season_test

import (
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

// oneReach is a season of fish released over ten days, 70 % of which reach an array
// of two rows, each of which sees 60 %, in three days and more.
func oneReach() *history.Histories {
	const fish = 900
	rnd := rand.New(rand.NewPCG(44, 1))
	nan := math.NaN()
	h := &history.Histories{
		River:   history.River{Sites: []history.Site{{Name: "Mill Lade", Km: nan, Days: nan}, {Name: "Tidehead", Km: nan, Days: nan, Rows: []string{"upper", "lower"}}}},
		Cohorts: []string{"all"},
		Entry:   make([]uint8, fish), Cohort: make([]int32, fish), End: make([]history.End, fish),
	}
	for range fish {
		released := time.Date(2025, 4, 1+rnd.IntN(10), 20, 0, 0, 0, time.UTC).UnixMilli()
		row := []int64{history.NoTime, history.NoTime}
		var seen uint64
		if rnd.Float64() < 0.7 {
			came := released + int64((3+4*rnd.ExpFloat64())*24*3600*1000)
			for b := range row {
				if rnd.Float64() < 0.6 {
					seen, row[b] = seen|1<<b, came+int64(b)*60_000
				}
			}
		}
		h.Released, h.Seen = append(h.Released, released), append(h.Seen, seen)
		h.First, h.Last = append(h.First, row...), append(h.Last, row...)
	}
	return h
}

// The length of the one reach is no matter to who passed, so it need not be given;
// speeds are then not told.
func TestASeasonOfOneReachNeedsNoKm(t *testing.T) {
	h := oneReach()
	at := time.Date(2025, 4, 11, 0, 0, 0, 0, time.UTC)
	fit := func(km float64) *cjs.Fit {
		in := model.Input{Histories: season.Known(h, at), AsOf: at}
		in.Histories.River.Sites = []history.Site{h.River.Sites[0], h.River.Sites[1]}
		in.Histories.River.Sites[0].Km, in.Histories.River.Sites[1].Km = km, 0*km
		return mustFit(t, in, model.Spec{})
	}
	without, with := fit(math.NaN()), fit(23)
	a, b := without.Passed[0].PassedShare, with.Passed[0].PassedShare
	require.NotEqual(t, cjs.Absent, a.Status)
	assert.Greater(t, b.Value, 0.5)
	// The two climbs end within 1e-6 standard errors of the maximum.
	assert.InDelta(t, b.Value, a.Value, 1e-6)
	assert.InDelta(t, b.Low, a.Low, 1e-4) // limits are sought to 1e-5 of their width
	assert.InDelta(t, b.High, a.High, 1e-4)
	assert.Equal(t, cjs.Estimated, with.Movement[0].Drift.Status)
	assert.Equal(t, cjs.Absent, without.Movement[0].Drift.Status)
	assert.Equal(t, cjs.Absent, without.Movement[0].Spread.Status)

	// With more reaches the lengths do matter.
	h.River.Sites = append(h.River.Sites, history.Site{Name: "Bar", Km: math.NaN(), Days: math.NaN()})
	row := make([]int64, 0, 3*h.Len())
	for i := range h.Len() {
		row = append(row, h.First[2*i], h.First[2*i+1], history.NoTime)
	}
	h.First, h.Last = row, row
	_, err := model.Build(model.Input{Histories: season.Known(h, at), AsOf: at}, model.Spec{})
	require.ErrorContains(t, err, "km of every site")
}
