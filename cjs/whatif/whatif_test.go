package whatif_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/whatif"
	"example.org/unseen/history"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/study"
)

const dipperFolder = "../../testdata/published/lebreton1992/"

func load(t testing.TB, path string) model.Input {
	t.Helper()
	st, err := study.Load(path)
	require.NoError(t, err)
	r, err := ingest.Run(context.Background(), st, ingest.Options{})
	require.NoError(t, err)
	in, err := model.FromStudy(st, r.Histories, nil, nil)
	require.NoError(t, err)
	return in
}

func dipper(t testing.TB) model.Input { return load(t, dipperFolder+"dipper.toml") }

func fit(t testing.TB, in model.Input, survival, detection string) *cjs.Fit {
	t.Helper()
	p, err := model.Build(in, model.Spec{Survival: survival, Detection: detection})
	require.NoError(t, err)
	f, err := cjs.New(t.Context(), p, cjs.Options{})
	require.NoError(t, err)
	require.Equal(t, cjs.Converged, f.Verdict)
	return f
}

// write makes a study of histories by hand and reads it.
func write(t testing.TB, cohort string, sites []string, records []string) model.Input {
	t.Helper()
	dir := t.TempDir()
	toml := "[histories]\nfile = \"h.csv\"\n"
	if cohort != "" {
		toml += "cohort = \"" + cohort + "\"\n"
	}
	for _, s := range sites {
		toml += "[[site]]\nname = \"" + s + "\"\n"
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, "study.toml"), []byte(toml), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "h.csv"), []byte(strings.Join(records, "\n")+"\n"), 0o644))
	return load(t, filepath.Join(dir, "study.toml"))
}

// dipperRecords are the lines of the published histories, the header first.
func dipperRecords(t testing.TB) [][]string {
	t.Helper()
	b, err := os.ReadFile(dipperFolder + "histories.csv")
	require.NoError(t, err)
	var out [][]string
	for _, line := range strings.Split(strings.TrimSpace(string(b)), "\n") {
		out = append(out, strings.Split(line, ","))
	}
	return out
}

var years = []string{"1981", "1982", "1983", "1984", "1985", "1986", "1987"}

// near is a tolerance for two climbs to the same maximum: each ends within
// 1e-9 standard errors of it.
const near = 1e-7

func TestNothingLeftOutMovesNothing(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	in := dipper(t)
	f := fit(t, in, "reach + sex", "site")
	r, err := whatif.Run(t.Context(), f, []whatif.Change{
		{Kind: whatif.Rule, Name: "same", Input: func(context.Context) (model.Input, string, error) { return in, "", nil }},
		{Kind: whatif.Rule, Name: "none"},
	}, whatif.Options{})
	require.NoError(t, err)
	require.Len(t, r.Outcomes, 2)
	for _, o := range r.Outcomes {
		require.NoError(t, o.Err)
		assert.Equal(t, 294, o.Fish)
		all := 0
		for _, m := range o.Moves {
			if len(m.Of) == 0 {
				all++
			}
		}
		require.Equal(t, 6, all)
		for _, m := range o.Moves[:5] {
			assert.Zero(t, m.By, "the same data and the same start")
			assert.Equal(t, m.Before.Value, m.After.Value)
		}
	}
}

// TestSiteLeftOutIsTheTableWithoutIt makes the dipper's table without a year
// by hand, as text, and fits that.
func TestSiteLeftOutIsTheTableWithoutIt(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	in := dipper(t)
	f := fit(t, in, "reach", "site")
	r, err := whatif.Run(t.Context(), f, whatif.Changes(in), whatif.Options{})
	require.NoError(t, err)
	for k := 1; k < 7; k++ {
		t.Run(years[k], func(t *testing.T) {
			records := []string{"sex," + strings.Join(append(append([]string{}, years[:k]...), years[k+1:]...), ",")}
			for _, r := range dipperRecords(t)[1:] {
				seen := append(append([]string{}, r[2:2+k]...), r[2+k+1:]...)
				if strings.Contains(strings.Join(seen, ""), "1") {
					records = append(records, r[1]+","+strings.Join(seen, ","))
				}
			}
			byHand := fit(t, write(t, "", append(append([]string{}, years[:k]...), years[k+1:]...), records), "reach", "site")

			changed, note, err := whatif.WithoutSite(in, k)
			require.NoError(t, err)
			g := fit(t, changed, "reach", "site")
			assert.InDelta(t, byHand.MinusTwoLogLikelihood, g.MinusTwoLogLikelihood, near)
			assert.Equal(t, byHand.EffectiveSample, g.EffectiveSample)
			for i := range byHand.Survival {
				same(t, byHand.Survival[i].Value, g.Survival[i].Value)
			}
			if k < 6 {
				assert.Contains(t, note, "fish that enter at "+years[k])
			}
			// Those that enter elsewhere now are not newly released there.
			fresh := 0
			for i, e := range in.Histories.Entry {
				if int(e) != k {
					fresh += in.Histories.Weight(i)
				}
			}
			assert.Equal(t, fresh, changed.Histories.Fish())
			for i, e := range changed.Histories.Entry {
				for j, mask := range changed.Histories.River.SiteMasks()[:e+1] {
					assert.Zero(t, changed.Histories.Seen[i]&mask, "seen at site %d, entered at %d", j, e)
				}
			}

			for _, o := range r.Outcomes {
				if o.Name != years[k] {
					continue
				}
				assert.Len(t, o.Moves, 5)
				for _, m := range o.Moves {
					if m.Site >= 5 {
						continue // the product of the last reach and site has no share
					}
					// Its fish entered where they were let go, so the mean is over them.
					site := g.Problem.Histories.River.SiteIndex(years[m.Site])
					for _, row := range g.Passed {
						if row.Site == site && len(row.Of) == 0 {
							same(t, row.PassedShare.Value-f.Passed[m.Site-1].PassedShare.Value, m.By)
						}
					}
				}
			}
		})
	}
}

func same(t *testing.T, want, got float64) {
	t.Helper()
	if math.IsNaN(want) {
		assert.True(t, math.IsNaN(got), "%v", got)
		return
	}
	assert.InDelta(t, want, got, near)
}

// TestSurvivalOverTheSiteLeftOut: where nothing is seen at a site its two
// reaches are known only as their product, which is the survival of the one
// reach they become.
func TestSurvivalOverTheSiteLeftOut(t *testing.T) {
	const k = 3
	in := dipper(t)
	h := in.Histories
	var keep []int
	for i, e := range h.Entry {
		if e != k {
			keep = append(keep, i)
		}
	}
	in.Histories = h.Pick(keep)
	merged, note, err := whatif.WithoutSite(in, k)
	require.NoError(t, err)
	assert.Empty(t, note)
	one := fit(t, merged, "reach", "site")

	blind := *in.Histories
	blind.Seen = append([]uint64(nil), blind.Seen...)
	for i := range blind.Seen {
		blind.Seen[i] &^= h.River.SiteMasks()[k]
	}
	in.Histories = &blind
	in.Holds = []model.Hold{{Reach: -1, Row: k - 1, Value: 0}}
	two := fit(t, in, "reach", "site")
	assert.InDelta(t, two.MinusTwoLogLikelihood, one.MinusTwoLogLikelihood, near)
	l := two.Problem.Layout
	product := two.Probability(0, l.Survival(k-1), []float64{1}) * two.Probability(0, l.Survival(k), []float64{1})
	assert.InDelta(t, product, one.Survival[k-1].Value, near)
	same(t, two.Passed[k].PassedShare.Value, one.Passed[k-1].PassedShare.Value)
}

func TestCohortLeftOut(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	var all, males []string
	for i, r := range dipperRecords(t) {
		line := strings.Join(r[1:], ",")
		all = append(all, line)
		if i == 0 || r[1] == "male" {
			males = append(males, line)
		}
	}
	in := write(t, "sex", years, all)
	for _, c := range []struct {
		survival, detection string
		shared              bool
	}{
		{"reach + cohort", "site", true}, {"reach by cohort", "site by cohort", false},
	} {
		f := fit(t, in, c.survival, c.detection)
		byHand := fit(t, write(t, "", years, males), "reach", "site")
		r, err := whatif.Run(t.Context(), f, whatif.Changes(in), whatif.Options{})
		require.NoError(t, err)
		found := false
		for _, o := range r.Outcomes {
			if o.Kind != whatif.Cohort || o.Name != "female" {
				continue
			}
			found = true
			require.NoError(t, o.Err)
			assert.Equal(t, len(males)-1, o.Fish)
			for i, m := range o.Moves[:5] {
				same(t, byHand.Passed[i].PassedShare.Value, m.After.Value)
				if !c.shared {
					// Nothing is shared with the males: only the mean is over others.
					same(t, m.OfMix, m.By)
				} else {
					assert.Greater(t, math.Abs(m.OfMix-m.By), 1e-4)
				}
			}
		}
		assert.True(t, found)
	}
}

func TestOutcomesStandByTheSizeOfTheMove(t *testing.T) {
	in := dipper(t)
	r, err := whatif.Run(t.Context(), fit(t, in, "reach", "site"), whatif.Changes(in), whatif.Options{})
	require.NoError(t, err)
	require.Len(t, r.Outcomes, 6)
	for i := 1; i < len(r.Outcomes); i++ {
		assert.GreaterOrEqual(t, math.Abs(r.Outcomes[i-1].Largest().By), math.Abs(r.Outcomes[i].Largest().By))
	}
	require.Len(t, r.Influence, 10)
}

// many is the histories with every record standing for n fish.
func many(h *history.Histories, n int) *history.Histories {
	out := *h
	out.Count = make([]int32, h.Len())
	for i := range out.Count {
		out.Count[i] = int32(n)
	}
	return &out
}

// TestInfluenceIsARefitWithoutTheFish: with a thousand fish of every history,
// one fish less is a step so small that what first order leaves out, the move
// times the fish's share of the data, is below a hundredth of the move.
func TestInfluenceIsARefitWithoutTheFish(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	in := dipper(t)
	h := many(in.Histories, 1000)
	// A number of the fish, with no pattern but of all signs and sizes.
	rnd := rand.New(rand.NewPCG(5, 4))
	c := history.Column{Name: "mass", Value: make([]float64, h.Len())}
	for i := range c.Value {
		c.Value[i] = 50 + 5*rnd.NormFloat64()
	}
	h.Columns = append(append([]history.Column(nil), h.Columns...), c)
	in.Histories = h
	for _, m := range [][2]string{{"reach + sex", "site"}, {"reach + mass", "same"}, {"sex by mass", "site"}, {"reach by sex", "site by sex"}} {
		t.Run(m[0], func(t *testing.T) {
			f := fit(t, in, m[0], m[1])
			list, err := whatif.Influences(t.Context(), f, 1<<20)
			require.NoError(t, err)
			require.Greater(t, len(list), 25)
			for n, x := range list {
				if n%(1+len(list)/12) != 0 {
					continue
				}
				less := *h
				less.Count = append([]int32(nil), h.Count...)
				less.Count[x.Record]--
				changed := in
				changed.Histories = &less
				g := fit(t, changed, m[0], m[1])
				require.Equal(t, len(f.Passed), len(g.Passed))
				for j, by := range x.By {
					if math.IsNaN(by) {
						assert.True(t, math.IsNaN(g.Passed[j].PassedShare.Value))
						continue
					}
					want := g.Passed[j].PassedShare.Value - f.Passed[j].PassedShare.Value
					assert.InDelta(t, want, by, 0.01*math.Abs(want)+1e-9, "record %d at site %d", x.Record, x.Sites[j])
				}
			}
		})
	}
}

// TestInfluenceOfOneInFew: with the published numbers of fish the first order
// still names the fish that matter, though not each move to a percent.
func TestInfluenceOfOneInFew(t *testing.T) {
	in := dipper(t)
	f := fit(t, in, "reach", "site")
	list, err := whatif.Influences(t.Context(), f, 5)
	require.NoError(t, err)
	for _, x := range list {
		var keep []int
		for i := range in.Histories.Len() {
			if i != x.Record {
				keep = append(keep, i)
			}
		}
		changed := in
		changed.Histories = in.Histories.Pick(keep)
		g := fit(t, changed, "reach", "site")
		for j := range 5 {
			want := g.Passed[j].PassedShare.Value - f.Passed[j].PassedShare.Value
			// One fish of the 22 released first is a large step: a third.
			assert.InDelta(t, want, x.By[j], 0.35*math.Abs(want)+0.002, "record %d", x.Record)
		}
		assert.NotEmpty(t, x.History)
	}
}

func TestInfluenceNamesFish(t *testing.T) {
	f := fit(t, dipper(t), "reach", "site")
	list, err := whatif.Influences(t.Context(), f, 1<<20)
	require.NoError(t, err)
	fish := 0
	histories := map[string]bool{}
	for _, x := range list {
		fish += x.Alike
		assert.False(t, histories[x.History], "alike fish are one entry: %s", x.History)
		histories[x.History] = true
		r := dipperRecords(t)[1+x.Record]
		assert.Equal(t, r[0], x.Tag)
		assert.Equal(t, strings.Join(r[2:], " "), x.History)
	}
	assert.Equal(t, 294, fish)
	// The moves of all fish nearly add up to nothing but the missing fish: the
	// scores at the maximum sum to zero, and so do the parts of the mean.
	for j := range 5 {
		var sum float64
		for _, x := range list {
			sum += float64(x.Alike) * x.By[j]
		}
		assert.InDelta(t, 0, sum, 1e-6)
	}
}

// TestInfluenceOfThousands has more fish than one task takes, each with a
// number of its own: the scores at the maximum sum to zero over all of them.
func TestInfluenceOfThousands(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	in := dipper(t)
	var records []int
	for range 15 {
		for i := range in.Histories.Len() {
			records = append(records, i)
		}
	}
	h := in.Histories.Pick(records)
	rnd := rand.New(rand.NewPCG(8, 8))
	c := history.Column{Name: "mass", Value: make([]float64, h.Len())}
	for i := range c.Value {
		c.Value[i] = rnd.NormFloat64()
	}
	h.Columns = append(h.Columns, c)
	in.Histories = h
	f := fit(t, in, "reach + mass", "site")
	list, err := whatif.Influences(t.Context(), f, 1<<20)
	require.NoError(t, err)
	require.Len(t, list, 15*294)
	var sum, size float64
	for _, x := range list {
		assert.Equal(t, 1, x.Alike)
		sum += x.By[4]
		size += math.Abs(x.By[4])
	}
	assert.InDelta(t, 0, sum/size, 1e-6, "the fit ends within 1e-9 standard errors of where they do")

	// Variances multiplied do not change where a fit without the fish ends.
	p, err := model.Build(in, model.Spec{Survival: "reach + mass", Detection: "site"})
	require.NoError(t, err)
	wide, err := cjs.New(t.Context(), p, cjs.Options{VarianceInflation: 3})
	require.NoError(t, err)
	same3, err := whatif.Influences(t.Context(), wide, 3)
	require.NoError(t, err)
	plain3, err := whatif.Influences(t.Context(), f, 3)
	require.NoError(t, err)
	for i, x := range same3 {
		assert.Equal(t, plain3[i].Record, x.Record)
		assert.InDelta(t, plain3[i].By[0], x.By[0], 1e-12)
	}
}

func TestSameAtAnyNumberOfCores(t *testing.T) {
	in := dipper(t)
	in.Histories = many(in.Histories, 1)
	f := fit(t, in, "reach", "site")
	was := runtime.GOMAXPROCS(1)
	defer runtime.GOMAXPROCS(was)
	one, err := whatif.Influences(t.Context(), f, 20)
	require.NoError(t, err)
	runtime.GOMAXPROCS(4)
	four, err := whatif.Influences(t.Context(), f, 20)
	require.NoError(t, err)
	// Not Equal on the whole: NaN is not equal to itself.
	assert.Equal(t, fmt.Sprint(one), fmt.Sprint(four))
}

func TestCancelled(t *testing.T) {
	in := dipper(t)
	f := fit(t, in, "reach", "site")
	ctx, cancel := context.WithCancel(t.Context())
	_, err := whatif.Run(ctx, f, whatif.Changes(in), whatif.Options{Done: func(n, of int) { cancel() }})
	assert.ErrorIs(t, err, context.Canceled)
}

func TestWhatCannotBeLeftOut(t *testing.T) {
	in := load(t, dipperFolder+"dipper_next_seen.toml")
	_, _, err := whatif.WithoutSite(in, 3)
	assert.ErrorContains(t, err, "does not say where the fish detected at 1984 had come from")
	// Below the last site nothing is lost by not knowing.
	last, _, err := whatif.WithoutSite(in, 6)
	require.NoError(t, err)
	byHistories, _, err := whatif.WithoutSite(dipper(t), 6)
	require.NoError(t, err)
	assert.InDelta(t, fit(t, byHistories, "reach", "site").MinusTwoLogLikelihood, fit(t, last, "reach", "site").MinusTwoLogLikelihood, near)

	_, _, err = whatif.WithoutSite(write(t, "", years[:2], []string{"1981,1982", "1,1", "1,0"}), 1)
	assert.ErrorContains(t, err, "no site is left below the release")

	in = dipper(t)
	in.Holds = []model.Hold{{Reach: 2, Row: -1, Value: 0.9}}
	_, _, err = whatif.WithoutSite(in, 3)
	assert.ErrorContains(t, err, "survival 1983 to 1984 is held at 0.9")
	// The others go on all the same.
	f := fit(t, in, "reach", "site")
	r, err := whatif.Run(t.Context(), f, whatif.Changes(in), whatif.Options{})
	require.NoError(t, err)
	o := r.Outcomes[len(r.Outcomes)-1]
	assert.Error(t, o.Err)
	assert.Empty(t, o.Moves)
	assert.NoError(t, r.Outcomes[0].Err)
}

// rowsOfAll is a river with a divided site, cohorts, and fish of all kinds.
func rowsOfAll() model.Input {
	h := &history.Histories{Cohorts: []string{"a", "b"}, CohortColumn: "lot", River: history.River{Sites: []history.Site{
		{Name: "Mill Lade", Km: 58, Days: math.NaN()},
		{Name: "Alder Ford", Km: 36.6, Days: 2, Rows: []string{"upper", "lower"}, Attributes: map[string]float64{"days": 2}},
		{Name: "Scar Weir", Km: 14.2, Days: 3, Attributes: map[string]float64{"days": 3, "gate": 1}},
		{Name: "Tidehead", Km: 0, Days: 1, Rows: []string{"left", "mid", "right"}, Attributes: map[string]float64{"days": 1}},
	}}}
	rnd := rand.New(rand.NewPCG(1, 2))
	for i := range 200 {
		seen := rnd.Uint64() & 63
		end := history.Open
		if i%7 == 0 {
			end = history.Removed
		}
		h.Entry = append(h.Entry, 0)
		h.Seen = append(h.Seen, seen)
		h.End = append(h.End, end)
		h.Cohort = append(h.Cohort, int32(i%2))
		for b := range 6 {
			first, last := int64(history.NoTime), int64(history.NoTime)
			if seen>>b&1 == 1 {
				first = int64(100*i + b)
				last = first + 1
			}
			h.First, h.Last = append(h.First, first), append(h.Last, last)
		}
	}
	condition := history.CohortCondition{Name: "flow", Mean: [][]float64{{0, 1, 2, 3}, {0, 4, 5, 6}}, Fish: [][]int{{0, 1, 1, 1}, {0, 1, 1, 1}}}
	return model.Input{Histories: h, Conditions: []history.CohortCondition{condition},
		Holds: []model.Hold{
			{Reach: 0, Row: -1, Value: 0.9, Where: map[string]string{"lot": "a"}},
			{Reach: 1, Row: -1, Value: 0.8, Where: map[string]string{"lot": "a"}},
			{Reach: 2, Row: -1, Value: 1},
			{Reach: -1, Row: 1, Value: 0.5},
			{Reach: -1, Row: 4, Value: 0.4},
		},
		TestPasses: []model.TestPasses{{Row: 0, Passes: 9, Read: 3}, {Row: 5, Passes: 8, Read: 2, Where: map[string]string{"lot": "b"}}}}
}

func TestRowsHoldsAndConditionsMoveUp(t *testing.T) {
	in := rowsOfAll()
	h := in.Histories
	for k := 1; k < 4; k++ {
		out, note, err := whatif.WithoutSite(in, k)
		require.NoError(t, err)
		g := out.Histories
		require.NoError(t, g.River.Check())
		require.Equal(t, h.Len(), g.Len())
		rows := g.River.Rows()
		for i := range h.Len() {
			for b := range rows {
				label := g.River.RowLabel(b)
				was := 0
				for h.River.RowLabel(was) != label {
					was++
				}
				assert.Equal(t, h.Seen[i]>>was&1, g.Seen[i]>>b&1, label)
				assert.Equal(t, h.First[i*6+was], g.First[i*rows+b])
				assert.Equal(t, h.Last[i*6+was], g.Last[i*rows+b])
			}
			assert.Zero(t, g.Seen[i]>>rows)
			last := h.LastSite(i, h.River.SiteMasks())
			want := h.End[i]
			if k == 3 && last == 3 {
				want = history.Open
			}
			assert.Equal(t, want, g.End[i])
		}
		if k < 3 {
			assert.Contains(t, note, "taken out at "+h.River.Sites[k].Name)
		} else {
			assert.Empty(t, note)
		}
		assert.Len(t, out.Conditions[0].Mean[1], 3)
	}
	out, _, err := whatif.WithoutSite(in, 1)
	require.NoError(t, err)
	river := out.Histories.River
	assert.Equal(t, 5.0, river.Sites[1].Days)
	assert.Equal(t, map[string]float64{"days": 5, "gate": 1}, river.Sites[1].Attributes)
	assert.InDelta(t, 43.8, river.ReachKm(0), 1e-12, "58 − 14.2")
	assert.Equal(t, map[string]float64{"days": 3, "gate": 1}, h.River.Sites[2].Attributes, "the input stays as it is")
	require.Len(t, out.Holds, 3)
	assert.Equal(t, 0, out.Holds[0].Reach)
	assert.InDelta(t, 0.72, out.Holds[0].Value, 1e-15)
	assert.Equal(t, 1, out.Holds[1].Reach)
	assert.Equal(t, 2, out.Holds[2].Row, "Tidehead/mid, of row 4")
	assert.Equal(t, []model.TestPasses{{Row: 3, Passes: 8, Read: 2, Where: map[string]string{"lot": "b"}}}, out.TestPasses)
	assert.Equal(t, [][]float64{{0, 2, 3}, {0, 5, 6}}, out.Conditions[0].Mean)

	// Held for some fish and, at 1, for all.
	out, _, err = whatif.WithoutSite(in, 2)
	require.NoError(t, err)
	require.Len(t, out.Holds, 4)
	assert.Equal(t, model.Hold{Reach: 1, Row: -1, Value: 0.8, Where: map[string]string{"lot": "a"}}, out.Holds[1])

	// A reach held at 1 says nothing of the other's survival.
	out, _, err = whatif.WithoutSite(model.Input{Histories: h, Holds: in.Holds[2:]}, 2)
	require.NoError(t, err)
	assert.Len(t, out.Holds, 2)

	out, err = whatif.WithoutCohort(in, 1)
	require.NoError(t, err)
	assert.Equal(t, []string{"a"}, out.Histories.Cohorts)
	assert.Equal(t, 100, out.Histories.Len())
	assert.Len(t, out.Holds, 5)
	assert.Len(t, out.TestPasses, 1)
	assert.Equal(t, [][]float64{{0, 1, 2, 3}}, out.Conditions[0].Mean)
	out, err = whatif.WithoutCohort(in, 0)
	require.NoError(t, err)
	assert.Len(t, out.Holds, 3)
	assert.Equal(t, int32(0), out.Histories.Cohort[0])
	assert.Equal(t, int32(1), h.Cohort[1], "the input stays as it is")
}
