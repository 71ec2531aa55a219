package growth

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history"
)

// rounding of a few operations on numbers near 1.
const rounding = 1e-12

// The values of testdata/published/closed_form.
func TestRatesAgainstReference(t *testing.T) {
	var closed struct {
		Inputs struct {
			SGR    struct{ W1, W2, L1, L2, Days float64 }
			Fulton struct {
				W   float64
				LMM float64 `json:"L_mm"`
			}
		}
		Values struct {
			SGR    map[string]float64
			Fulton struct{ K float64 }
		}
	}
	readJSON(t, "../../testdata/published/closed_form/closed_form.json", &closed)
	in, want := closed.Inputs.SGR, closed.Values.SGR
	g := between(Capture{LengthMM: in.L1, WeightG: in.W1}, Capture{LengthMM: in.L2, WeightG: in.W2, Time: int64(in.Days * dayMs)}, 1)
	assert.InDelta(t, want["SGR_weight_pct_day"], g.WeightPercent, rounding)
	assert.InDelta(t, want["SGR_length_pct_day"], g.LengthPercent, rounding)
	assert.InDelta(t, want["mm_per_day"], g.MMPerDay, rounding)
	assert.InDelta(t, (11.9-8.2)/35, g.GPerDay, rounding)
	assert.InDelta(t, closed.Values.Fulton.K, Condition(closed.Inputs.Fulton.LMM, closed.Inputs.Fulton.W), rounding)
	assert.InDelta(t, closed.Values.Fulton.K, g.ConditionTo, rounding)
}

func readJSON(t *testing.T, path string, into any) {
	t.Helper()
	raw, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(raw, into))
}

// Two of the sets of Anscombe 1973, The American Statistician 27:17–21; the lines
// through them are computed by SciPy (testdata/published/scipy/in_tests.py). In the
// third set all points but one lie on a line.
var (
	anscombeX = []float64{10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5}
	anscombe1 = []float64{8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68}
	anscombe3 = []float64{7.46, 6.77, 12.74, 7.11, 7.81, 8.84, 6.08, 5.39, 8.15, 6.42, 5.73}
)

func TestLineAgainstAnscombe(t *testing.T) {
	none := make([]bool, 11)
	for i, y := range [][]float64{anscombe1, anscombe3} {
		l, ok := leastSquares(anscombeX, y, none)
		require.True(t, ok)
		// Half a unit in the last digit of the script's.
		assert.InDelta(t, 0.5, l.Slope, 0.0005)
		assert.InDelta(t, 3.0, l.Intercept, 0.005)
		assert.InDelta(t, 110, l.squaresX, rounding)
		assert.InDelta(t, []float64{13.76269, 13.75619}[i], l.ResidualSD*l.ResidualSD*9, 5e-6)
		assert.InDelta(t, 0.118, l.SlopeSE, 0.0005)
		assert.InDelta(t, []float64{0.66654, 0.66632}[i], l.Explained, 5e-6)
		// t of 9 degrees of freedom at 0.975: 2.262 in any table.
		assert.InDelta(t, 2.262, (l.SlopeHigh-l.Slope)/l.SlopeSE, 0.0005)
	}
	l, tt, off := fitLine(anscombeX, anscombe3)
	require.NotNil(t, l)
	for i, o := range off {
		assert.Equal(t, i == 2, o, i)
	}
	assert.Greater(t, tt[2], 100.0)
	// The line through the others, as printed everywhere: 4.01 + 0.345 x.
	assert.InDelta(t, 0.345, l.Slope, 0.0005)
	assert.InDelta(t, 4.01, l.Intercept, 0.005)
}

// A point's residual without itself: what is computed from the whole line is
// what comes out when the point is left out of it.
func TestStudentisedLeavesThePointOut(t *testing.T) {
	none := make([]bool, 11)
	whole, ok := leastSquares(anscombeX, anscombe1, none)
	require.True(t, ok)
	for i := range anscombeX {
		out := make([]bool, 11)
		out[i] = true
		without, ok := leastSquares(anscombeX, anscombe1, out)
		require.True(t, ok)
		assert.InDelta(t, without.studentised(anscombeX[i], anscombe1[i], true), whole.studentised(anscombeX[i], anscombe1[i], false), 1e-10)
	}
}

// school is n fish with a true line ln W = −11.5 + 3 ln L and 6 % scatter.
func school(n int) *history.Histories {
	r := rand.New(rand.NewPCG(20250403, 6))
	h := &history.Histories{River: history.River{Sites: []history.Site{{Name: "Mill Lade"}, {Name: "Tidehead"}}}, Cohorts: []string{"early", "late"}}
	length, weight := make([]float64, n), make([]float64, n)
	for i := range n {
		length[i] = math.Round(140 + 20*r.NormFloat64())
		weight[i] = math.Round(10*math.Exp(-11.5+3*math.Log(length[i])+0.06*r.NormFloat64())) / 10
		h.Entry, h.Seen, h.End = append(h.Entry, 0), append(h.Seen, 0), append(h.End, history.Open)
		h.Cohort, h.Released = append(h.Cohort, int32(i%2)), append(h.Released, int64(i)*3600_000)
	}
	h.Columns = []history.Column{{Name: "fork_length_mm", Value: length}, {Name: "weight_g", Value: weight}}
	return h
}

func TestTypingErrorsAreFound(t *testing.T) {
	h := school(400)
	length, weight := h.Columns[0].Value, h.Columns[1].Value
	clean, err := New(h, nil, Options{})
	require.NoError(t, err)
	require.Len(t, clean.Lines, 1)
	assert.Empty(t, clean.Odd, "no fish of a clean school is odd")
	truth := clean.Lines[0]
	// Four standard errors of what the school was made with.
	assert.InDelta(t, 3, truth.Slope, 4*truth.SlopeSE)
	assert.InDelta(t, 0.06, truth.ResidualSD, 4*0.06/math.Sqrt(800))
	assert.InEpsilon(t, math.Exp(truth.Intercept+truth.Slope*math.Log(150)), truth.Weight(150), rounding)

	// Forty weights with the point shifted: so many that they would hide one
	// another from a line through all.
	want := map[int32]string{}
	for i := 3; i < 400; i += 10 {
		weight[i] *= 10
		want[int32(i)] = ""
	}
	// A length with two digits swapped, one zero and one negative weight.
	for i := range length {
		if length[i] == 137 {
			length[i] = 173
			want[int32(i)] = "length 137 for 173"
			break
		}
	}
	weight[0], weight[2] = 0, -1
	r, err := New(h, nil, Options{})
	require.NoError(t, err)
	got := map[int32]*Odd{}
	for i := range r.Odd {
		got[r.Odd[i].Fish] = &r.Odd[i]
	}
	assert.Len(t, got, len(want)+2)
	for fish, guess := range want {
		o := got[fish]
		if !assert.NotNil(t, o, fish) {
			continue
		}
		assert.NotZero(t, o.Flags&OffTheLine)
		assert.Greater(t, math.Abs(o.Residual), 4.0)
		if guess != "" {
			assert.Equal(t, guess, o.Guess)
			continue
		}
		assert.NotZero(t, o.Flags&OddCondition, "K is near 10")
		assert.Regexp(t, `^weight [\d.]+ for [\d.]+$`, o.Guess)
	}
	assert.Equal(t, NotPositive, got[0].Flags)
	assert.True(t, math.IsNaN(got[0].WeightG))
	assert.Equal(t, 41, r.Lines[0].Off)
	assert.Equal(t, 398, r.Lines[0].Fish)
	assert.InDelta(t, truth.Slope, r.Lines[0].Slope, 2*truth.SlopeSE, "the line is that of the others")
}

func TestLineOfEachSpecies(t *testing.T) {
	h := school(40)
	level := make([]int32, 40)
	for i := range level {
		level[i] = int32(i % 2)
		h.Columns[1].Value[i] *= 1 + 0.5*float64(i%2)
	}
	level[39] = -1
	h.Columns = append(h.Columns, history.Column{Name: "species", Levels: []string{"salmon", "sea trout"}, Level: level})
	r, err := New(h, nil, Options{})
	require.NoError(t, err)
	require.Len(t, r.Lines, 2)
	assert.Equal(t, "sea trout", r.Lines[1].Species)
	assert.Equal(t, 19, r.Lines[1].Fish)
	assert.InDelta(t, 1.5, r.Lines[1].Weight(140)/r.Lines[0].Weight(140), 0.1)
}

// Nine fish make no line, fish of one length none either.
func TestNoLine(t *testing.T) {
	r, err := New(school(9), nil, Options{})
	require.NoError(t, err)
	assert.Empty(t, r.Lines)
	h := school(50)
	for i := range h.Columns[0].Value {
		h.Columns[0].Value[i] = 150
	}
	r, err = New(h, nil, Options{})
	require.NoError(t, err)
	assert.Empty(t, r.Lines)
	// Fish on a line without any scatter: nothing is odd.
	for i := range h.Columns[0].Value {
		h.Columns[0].Value[i] = float64(100 + i)
		h.Columns[1].Value[i] = math.Pow(float64(100+i), 3) * 1e-5
	}
	r, err = New(h, nil, Options{})
	require.NoError(t, err)
	assert.InDelta(t, 3, r.Lines[0].Slope, 1e-9)
	assert.Empty(t, r.Odd)
}

func TestGrowthByHand(t *testing.T) {
	h := school(6)
	h.Columns[0].Value = []float64{100, 100, 100, 100, 100, 100}
	h.Columns[1].Value = []float64{10, 10, 10, math.NaN(), 10, 10}
	h.Released = []int64{0, 0, 0, 0, history.NoTime, 0}
	const d = dayMs
	caught := &Recaptures{Length: "fork_length_mm", Captures: []Capture{
		{Fish: 1, Time: 30 * d, LengthMM: 115, WeightG: 16, Line: 2},
		{Fish: 0, Time: 20 * d, LengthMM: 130, WeightG: 20, Line: 3},         // the second
		{Fish: 0, Time: 10 * d, LengthMM: 110, WeightG: math.NaN(), Line: 4}, // the first
		{Fish: 2, Time: 10 * d, LengthMM: 98, WeightG: 9, Line: 5},           // shorter
		{Fish: 3, Time: 5 * d, LengthMM: 115, WeightG: 12, Line: 6},          // 3 mm/day
		{Fish: 4, Time: 5 * d, LengthMM: 105, WeightG: 11, Line: 7},          // released when?
		{Fish: 5, Time: 0, LengthMM: 101, WeightG: 25, Line: 8},              // the same moment, K 2.4
	}}
	r, err := New(h, caught, Options{})
	require.NoError(t, err)
	require.Len(t, r.Growth, 6)
	assert.Equal(t, 1, r.NoTime)
	g := r.Growth[0]
	assert.Equal(t, 1, g.Interval)
	assert.Equal(t, 4, g.To.Line)
	assert.InDelta(t, 1, g.MMPerDay, rounding)
	assert.True(t, math.IsNaN(g.GPerDay) && math.IsNaN(g.WeightPercent) && math.IsNaN(g.ConditionTo))
	assert.InDelta(t, 1, g.ConditionFrom, rounding)
	g = r.Growth[1]
	assert.Equal(t, 2, g.Interval)
	assert.Equal(t, 10.0, g.Days)
	assert.InDelta(t, 2, g.MMPerDay, rounding)
	assert.Zero(t, g.Flags, "2 mm/day is not more than 2")
	assert.Equal(t, Shrank, r.Growth[3].Flags)
	assert.Equal(t, TooFast, r.Growth[4].Flags)
	g = r.Growth[5]
	assert.Equal(t, NotLater|OddCondition, g.Flags)
	assert.True(t, math.IsNaN(g.MMPerDay))
	assert.Equal(t, []string{"condition factor outside 0.5–2", "not later than the capture before"}, g.Flags.Names())

	// All intervals, each, and each cohort: early are fish 0, 2, 4, late 1, 3, 5.
	type key struct{ cohort, interval int }
	groups := map[key]Group{}
	for _, x := range r.Groups {
		groups[key{x.Cohort, x.Interval}] = x
	}
	all := groups[key{All, All}]
	assert.Equal(t, 6, all.Fish)
	assert.Equal(t, 3, all.Flagged)
	assert.Equal(t, 5, all.MMPerDay.N)
	// 1, 2, 0.5, −0.2 and 3 mm/day.
	assert.InDelta(t, 6.3/5, all.MMPerDay.Mean, rounding)
	assert.InDelta(t, 1, all.MMPerDay.Median, rounding)
	assert.Equal(t, 1, groups[key{All, 2}].Fish)
	assert.InDelta(t, (1-0.2)/2, groups[key{0, 1}].MMPerDay.Mean, rounding)
	assert.InDelta(t, (0.5+3)/2, groups[key{1, All}].MMPerDay.Mean, rounding)
	_, ok := groups[key{1, 2}]
	assert.False(t, ok, "no late fish was caught twice")
}

func TestTaggingTable(t *testing.T) {
	h := school(8)
	h.Columns[0].Value = []float64{100, 110, 120, 130, 140, 150, 160, math.NaN()}
	h.Columns[1].Value = []float64{10, 12, 18, 23, 28, 34, 41, 50}
	h.Columns = append(h.Columns,
		history.Column{Name: "species", Levels: []string{"salmon", "sea trout"}, Level: []int32{0, 0, 1, 1, 1, 1, 1, -1}},
		history.Column{Name: "age", Value: []float64{2, 2, 1, 10, 1, 10, 2, 2}},
		history.Column{Name: "tag_weight_g", Value: []float64{0.1, 0.6, 0.6, math.NaN(), 0.6, 0.6, 0.6, 5}})
	h.Count = []int32{1, 1, 1, 1, 1, 1, 3, 1}
	r, err := New(h, nil, Options{TagWeightG: 0.23})
	require.NoError(t, err)
	assert.Equal(t, "fork_length_mm", r.Length)
	var of [][]Category
	var fish []int
	for _, x := range r.Tagging {
		of, fish = append(of, x.Of), append(fish, x.Fish)
	}
	c := func(species, age, cohort string) []Category {
		return []Category{{"species", species}, {"age", age}, {"cohort", cohort}}
	}
	assert.Equal(t, [][]Category{nil, c("missing", "2", "late"), c("salmon", "2", "early"), c("salmon", "2", "late"),
		c("sea trout", "1", "early"), c("sea trout", "2", "early"), c("sea trout", "10", "late")}, of)
	assert.Equal(t, []int{10, 1, 1, 1, 2, 3, 2}, fish)
	assert.Equal(t, 9, r.Tagging[0].Length.N)
	assert.InDelta(t, 130, r.Tagging[4].Length.Mean, rounding)
	assert.InDelta(t, (1e5*18/1728000+1e5*28/2744000)/2, r.Tagging[4].Condition.Mean, rounding)

	// 1 %, 5 %, 3.33 %, 0.23/23 = 1 %, 2.14 %, 1.76 %, three of 1.46 %, 10 %.
	b := r.TagBurden
	require.NotNil(t, b)
	assert.Equal(t, 10, b.Percent.N)
	assert.InDelta(t, 10, b.Percent.Max, rounding)
	assert.InDelta(t, 1, b.Percent.Min, rounding)
	assert.Equal(t, []int{4, 1, 1, 1, 0}, b.Above)
	for i, rule := range BurdenRules {
		assert.NotEmpty(t, rule.Source)
		assert.True(t, i == 0 || rule.Percent > BurdenRules[i-1].Percent, "in ascending order")
	}
	h.Columns = h.Columns[:4]
	r, err = New(h, nil, Options{})
	require.NoError(t, err)
	assert.Nil(t, r.TagBurden)
}

func TestGrowthRefuses(t *testing.T) {
	h := school(3)
	_, err := New(h, &Recaptures{Length: "total_length_mm"}, Options{})
	assert.ErrorContains(t, err, "the tagging table has fork_length_mm and the recaptures have total_length_mm")
	_, err = New(h, &Recaptures{Captures: []Capture{{Fish: 3}}}, Options{})
	assert.ErrorContains(t, err, "no fish of the study")
	h.Columns[1] = history.Column{Name: "weight_g", Levels: []string{"heavy"}, Level: []int32{0, 0, 0}}
	_, err = New(h, nil, Options{})
	assert.ErrorContains(t, err, `column "weight_g" holds text`)
	h.Columns = nil
	_, err = New(h, nil, Options{})
	assert.ErrorContains(t, err, `columns = { fork_length_mm = "FL" }`)
}
