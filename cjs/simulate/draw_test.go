package simulate_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/simulate"
	"example.org/unseen/history"
)

// smallTruth is a river with a divided site, removals and a late entry.
func smallTruth() simulate.Truth {
	t := simulate.Truth{River: river(4, map[int]int{1: 2}), Cohorts: cohorts(2, 500, []float64{0.7, 0.8, 0.6}, []float64{0.4, 0.5, 0.6, 0.3})}
	t.Cohorts = removing(t.Cohorts, []float64{0, 0.1, 0.25, 0})
	late := t.Cohorts[1]
	late.Entry, late.Fish = 2, 300
	t.Cohorts = append(t.Cohorts, late)
	t.TestPasses = []simulate.TestPasses{{Row: 3, Passes: 40}}
	return t
}

// key is what a record says of its fish.
type key struct {
	cohort int32
	entry  uint8
	seen   uint64
	end    history.End
}

func counted(h *history.Histories) map[key]int {
	out := map[key]int{}
	for i := range h.Entry {
		out[key{h.Cohort[i], h.Entry[i], h.Seen[i], h.End[i]}] += h.Weight(i)
	}
	return out
}

func TestDrawIsSettledBySeedAndIndex(t *testing.T) {
	truth := smallTruth()
	require.NoError(t, truth.Check())
	a, b := truth.Draw(5, 9), truth.Draw(5, 9)
	assert.Equal(t, a.Histories, b.Histories)
	assert.Equal(t, a.Passed, b.Passed)
	assert.Equal(t, a.TestPasses, b.TestPasses)
	assert.NotEqual(t, counted(a.Histories), counted(truth.Draw(5, 10).Histories))
	assert.NotEqual(t, counted(a.Histories), counted(truth.Draw(6, 9).Histories))
}

func TestDrawKeepsEveryFish(t *testing.T) {
	truth := smallTruth()
	s := truth.Draw(5, 1)
	h := s.Histories
	assert.Equal(t, 1300, h.Fish())
	assert.Equal(t, []string{"week 1", "week 2"}, h.Cohorts)
	masks := h.River.SiteMasks()
	for i := range h.Entry {
		for k := range int(h.Entry[i]) + 1 {
			assert.Zero(t, h.Seen[i]&masks[k], "seen at or above its entry")
		}
		if h.End[i] == history.Removed {
			assert.Contains(t, []int{1, 2}, h.LastSite(i, masks))
		}
	}
	assert.Equal(t, []int{500, 500, 500, 500}[1:], s.Entered[0][1:])
	assert.Equal(t, []int{500, 500, 800}, s.Entered[1][1:])
	// By hand: 0.7 − 0.01, 0.8 − 0.01, 0.6 − 0.01 of week 1.
	assert.InDelta(t, 0.69*0.79*0.59, s.Share[0][3], 1e-12)
	// Week 2: 500 from the first site and 300 from the third.
	assert.InDelta(t, (500*0.71*0.81*0.61+300*0.61)/800, s.Share[1][3], 1e-12)
	assert.True(t, math.IsNaN(s.Share[0][0]))
}

// TestDrawFrequencies holds the mean counts of many samples to probabilities by
// hand, for fish drawn together and one by one: within 5 standard errors.
func TestDrawFrequencies(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	// Seen by both rows of Alder Ford, let go, missed at Scar Weir and seen at
	// Tidehead: 0.69 · 0.4 · 0.5 · (1−0.1) · 0.79 · (1−0.6) · 0.59 · 0.3.
	both := key{0, 0, 0b1011, history.Open}
	// Seen at Scar Weir alone and taken out: 0.69 · 0.6 · 0.5 · 0.79 · 0.6 · 0.25.
	out := key{0, 0, 0b0100, history.Removed}
	// Never seen: 1 − 0.69 (1 − 0.3 · (1 − 0.79 (1 − 0.4 · (1 − 0.59 · 0.3)))).
	chi := 1 - 0.69*(1-0.3*(1-0.79*(1-0.4*(1-0.59*0.3))))
	want := map[key]float64{
		both:                         0.69 * 0.4 * 0.5 * 0.9 * 0.79 * 0.4 * 0.59 * 0.3,
		out:                          0.69 * 0.6 * 0.5 * 0.79 * 0.6 * 0.25,
		{0, 0, 0, history.Open}:      chi,
		{1, 2, 0b1000, history.Open}: 0.61 * 0.3,
	}
	fish := map[key]float64{both: 500, out: 500, {0, 0, 0, history.Open}: 500, {1, 2, 0b1000, history.Open}: 300}
	single := smallTruth()
	single.Covariates = []simulate.Covariate{{Name: "of no effect", Mean: 3, SD: 2}}
	const samples = 400
	for name, truth := range map[string]simulate.Truth{"together": smallTruth(), "one by one": single} {
		sum := map[key]float64{}
		read := 0.0
		for i := range uint64(samples) {
			s := truth.Draw(31, i)
			for k, n := range counted(s.Histories) {
				sum[k] += float64(n)
			}
			read += float64(s.TestPasses[0].Read)
		}
		for k, p := range want {
			n := fish[k] * samples
			assert.InDelta(t, p, sum[k]/n, 5*math.Sqrt(p*(1-p)/n), "%s: %+v", name, k)
		}
		assert.InDelta(t, 0.3, read/(40*samples), 5*math.Sqrt(0.21/(40*samples)), name)
	}
}

// TestEffects holds covariates to their predictors: fish far above the mean
// survive and are seen by their own probabilities, worked by hand.
func TestEffects(t *testing.T) {
	r := river(2, nil)
	r.Sites[0].Km, r.Sites[1].Km = 10, 0
	truth := simulate.Truth{River: r, PerKm: true,
		Cohorts:    []simulate.Cohort{{Name: "all", Fish: 40000, Survival: []float64{math.Exp(-0.3)}, Detection: []float64{1}}},
		Covariates: []simulate.Covariate{{Name: "length", Mean: 100, SD: 10, Survival: []float64{-0.05}}}}
	require.NoError(t, truth.Check())
	s := truth.Draw(2, 1)
	var seen, n float64
	for i, v := range s.Histories.Columns[0].Value {
		if v > 109.5 && v < 110.5 {
			n++
			seen += float64(s.Histories.Seen[i])
		}
	}
	// Mortality 0.03 per km, times exp(−0.05 · 10), over 10 km.
	want := math.Exp(-0.3 * math.Exp(-0.5))
	assert.InDelta(t, want, seen/n, 5*math.Sqrt(want*(1-want)/n)+0.01)
}

func TestCheckSaysWhatIsWrong(t *testing.T) {
	for _, c := range []struct {
		what string
		set  func(*simulate.Truth)
		want string
	}{
		{"no cohort", func(t *simulate.Truth) { t.Cohorts = nil }, "needs a cohort"},
		{"no fish", func(t *simulate.Truth) { t.Cohorts[0].Fish = 0 }, `cohort "week 1": 0 fish`},
		{"entry", func(t *simulate.Truth) { t.Cohorts[0].Entry = 3 }, "enter at site 4"},
		{"survival", func(t *simulate.Truth) { t.Cohorts[1].Survival = []float64{1} }, "has 1 values, not 3"},
		{"share", func(t *simulate.Truth) { t.Cohorts[1].Detection[0] = 1.2 }, "1.2 is no share"},
		{"removed", func(t *simulate.Truth) { t.Cohorts[0].Removed = []float64{0} }, "removed"},
		{"covariate", func(t *simulate.Truth) { t.Covariates = []simulate.Covariate{{Name: "x"}} }, `covariate "x"`},
		{"effects", func(t *simulate.Truth) {
			t.Covariates = []simulate.Covariate{{Name: "x", SD: 1, Survival: []float64{1}}}
		}, "for each reach (3)"},
		{"tests", func(t *simulate.Truth) { t.TestPasses[0].Row = 9 }, "row 10 of 4"},
		{"km", func(t *simulate.Truth) { t.PerKm = true }, "need the km"},
		{"breaker", func(t *simulate.Truth) { t.Violations.TagLoss = -1 }, "tag loss"},
		{"spread", func(t *simulate.Truth) { t.Violations.DetectionSD = math.Inf(1) }, "standard deviation"},
		{"retention", func(t *simulate.Truth) { t.Retention.Kept = 2 }, "tags kept"},
		{"sites", func(t *simulate.Truth) { t.River.Sites = t.River.Sites[:1] }, "two sites"},
	} {
		truth := smallTruth()
		c.set(&truth)
		assert.ErrorContains(t, truth.Check(), c.want, c.what)
	}
}

// TestGhostsDriftOn: all fish die in the first reach; half the tags drift past
// the first array, half of those past the next, and so on.
func TestGhostsDriftOn(t *testing.T) {
	const fish = 20000
	truth := simulate.Truth{River: river(4, nil), Violations: simulate.Violations{Ghosts: 0.5},
		Cohorts: []simulate.Cohort{{Name: "all", Fish: fish, Survival: []float64{0, 1, 1}, Detection: []float64{1, 1, 1}}}}
	require.NoError(t, truth.Check())
	s := truth.Draw(4, 1)
	for b, want := range []float64{0.5, 0.25, 0.125} {
		n := 0.0
		for _, seen := range s.Histories.Seen {
			n += float64(seen >> b & 1)
		}
		assert.InDelta(t, want, n/fish, 5*math.Sqrt(want*(1-want)/fish))
	}
	assert.Equal(t, []int{0, 0, 0, 0}, s.Passed[0])
}

// TestBareFishMigrateUnseen: everyone survives and every tag is read, but one
// tag in ten is lost: all fish pass, nine in ten are seen, at every site, and
// nine in ten of those held keep theirs.
func TestBareFishMigrateUnseen(t *testing.T) {
	truth := simulate.Truth{River: river(3, nil), Cohorts: cohorts(1, 20000, []float64{1, 1}, []float64{1, 1})}
	truth.Retention.Held, truth.Retention.Kept = 20000, 0.9
	one := truth
	one.Covariates = []simulate.Covariate{{Name: "length", Mean: 120, SD: 10, Survival: []float64{0, 0}, Detection: []float64{0, 0}}}
	for name, x := range map[string]*simulate.Truth{"by the number": &truth, "one by one": &one} {
		require.NoError(t, x.Check(), name)
		s := x.Draw(3, 4)
		h := s.Histories
		assert.Equal(t, 20000, h.Fish(), name)
		assert.Equal(t, []int{0, 20000, 20000}, s.Passed[0], name)
		seen := 0
		for i := range h.Len() {
			switch h.Seen[i] {
			case 0b11:
				seen += h.Weight(i)
			case 0:
			default:
				t.Errorf("%s: seen %b", name, h.Seen[i])
			}
		}
		// √(20000·0.9·0.1) is 42 fish; five of them.
		assert.InDelta(t, 18000, seen, 212, name)
		assert.InDelta(t, 18000, s.Retention.Kept, 212, name)
	}
}

// TestSaturatedByHand: 30 of 100 seen at B, 12 of them again at C, 8 first seen
// at C; 20 of 24 test passes read: Σ n ln(n/of) over all cells.
func TestSaturatedByHand(t *testing.T) {
	h := &history.Histories{Cohorts: []string{"all"}, River: history.River{Sites: []history.Site{{Name: "A"}, {Name: "B"}, {Name: "C"}}},
		Entry: make([]uint8, 4), Seen: []uint64{0b11, 0b01, 0b10, 0}, End: make([]history.End, 4), Cohort: make([]int32, 4), Count: []int32{12, 18, 8, 62}}
	p, err := model.Build(model.Input{Histories: h, TestPasses: []model.TestPasses{{Row: 0, Passes: 24, Read: 20}}}, model.Spec{})
	require.NoError(t, err)
	f, err := cjs.New(t.Context(), p, cjs.Options{})
	require.NoError(t, err)
	x := func(n, of float64) float64 { return n * math.Log(n/of) }
	want := x(30, 100) + x(8, 100) + x(62, 100) + x(12, 30) + x(18, 30) + x(20, 24) + x(4, 24)
	assert.InDelta(t, want, simulate.FromFit(f).Observed().Saturated(), 1e-9)
}

// TestSaturatedOfATable: the same fish as a next-seen table, where those seen
// at B go on in records of their own: they are no fish never seen again.
func TestSaturatedOfATable(t *testing.T) {
	c, o := history.Continued, history.Open
	h := &history.Histories{Cohorts: []string{"all"}, River: history.River{Sites: []history.Site{{Name: "A"}, {Name: "B"}, {Name: "C"}}},
		Entry: []uint8{0, 0, 0, 1, 1}, Seen: []uint64{0b01, 0b10, 0, 0b10, 0}, End: []history.End{c, c, o, c, o},
		Cohort: make([]int32, 5), Count: []int32{30, 8, 62, 12, 18}, Again: []bool{false, false, false, true, true}}
	p, err := model.Build(model.Input{Histories: h}, model.Spec{})
	require.NoError(t, err)
	f, err := cjs.New(t.Context(), p, cjs.Options{})
	require.NoError(t, err)
	x := func(n, of float64) float64 { return n * math.Log(n/of) }
	want := x(30, 100) + x(8, 100) + x(62, 100) + x(12, 30) + x(18, 30)
	assert.InDelta(t, want, simulate.FromFit(f).Observed().Saturated(), 1e-9)
}
