package assess_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// fishOf makes the histories of a river of undivided sites. Each word is a
// count and a history from the first site on: 1 seen (or released), 0 not, x
// seen and taken out.
func fishOf(t *testing.T, sites []string, words ...string) *history.Histories {
	t.Helper()
	h := &history.Histories{Cohorts: []string{"all"}, Count: []int32{}}
	for _, name := range sites {
		h.River.Sites = append(h.River.Sites, history.Site{Name: name, Km: math.NaN(), Days: math.NaN()})
	}
	for _, w := range words {
		var n int32
		var bits string
		_, err := fmt.Sscan(w, &n, &bits)
		require.NoError(t, err)
		require.Len(t, bits, len(sites))
		entry := strings.IndexAny(bits, "1")
		var seen uint64
		end := history.Open
		for k := entry + 1; k < len(bits); k++ {
			if bits[k] != '0' {
				seen |= 1 << uint(k-1)
			}
			if bits[k] == 'x' {
				end = history.Removed
			}
		}
		h.Entry = append(h.Entry, uint8(entry))
		h.Seen = append(h.Seen, seen)
		h.End = append(h.End, end)
		h.Count = append(h.Count, n)
		h.Cohort = append(h.Cohort, 0)
	}
	return h
}

var hollin = []string{"Mill Lade", "Alder Ford", "Scar Weir", "Low Bridge", "Tidehead"}

func tablesOf(r *assess.Result, id string) []assess.Table {
	var out []assess.Table
	for _, t := range r.Tables {
		if t.Check == id {
			out = append(out, t)
		}
	}
	return out
}

// One release, counted by hand.
func TestOneRelease(t *testing.T) {
	h := fishOf(t, hollin,
		"30 11111", "20 11101", "10 10111", "25 10101", "8 11100", "14 10100",
		"12 11011", "9 10011", "7 11000", "40 10000", "6 11010", "5 10001", "4 11x00", "3 101x0")
	r, err := assess.Check(h, assess.Options{})
	require.NoError(t, err)

	assert.Empty(t, tablesOf(r, assess.NewlySeenAgain))
	again := tablesOf(r, assess.EarlierSeenAgain)
	require.Len(t, again, 2)
	// At Scar Weir: seen at Alder Ford 30+20+8, of which 8 never again; not
	// seen there 10+25+14+3, of which 14 never. The 4 taken out there are in
	// neither.
	assert.Equal(t, "Scar Weir", r.River.Sites[again[0].Site].Name)
	assert.Equal(t, [][]int{{50, 8}, {38, 14}}, again[0].Counts)
	assert.Equal(t, []string{"detected at Alder Ford", "not detected at Alder Ford"}, again[0].Lines)
	// At Low Bridge: seen at both above 30; at one 10 + 12 + 6 (12 and 6 at
	// Alder Ford), at none 9. At both against fewer: 30 to 37; at one or
	// more against none 58 to 9. The 3 taken out are in neither.
	assert.Equal(t, "Low Bridge", r.River.Sites[again[1].Site].Name)
	assert.Equal(t, 2, again[1].Often)
	assert.Equal(t, [][]int{{30, 0}, {31, 6}}, again[1].Counts)
	where := tablesOf(r, assess.EarlierWhereNext)
	require.Len(t, where, 1)
	assert.Equal(t, [][]int{{30, 20}, {13, 25}}, where[0].Counts)
	assert.Equal(t, []string{"next detected at Low Bridge", "next detected at Tidehead"}, where[0].Columns)
	// (50·14 − 8·38)²·110 / (58·52·88·22), in closed form for 2 × 2.
	assert.InDelta(t, 396.0*396*110/(58*52*88*22), again[0].Statistic, 1e-9)

	next := tablesOf(r, assess.UnseenNextSeen)
	require.Len(t, next, 2)
	// At Alder Ford, seen again below: seen 30+20+8+4 at Scar Weir, 12+6
	// later; unseen 10+25+14+3 and 9+5.
	assert.Equal(t, [][]int{{62, 18}, {52, 14}}, next[0].Counts)
	// At Scar Weir: seen, next at Low Bridge 30+10+3, later 20+25; unseen
	// 12+9+6 and 5.
	assert.Equal(t, [][]int{{43, 45}, {27, 5}}, next[1].Counts)
	later := tablesOf(r, assess.UnseenWhereLater)
	require.Len(t, later, 1)
	assert.Equal(t, [][]int{{18, 0}, {9, 5}}, later[0].Counts)

	assert.Equal(t, "Of fish detected again below Scar Weir, those detected at Scar Weir were next detected at Low Bridge less often (43 of 88) than those that passed it unseen (27 of 32), p < 0.001: detections at the two sites are not independent, or fish differ in how well they are detected.", next[1].Sentence(r.River))
	assert.Contains(t, again[0].Sentence(r.River), "Of fish detected at Scar Weir, those detected at Alder Ford were detected again more often (50 of 58) than those not detected at Alder Ford (38 of 52), p = 0.09.")
}

// Where hardly any are newly tagged at a site, fish seen before are split by
// how often.
func TestFewNewlyTagged(t *testing.T) {
	h := fishOf(t, hollin, "50 11111", "40 10111", "30 11100", "35 10100", "1 00111")
	r, err := assess.Check(h, assess.Options{})
	require.NoError(t, err)
	newly := tablesOf(r, assess.NewlySeenAgain)
	require.Len(t, newly, 1)
	assert.False(t, newly[0].Counted)
	earlier := tablesOf(r, assess.EarlierSeenAgain)
	require.Len(t, earlier, 2)
	assert.Equal(t, [][]int{{50, 30}, {40, 35}}, earlier[0].Counts)

	// Fish without a site between release and here cannot be split.
	h = fishOf(t, hollin, "50 11111", "40 10111", "30 11100", "35 10100", "20 01110", "20 01100")
	r, err = assess.Check(h, assess.Options{})
	require.NoError(t, err)
	assert.Equal(t, [][]int{{50, 30}, {40, 35}}, tablesOf(r, assess.EarlierSeenAgain)[0].Counts)
}

// Order, weights and cohorts kept apart do not matter where they should not.
func TestInvariants(t *testing.T) {
	d := design{Fish: []int{150, 40, 40}, Cohorts: 3, Sites: 6, Survival: 0.8, Detection: 0.5, Rows: 2, Removed: 0.1}
	h := d.simulate(rand.New(rand.NewPCG(8, 8)))
	r, err := assess.Check(h, assess.Options{})
	require.NoError(t, err)
	require.Positive(t, r.Total.DF)

	var sum assess.Sum
	for _, c := range r.Classes {
		sum.Statistic += c.Statistic
		sum.DF += c.DF
	}
	assert.InDelta(t, r.Total.Statistic, sum.Statistic, 1e-9)
	assert.Equal(t, r.Total.DF, sum.DF)

	backwards := *h
	backwards.Cohort, backwards.Entry = slices.Clone(h.Cohort), slices.Clone(h.Entry)
	backwards.Seen, backwards.End = slices.Clone(h.Seen), slices.Clone(h.End)
	slices.Reverse(backwards.Cohort)
	slices.Reverse(backwards.Entry)
	slices.Reverse(backwards.Seen)
	slices.Reverse(backwards.End)
	again, err := assess.Check(&backwards, assess.Options{})
	require.NoError(t, err)
	assert.Equal(t, same(t, r), same(t, again))

	twice := *h
	twice.Cohort, twice.Entry = append(slices.Clone(h.Cohort), h.Cohort...), append(slices.Clone(h.Entry), h.Entry...)
	twice.Seen, twice.End = append(slices.Clone(h.Seen), h.Seen...), append(slices.Clone(h.End), h.End...)
	weighted := *h
	weighted.Count = slices.Repeat([]int32{2}, h.Len())
	a, err := assess.Check(&twice, assess.Options{})
	require.NoError(t, err)
	b, err := assess.Check(&weighted, assess.Options{})
	require.NoError(t, err)
	assert.Equal(t, same(t, a), same(t, b))
	assert.NotEqual(t, same(t, r), same(t, a))

	// One cohort by itself gives its own part.
	one := history.Histories{River: h.River, Cohorts: []string{"1"}}
	for i, c := range h.Cohort {
		if c == 0 {
			one.Cohort, one.Entry = append(one.Cohort, 0), append(one.Entry, h.Entry[i])
			one.Seen, one.End = append(one.Seen, h.Seen[i]), append(one.End, h.End[i])
		}
	}
	o, err := assess.Check(&one, assess.Options{})
	require.NoError(t, err)
	assert.Equal(t, r.Classes[0].Statistic, o.Total.Statistic)
}

// Rows of a divided site: the same tables as the fit's own tests of rows.
func TestRows(t *testing.T) {
	d := design{Fish: []int{400}, Sites: 4, Survival: 0.9, Detection: 0.5, Rows: 3, shadow: 0.3}
	h := d.simulate(rand.New(rand.NewPCG(3, 1)))
	p, err := model.Build(model.Input{Histories: h}, model.Spec{})
	require.NoError(t, err)
	f, err := cjs.New(context.Background(), p, cjs.Options{})
	require.NoError(t, err)
	rows := tablesOf(assess.OfModel(p), assess.RowsIndependent)
	require.Len(t, rows, 4)
	require.Len(t, f.RowTests, 4)
	for i, x := range f.RowTests {
		assert.Equal(t, [][]int{{x.Both, x.OnlyA}, {x.OnlyB, x.Neither}}, rows[i].Counts)
		assert.Equal(t, [2]int{x.Site, x.RowA}, [2]int{rows[i].Site, rows[i].Row})
	}
	assert.Contains(t, rows[0].Sentence(&h.River), "those detected at row 1 were detected at row 2 more often")
}

// What cannot be checked says so, and why.
func TestCannotBeChecked(t *testing.T) {
	for _, h := range []*history.Histories{
		fishOf(t, hollin[:1], "5 1"), fishOf(t, hollin[:2], "5 11", "3 10"),
		fishOf(t, hollin[:3], "30 111", "30 101", "20 110"), fishOf(t, hollin, "2 11111", "1 10101"),
	} {
		r, err := assess.Check(h, assess.Options{})
		require.NoError(t, err)
		factor, ok := r.VarianceInflation()
		assert.False(t, ok)
		assert.Equal(t, 1.0, factor)
		assert.True(t, math.IsNaN(r.Total.P))
		assert.Contains(t, r.Words()[0], "cannot be checked")
		w := r.Warnings()
		require.Len(t, w, 1)
		assert.Equal(t, assess.WarnCannotBeChecked, w[0].ID)
	}
}

// Every warning of a result is provoked, and the words of a good fit have none.
func TestWarnings(t *testing.T) {
	ids := func(r *assess.Result) []string {
		var out []string
		for _, w := range r.Warnings() {
			out = append(out, w.ID)
		}
		return out
	}
	check := func(d design) *assess.Result {
		r, err := assess.Check(d.simulate(rand.New(rand.NewPCG(1, 2))), assess.Options{})
		require.NoError(t, err)
		return r
	}
	good := check(design{Fish: []int{500}, Cohorts: 2, Sites: 6, Survival: 0.9, Detection: 0.6})
	assert.Empty(t, ids(good))
	assert.True(t, strings.HasPrefix(good.Words()[0], "No evidence of lack of fit"), good.Words()[0])

	poor := check(design{Fish: []int{500}, Cohorts: 2, Sites: 6, Survival: 0.9, Detection: 0.6, memory: 0.2})
	assert.Equal(t, []string{assess.WarnLackOfFit}, ids(poor))
	assert.Contains(t, poor.Warnings()[0].Message, "detected and missed fish are next detected alike")

	wrong := check(design{Fish: []int{2000}, Cohorts: 2, Sites: 6, Survival: 0.9, Detection: 0.6, memory: 0.4})
	assert.Equal(t, []string{assess.WarnWrongModel}, ids(wrong))
	factor, _ := wrong.VarianceInflation()
	assert.Greater(t, factor, 3.0)
	text := strings.Join(wrong.Words(), "\n")
	assert.Contains(t, text, "Above 3 the model itself is inadequate")
	assert.Contains(t, text, "(cohort 2)")

	wrong.BeforeCovariates = true
	assert.Equal(t, []string{assess.WarnWrongModel, assess.WarnBeforeCovariates}, ids(wrong))
	assert.Contains(t, strings.Join(wrong.Words(), "\n"), "Variance inflation before covariates")
}

// Cohorts that differ are shown and never summed.
func TestLikenessIsNoLackOfFit(t *testing.T) {
	a := design{Fish: []int{800}, Sites: 6, Survival: 0.9, Detection: 0.8}.histories(1)
	b := design{Fish: []int{800}, Sites: 6, Survival: 0.9, Detection: 0.3}.histories(2)
	h := &history.Histories{River: a.River, Cohorts: []string{"early", "late"}}
	h.Entry, h.Seen, h.End = append(a.Entry, b.Entry...), append(a.Seen, b.Seen...), append(a.End, b.End...)
	h.Cohort = append(a.Cohort, slices.Repeat([]int32{1}, b.Len())...)
	r, err := assess.Check(h, assess.Options{})
	require.NoError(t, err)
	require.Len(t, r.Likeness, 5)
	for _, x := range r.Likeness {
		assert.Less(t, x.P, 0.001)
		assert.False(t, x.Counted)
	}
	assert.Equal(t, "Fish released at site 0 differ by cohort in where they are next detected, p < 0.001: keep them apart in the model; this is no lack of fit.", r.Likeness[0].Sentence(r.River))
	assert.Greater(t, r.Total.P, 0.01)
	// Taken as one cohort, they are lack of fit: fish of two kinds.
	h.Cohort, h.Cohorts = make([]int32, h.Len()), []string{"all"}
	whole, err := assess.Check(h, assess.Options{})
	require.NoError(t, err)
	assert.Less(t, whole.Total.P, 0.001)
}

func (d design) histories(seed uint64) *history.Histories {
	return d.simulate(rand.New(rand.NewPCG(seed, 0)))
}

// Fish without a category are left out and counted.
func TestLeftOut(t *testing.T) {
	h := fishOf(t, hollin, "50 11111", "40 10111", "30 11100", "35 10100")
	h.Columns = []history.Column{{Name: "sex", Levels: []string{"f", "m"}, Level: []int32{0, 1, -1, 0}}, {Name: "length", Value: make([]float64, 4)}}
	r, err := assess.Check(h, assess.Options{Categories: []string{"sex"}})
	require.NoError(t, err)
	assert.Equal(t, 30, r.LeftOut)
	assert.Equal(t, []cjs.Category{{Name: "sex", Level: "m"}}, r.Classes[1].Of)
	_, err = assess.Check(h, assess.Options{Categories: []string{"length"}})
	assert.ErrorContains(t, err, `"length" is no category of the fish; there are sex`)
}

func BenchmarkCheck(b *testing.B) {
	d := design{Fish: []int{50_000}, Cohorts: 20, Sites: 7, Survival: 0.9, Detection: 0.6}
	h := d.histories(1)
	for b.Loop() {
		if _, err := assess.Check(h, assess.Options{}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(h.Len())*float64(b.N)/b.Elapsed().Seconds(), "fish/s")
}

// Fish that share one fate in schools of m widen every variance m-fold, and
// the variance inflation says so.
func TestVarianceInflationOfSchools(t *testing.T) {
	d := design{Fish: []int{1000}, Sites: 7, Survival: 0.9, Detection: 0.6}
	const studies = 100
	for m := int32(1); m <= 3; m++ {
		var sum float64
		for i := range uint64(studies) {
			h := d.simulate(rand.New(rand.NewPCG(77, i)))
			h.Count = slices.Repeat([]int32{m}, h.Len())
			r, err := assess.Check(h, assess.Options{})
			require.NoError(t, err)
			sum += r.Total.Statistic / float64(r.Total.DF)
		}
		// About 17 df a study: the mean of 100 has a standard error of
		// m·√(2/17/100), 3.4 % of m; four of these.
		assert.InEpsilon(t, float64(m), sum/studies, 0.14)
	}
}
