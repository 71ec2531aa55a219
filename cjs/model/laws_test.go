package model_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/likelihood/passtime"
)

// watched are fish seen where bits says, each time 2 days after the site above;
// sites are 10 km apart.
func watched(sites int, seen map[uint64]int) *history.Histories {
	h := &history.Histories{Cohorts: []string{"all"}}
	for k := range sites {
		h.River.Sites = append(h.River.Sites, history.Site{Name: string(rune('A' + k)), Km: float64(10 * k)})
	}
	for bits := uint64(0); bits < 1<<(sites-1); bits++ {
		for range seen[bits] {
			h.Entry, h.Seen, h.End = append(h.Entry, 0), append(h.Seen, bits), append(h.End, history.Open)
			h.Cohort, h.Released = append(h.Cohort, 0), append(h.Released, 0)
			for k := range sites - 1 {
				at := int64(history.NoTime)
				if bits>>k&1 == 1 {
					at = int64(k+1) * 48 * int64(time.Hour/time.Millisecond)
				}
				h.First = append(h.First, at)
			}
		}
	}
	h.Last = h.First
	return h
}

// A reach has a law of its own where ten fish were seen at both its ends; a
// stretch no one watches has one, and what is left goes with the neighbour that
// has fewer.
func TestStretchesThatCanBeTold(t *testing.T) {
	for _, c := range []struct {
		about string
		seen  map[uint64]int
		want  []int // law by reach
	}{
		{"ten at both ends of each", map[uint64]int{0b111: 10}, []int{0, 1, 2}},
		{"nine", map[uint64]int{0b111: 9}, nil},
		{"nine at the last", map[uint64]int{0b111: 9, 0b011: 20}, []int{0, 1, 1}},
		{"no one watches C", map[uint64]int{0b101: 30}, []int{0, 1, 1}},
		{"no one watches B", map[uint64]int{0b110: 30}, []int{0, 0, 1}},
		{"no one watches B and C", map[uint64]int{0b100: 30}, nil},
	} {
		p := build(t, model.Input{Histories: watched(4, c.seen), AsOf: time.UnixMilli(20 * 24 * 3600 * 1000)}, model.Spec{Survival: "reach", Drift: "reach"})
		laws := make([]int, 3)
		for k := range laws {
			laws[k] = p.Layout.LawOf(k)
		}
		if c.want == nil {
			c.want = []int{0, 0, 0}
		}
		assert.Equal(t, c.want, laws, c.about)
	}
}

// travellers are fish let go over ten days that all survive and are all seen at
// all three sites by day 12, unless they come later.
func travellers(rnd *rand.Rand, fish int, drift, spread [3]float64) model.Input {
	const day = 24 * 3600 * 1000
	h := watched(4, map[uint64]int{0b111: fish})
	asOf := int64(14 * day)
	for i := range fish {
		h.Released[i] = int64(i%10) * day
		at := float64(h.Released[i])
		for k := range 3 {
			at += day * passtime.Law{Km: 10, Drift: drift[k], Spread: spread[k]}.Quantile(rnd.Float64())
			h.First[3*i+k] = int64(at)
			if at >= float64(asOf) {
				h.First[3*i+k] = history.NoTime
				h.Seen[i] &^= 1 << k
			}
		}
	}
	return model.Input{Histories: h, AsOf: time.UnixMilli(asOf)}
}

// The test holds its size where the stretches are alike, though as_of cuts the
// slow fish off, and finds what differs.
func TestSpeeds(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	rnd := rand.New(rand.NewPCG(7, 7))
	even := [3]float64{5, 5, 5}
	rejected := 0
	var sum float64
	const times = 200
	for range times {
		p := build(t, travellers(rnd, 120, even, even), model.Spec{Survival: "reach", Drift: "same"})
		s := p.Speeds()
		require.NotNil(t, s)
		require.Equal(t, 4, s.DF)
		require.InDelta(t, s.P, 1-chi4(s.Statistic), 1e-9)
		sum += s.Statistic
		if s.Differ() {
			rejected++
		}
	}
	// Of 200 at 5 %: 10 ± 3.1; three and a half standard deviations. The mean of
	// chi-square with 4 df is 4 ± 0.2.
	assert.InDelta(t, 10, rejected, 11)
	assert.InDelta(t, 4, sum/times, 0.8)

	in := travellers(rnd, 300, [3]float64{6, 4, 3}, even)
	p := build(t, in, model.Spec{Survival: "reach"})
	assert.Equal(t, [2]string{"reach", "reach"}, [2]string{p.Spec.Drift, p.Spec.Spread}, "by default the test decides")
	assert.Nil(t, p.Speeds(), "nothing is left to test")
	assert.Equal(t, 3, p.Layout.LawCount())
	p = build(t, in, model.Spec{Survival: "reach", Drift: "same"})
	require.True(t, p.Speeds().Differ())
	for i, v := range []float64{6, 4, 3} {
		assert.InDelta(t, v, p.Speeds().Drift[i], 0.15*v) // a few standard errors
		assert.InDelta(t, 5, p.Speeds().Spread[i], 0.75)
	}
	// The spread alone: with the drift by stretch the drifts are no longer tested.
	in = travellers(rnd, 300, even, [3]float64{5, 3, 8})
	p = build(t, in, model.Spec{Survival: "reach", Drift: "reach", Spread: "same"})
	assert.Equal(t, 2, p.Speeds().DF)
	assert.True(t, p.Speeds().Differ())
	// A rest is no difference of stretches: of the first travel times nothing is asked.
	p = build(t, travellers(rnd, 300, [3]float64{2, 5, 5}, even), model.Spec{Survival: "reach", Rest: "same"})
	assert.Equal(t, "same", p.Spec.Drift)
	assert.Equal(t, 2, p.Speeds().DF)
	// Nothing to test: one stretch, or a season that is over.
	assert.Nil(t, build(t, model.Input{Histories: watched(4, map[uint64]int{0b111: 9}), AsOf: in.AsOf}, model.Spec{Survival: "reach"}).Speeds())
	assert.Nil(t, build(t, model.Input{Histories: in.Histories}, model.Spec{Survival: "reach"}).Speeds())
}

// chi4 is the chi-square distribution with 4 df.
func chi4(x float64) float64 { return 1 - math.Exp(-x/2)*(1+x/2) }
