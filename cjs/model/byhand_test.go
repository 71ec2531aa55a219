package model_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/likelihood"
)

// handMade are fish at A, B (rows up and down) and C: of those released at A
// three are seen at B/up and C, five nowhere, two at both rows of B and taken
// out there; four are released at B and seen at C. Of cohorts early, late.
func handMade() *history.Histories {
	return &history.Histories{
		River:   history.River{Sites: []history.Site{{Name: "A", Km: 50}, {Name: "B", Km: 30, Rows: []string{"up", "down"}}, {Name: "C", Km: 0}}},
		Cohorts: []string{"early", "late"},
		Entry:   []uint8{0, 0, 0, 1},
		Seen:    []uint64{0b101, 0, 0b011, 0b100},
		End:     []history.End{history.Open, history.Open, history.Removed, history.Open},
		Cohort:  []int32{0, 0, 1, 1},
		Count:   []int32{3, 5, 2, 4},
	}
}

func build(t *testing.T, in model.Input, spec model.Spec) *model.Problem {
	t.Helper()
	p, err := model.Build(in, spec)
	require.NoError(t, err)
	return p
}

// TestTallyByHand counts the fish of handMade, together and by cohort.
func TestTallyByHand(t *testing.T) {
	p := build(t, model.Input{Histories: handMade()}, model.Spec{})
	all := p.Sum(nil)
	assert.Equal(t, []int{10, 4, 0}, all.New)
	assert.Equal(t, []int{0, 5, 7}, all.Seen)
	// At large at B: the three that were seen, the four that entered.
	assert.Equal(t, []int{10, 7, 7}, all.Released)
	assert.Equal(t, [][]int{{0, 5, 0}, {0, 0, 7}, {0, 0, 0}}, all.Next)
	assert.Equal(t, []int{5, 7}, all.Alive)
	assert.Equal(t, []int{5, 2, 7}, all.RowSeen)
	assert.Equal(t, []int{0, 3, 0}, all.RowMissed)
	assert.Equal(t, [3]int{5, 0, 7}, [3]int{all.Never(0), all.Never(1), all.Never(2)})
	assert.Equal(t, [2]int{10, 14}, [2]int{all.NewAbove(1), all.NewAbove(2)})
	assert.Equal(t, [2]int{0, 2}, [2]int{all.RemovedAbove(1), all.RemovedAbove(2)})
	assert.Equal(t, [2]int{5, 7}, [2]int{all.KnownPassed(1), all.KnownPassed(2)})
	late := p.Sum(func(g int) bool { return p.Levels[0][p.Classes[g].Level[0]] == "late" })
	assert.Equal(t, []int{2, 4, 0}, late.New)
	assert.Equal(t, []int{2, 2, 4}, late.RowSeen)
	assert.Equal(t, []int{0, 1, 1, 2}, []int{p.Last(1), p.Last(2), int(p.Histories.Entry[3]), p.Last(3)})
}

// TestContinuedIsNotRemovedTwice: in a next-seen table a fish that goes on is
// two records; its release at B is counted in the second.
func TestContinuedIsNotRemovedTwice(t *testing.T) {
	h := handMade()
	h.End[2] = history.Continued
	h.Entry, h.Seen, h.End = append(h.Entry, 1), append(h.Seen, 0b100), append(h.End, history.Continued)
	h.Cohort, h.Count, h.Again = append(h.Cohort, 1), append(h.Count, 2), []bool{false, false, false, false, true}
	all := build(t, model.Input{Histories: h}, model.Spec{})
	s := all.Sum(nil)
	assert.Equal(t, []int{10, 4, 0}, s.New)
	// Three open, four entered, two that go on: once.
	assert.Equal(t, []int{10, 9, 7}, s.Released)
	assert.Equal(t, []int{0, 5, 9}, s.Seen)
	assert.Equal(t, 0, s.RemovedAbove(2))
}

// withNumbers adds a size: 10, 12, 15, 20 for the four records.
func withNumbers(h *history.Histories) *history.Histories {
	h.Columns = append(h.Columns, history.Column{Name: "size", Value: []float64{10, 12, 15, 20}})
	return h
}

// TestStandardsByHand: sizes weigh by the fish that have them: (3·10 + 5·12 +
// 2·15 + 4·20)/14 = 200/14, squares over 13.
func TestStandardsByHand(t *testing.T) {
	p := build(t, model.Input{Histories: withNumbers(handMade())}, model.Spec{Survival: "reach by size", Detection: "same"})
	require.Len(t, p.Numbers, 1)
	x, mean := p.Numbers[0], 200.0/14
	sd := math.Sqrt((3*(10-mean)*(10-mean) + 5*(12-mean)*(12-mean) + 2*(15-mean)*(15-mean) + 4*(20-mean)*(20-mean)) / 13)
	assert.InDelta(t, mean, x.Mean, 1e-12)
	assert.InDelta(t, sd, x.SD, 1e-12)
	assert.Equal(t, [2]float64{10, 20}, [2]float64{x.Min, x.Max})
	for i, v := range []float64{10, 12, 15, 20} {
		assert.InDelta(t, (v-mean)/sd, p.Z[0][i], 1e-12)
	}
	assert.InDelta(t, (18-mean)/sd, p.NumbersAt(0, 18)[0][0], 1e-12)
	// The slope, by reach: from standardised to own units by 1/SD.
	for _, c := range p.Columns {
		if c.Numeric {
			assert.InDelta(t, 1/sd, c.Scale, 1e-12, c.Term)
		} else {
			assert.Equal(t, 1.0, c.Scale, c.Term)
		}
	}
	// All kinds of fish are among the typical ones.
	kinds := map[float64]bool{}
	for g := range p.Classes {
		for _, z := range p.TypicalNumbers(g) {
			assert.Equal(t, 1.0, z[0])
			kinds[z[1]] = true
		}
	}
	assert.Len(t, kinds, 4)
}

// TestFilledAndDroppedCountFish: records stand for many fish.
func TestFilledAndDroppedCountFish(t *testing.T) {
	h := withNumbers(handMade())
	h.Columns[0].Value[1] = math.NaN()
	spec := model.Spec{Survival: "size"}
	p := build(t, model.Input{Histories: h, Missing: "mean"}, spec)
	assert.Equal(t, [2]int{5, 0}, [2]int{p.Filled, p.Dropped})
	assert.Equal(t, 0.0, p.Z[0][1])
	p = build(t, model.Input{Histories: h, Missing: "drop"}, spec)
	assert.Equal(t, [2]int{0, 5}, [2]int{p.Filled, p.Dropped})
	assert.InDelta(t, (30.0+30+80)/9, p.Numbers[0].Mean, 1e-12)
}

// TestNumbersOfSitesByHand: a product of two numbers of the sites is their
// product, with its standard deviation over the reaches: 2·5 and 3·7.
func TestNumbersOfSitesByHand(t *testing.T) {
	h := handMade()
	h.River.Sites[1].Attributes = map[string]float64{"flow": 2, "turbines": 5}
	h.River.Sites[2].Attributes = map[string]float64{"flow": 3, "turbines": 7}
	h.Cohorts, h.Cohort = []string{"all"}, make([]int32, 4)
	p := build(t, model.Input{Histories: h}, model.Spec{Survival: "flow by turbines", Detection: "same"})
	last := p.Columns[3]
	assert.Equal(t, "flow by turbines", last.Term)
	assert.InDelta(t, 11/math.Sqrt2, last.SlotSD, 1e-12)
	for k, want := range []float64{10, 21} {
		es := p.Design.Slots[0][p.Layout.Survival(k)]
		assert.Equal(t, likelihood.Entry{Column: 3, Number: 0, Value: want}, es[len(es)-1])
	}
	assert.Equal(t, 1.0, p.Columns[0].SlotSD)
}

// TestHoldsThatContradict: what is held must allow what was seen, and holds of
// one cohort leave the other alone.
func TestHoldsThatContradict(t *testing.T) {
	for _, c := range []struct {
		hold model.Hold
		want string
	}{
		{model.Hold{Reach: 0, Row: -1, Value: 0}, "5 fish were detected below"},
		{model.Hold{Reach: 0, Row: -1, Value: 0, Where: map[string]string{"cohort": "late"}}, "2 fish were detected below"},
		{model.Hold{Reach: -1, Row: 0, Value: 0}, "5 fish were detected there"},
		{model.Hold{Reach: -1, Row: 1, Value: 1}, "3 fish detected downstream were not detected there"},
		{model.Hold{Reach: -1, Row: 1, Value: 1.5}, "between 0 and 1"},
	} {
		h := handMade()
		if c.hold.Where == nil {
			h.Cohorts, h.Cohort = []string{"all"}, make([]int32, 4)
		}
		_, err := model.Build(model.Input{Histories: h, Holds: []model.Hold{c.hold}}, model.Spec{})
		assert.ErrorContains(t, err, c.want)
	}
	p := build(t, model.Input{Histories: handMade(), Holds: []model.Hold{{Reach: -1, Row: 1, Value: 1, Where: map[string]string{"cohort": "late"}}}}, model.Spec{})
	for g := range p.Classes {
		late := p.Levels[0][p.Classes[g].Level[0]] == "late"
		assert.Equal(t, late, p.Design.Links[g][p.Layout.Detection(1)].Kind == likelihood.Fixed)
	}
}

// TestTestPassesByHand: 30 of 40 passes read at B/down are 30 sightings and 10
// misses there and nothing else; a detection that differs by a number cannot
// have them.
func TestTestPassesByHand(t *testing.T) {
	tests := []model.TestPasses{{Row: 1, Passes: 40, Read: 30}}
	p := build(t, model.Input{Histories: handMade(), TestPasses: tests}, model.Spec{})
	u := p.TestUnits()
	require.Len(t, u, 1)
	assert.Equal(t, []float64{0, 30, 0}, u[0].Seen)
	assert.Equal(t, []float64{0, 10, 0}, u[0].Missed)
	assert.Equal(t, []float64{0, 0}, u[0].Alive)
	assert.Equal(t, []float64{0, 0, 0}, u[0].Never)
	_, err := model.Build(model.Input{Histories: withNumbers(handMade()), TestPasses: tests}, model.Spec{Detection: "size"})
	assert.ErrorContains(t, err, "differ between fish by a number")
}

const hour = int64(3600 * 1000)

// TestTimesByHand: one fish of each record, released at hour 0 to 3. The first
// is read at B/up after 24 and B/down after 20 hours, at C after 60; the
// second never; the third at B after 10 seconds; the fourth, released at B, at
// C after 30. Data end after 72 hours.
func TestTimesByHand(t *testing.T) {
	const no = history.NoTime
	h := handMade()
	h.Count, h.Cohorts, h.Cohort = nil, []string{"all"}, make([]int32, 4)
	h.Seen[0] = 0b111
	h.Released = []int64{0, hour, 2 * hour, 3 * hour}
	h.First = []int64{24 * hour, 20 * hour, 60 * hour, no, no, no, 2*hour + 10_000, 2*hour + 20_000, no, no, no, 33 * hour}
	h.Last = h.First
	asOf := time.UnixMilli(72 * hour)
	p := build(t, model.Input{Histories: h, AsOf: asOf}, model.Spec{})
	type travelTime struct{ km, days float64 }
	var got []travelTime
	for _, x := range p.Data.TravelTimes {
		got = append(got, travelTime{p.Layout.Distance(x.From, x.To), x.Days})
		assert.Equal(t, 1.0, x.Weight)
	}
	// The earlier reading at B counts, and from it the way to C is measured; a
	// passage in seconds is taken as a minute.
	assert.Equal(t, []travelTime{{20, 20.0 / 24}, {30, 40.0 / 24}, {20, 1.0 / 1440}, {30, 30.0 / 24}}, got)
	// Waiting: only the second; the first and fourth are at the last site, the
	// third was taken out.
	require.Len(t, p.Data.Waits, 1)
	assert.Equal(t, 0, p.Data.Waits[0].Site)
	assert.InDelta(t, 71.0/24, p.Data.Waits[0].Days, 1e-12)
	var sites []int
	var days []float64
	for _, w := range p.Releases() {
		sites, days = append(sites, w.Site), append(days, w.Days)
	}
	assert.Equal(t, []int{0, 1, 2, 0, 0, 1, 2}, sites)
	assert.InDeltaSlice(t, []float64{3, 52.0 / 24, 0.5, 71.0 / 24, 70.0 / 24, 69.0 / 24, 39.0 / 24}, days, 1e-12)
	assert.Len(t, p.NewReleases(), 4)
	// One that was seen at B and not since waits from there.
	h.Seen[0], h.First[2] = 0b011, no
	p = build(t, model.Input{Histories: h, AsOf: asOf}, model.Spec{})
	require.Len(t, p.Data.Waits, 2)
	assert.Equal(t, 1, p.Data.Waits[0].Site)
	assert.InDelta(t, 52.0/24, p.Data.Waits[0].Days, 1e-12)
	// Fish alike wait together.
	h.Count = []int32{3, 5, 2, 4}
	h.Released[1] = 0
	p = build(t, model.Input{Histories: h, AsOf: asOf}, model.Spec{})
	assert.Equal(t, []float64{8, 2, 4}, []float64{p.NewReleases()[0].Weight, p.NewReleases()[1].Weight, p.NewReleases()[2].Weight})
	// Released after the data end.
	h.Released[1] = 80 * hour
	p = build(t, model.Input{Histories: h, AsOf: asOf}, model.Spec{})
	assert.Equal(t, 5, p.NotYet)
	assert.Equal(t, int32(-1), p.ClassOf[1])
}

// TestWithinByHand: which model is a special case of which.
func TestWithinByHand(t *testing.T) {
	h := handMade()
	h.River.Sites[1].Attributes = map[string]float64{"gate": 1}
	h.River.Sites[2].Attributes = map[string]float64{"gate": 0}
	in := model.Input{Histories: withNumbers(h), Conditions: []history.CohortCondition{{Name: "flow", Mean: [][]float64{{0, 1, 2}, {0, 3, 4}}}}}
	for _, c := range []struct {
		a, b model.Spec
		want bool
	}{
		{model.Spec{Detection: "site"}, model.Spec{Detection: "row"}, true},
		{model.Spec{Detection: "row"}, model.Spec{Detection: "site"}, false},
		{model.Spec{Detection: "gate"}, model.Spec{Detection: "site"}, true},
		{model.Spec{Survival: "gate"}, model.Spec{Survival: "reach"}, true},
		{model.Spec{Survival: "gate"}, model.Spec{Survival: "cohort"}, false},
		{model.Spec{Survival: "flow"}, model.Spec{Survival: "reach by cohort"}, true},
		{model.Spec{Survival: "flow"}, model.Spec{Survival: "reach + cohort"}, false},
		{model.Spec{Survival: "size"}, model.Spec{Survival: "reach by size"}, true},
		{model.Spec{Survival: "same"}, model.Spec{Survival: "same", SurvivalLink: "linear"}, false},
		{model.Spec{Survival: "same"}, model.Spec{Survival: "reach", SurvivalLink: "logit", DetectionLink: "logit"}, true},
		{model.Spec{Survival: "same", SurvivalLink: "logit", DetectionLink: "linear"}, model.Spec{Survival: "reach"}, false},
	} {
		assert.Equal(t, c.want, build(t, in, c.a).Within(build(t, in, c.b)), "%v %v", c.a, c.b)
	}
}

// TestReleaseDayByHand: at ten on the first day and at three in the afternoon
// of the second, third and fifth.
func TestReleaseDayByHand(t *testing.T) {
	h := handMade()
	start := time.Date(2025, 4, 1, 10, 0, 0, 0, time.UTC).UnixMilli()
	h.Released = []int64{start, start + 29*hour, start + 53*hour, start + 101*hour}
	p := build(t, model.Input{Histories: h}, model.Spec{Survival: "release_day"})
	assert.Equal(t, []float64{0, 1, 2, 4}, p.Histories.Column(model.ReleaseDay).Value)
}
