package assess_test

import (
	"encoding/json"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/assess"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/history/ready"
	"example.org/unseen/history/study"
)

const dipperFolder = "../../testdata/published/lebreton1992/"

func dipper(t testing.TB, file string) *history.Histories {
	t.Helper()
	st, err := study.Load(dipperFolder + file)
	require.NoError(t, err)
	h, _, err := ready.Read(st)
	require.NoError(t, err)
	return h
}

type wantSum struct {
	ChiSquare float64 `json:"chi_square"`
	DF        int
	Inflation float64 `json:"variance_inflation"`
}

type wantTable struct {
	Year      int
	Table     [][]int
	Columns   []string
	Rows      []string
	ChiSquare float64 `json:"chi_square"`
	DF        int
	SmallestP *float64 `json:"smallest_exact_p"`
	Counted   bool
}

type wantCheck struct {
	Sum    wantSum
	Tables []wantTable
}

// fitChecks reads fit_checks.json: checks by sex and name, the totals, and the
// sum of both.
func fitChecks(t *testing.T) (checks map[string]map[string]wantCheck, totals map[string]wantSum, both wantSum) {
	t.Helper()
	data, err := os.ReadFile(dipperFolder + "fit_checks.json")
	require.NoError(t, err)
	var doc struct {
		Sexes map[string]map[string]json.RawMessage
		Both  wantSum `json:"both_sexes_summed"`
	}
	require.NoError(t, json.Unmarshal(data, &doc))
	checks, totals = map[string]map[string]wantCheck{}, map[string]wantSum{}
	for sex, parts := range doc.Sexes {
		checks[sex] = map[string]wantCheck{}
		for name, raw := range parts {
			if name == "total" {
				var s wantSum
				require.NoError(t, json.Unmarshal(raw, &s))
				totals[sex] = s
				continue
			}
			var c wantCheck
			require.NoError(t, json.Unmarshal(raw, &c))
			checks[sex][name] = c
		}
	}
	return checks, totals, doc.Both
}

// exactly is the tolerance of values printed in full precision.
const exactly = 1e-9

// TestDipperTables holds every table, statistic, df and exact probability by
// sex to fit_checks.json (SciPy, checked with R; see SOURCE.md there).
func TestDipperTables(t *testing.T) {
	checks, totals, both := fitChecks(t)
	h := dipper(t, "dipper.toml")
	r, err := assess.Check(h, assess.Options{Categories: []string{"sex"}})
	require.NoError(t, err)

	compared := 0
	for sexes, sex := range map[string]string{"females": "female", "males": "male"} {
		require.Len(t, checks[sexes], 4)
		for name, want := range checks[sexes] {
			var got []assess.Table
			for _, c := range r.Components {
				if c.Name != name {
					continue
				}
				for _, i := range c.Tables {
					if r.Tables[i].Of[0].Level == sex {
						got = append(got, r.Tables[i])
					}
				}
			}
			require.Len(t, got, len(want.Tables), "%s: %s", sex, name)
			var sum float64
			df := 0
			for i, w := range want.Tables {
				g, at := got[i], sex+": "+name+" "+strconv.Itoa(w.Year)
				compared++
				assert.Equal(t, strconv.Itoa(w.Year), r.River.Sites[g.Site].Name, at)
				assert.Equal(t, w.Table, g.Counts, at)
				assert.Equal(t, len(w.Columns), len(g.Columns), at)
				assert.Equal(t, w.DF, g.DF, at)
				assert.Equal(t, w.Counted, g.Counted, at)
				assert.InDelta(t, w.ChiSquare, g.Statistic, exactly, at)
				if w.SmallestP != nil {
					assert.InDelta(t, *w.SmallestP, g.SmallestP, exactly, at)
				} else {
					assert.True(t, math.IsNaN(g.SmallestP), at)
				}
				if w.DF > 0 {
					// The exact probability is the tail of the quantile it
					// is turned into, and erfc(√(x/2)) that tail at 1 df.
					assert.InDelta(t, math.Erfc(math.Sqrt(w.ChiSquare/2)), g.P, exactly, at)
				}
				if g.Counted {
					sum += g.Statistic
					df += g.DF
				} else {
					assert.NotEmpty(t, g.Why, at)
				}
			}
			assert.InDelta(t, want.Sum.ChiSquare, sum, exactly, name)
			assert.Equal(t, want.Sum.DF, df, name)
		}
		for _, c := range r.Classes {
			if c.Of[0].Level == sex {
				assert.InDelta(t, totals[sexes].ChiSquare, c.Statistic, exactly, sex)
				assert.Equal(t, totals[sexes].DF, c.DF, sex)
				assert.InDelta(t, totals[sexes].Inflation, c.Statistic/float64(c.DF), exactly, sex)
				assert.InDelta(t, chiSquareTail(totals[sexes].ChiSquare, totals[sexes].DF), c.P, exactly, sex)
			}
		}
	}
	assert.Equal(t, 32, compared)
	assert.InDelta(t, both.ChiSquare, r.Total.Statistic, exactly)
	assert.Equal(t, both.DF, r.Total.DF)
	assert.InDelta(t, chiSquareTail(both.ChiSquare, both.DF), r.Total.P, exactly)
	factor, ok := r.VarianceInflation()
	assert.True(t, ok)
	assert.InDelta(t, both.Inflation, factor, exactly)

	// What is compared in the tables by sex is not split by earlier history
	// besides, and no year has two rows.
	for _, c := range r.Components {
		assert.NotEqual(t, assess.RowsIndependent, c.ID)
		if c.ID == assess.EarlierSeenAgain {
			assert.Empty(t, c.Tables)
			assert.Contains(t, c.Why, "in its place")
		}
	}
}

// chiSquareTail is the upper tail of chi-square in closed form (Abramowitz &
// Stegun 1964, 26.4.4 and 26.4.5): a check on the incomplete gamma function.
func chiSquareTail(x float64, df int) float64 {
	if df%2 == 0 {
		term, sum := 1.0, 1.0
		for r := 1; r <= df/2-1; r++ {
			term *= x / float64(2*r)
			sum += term
		}
		return math.Exp(-x/2) * sum
	}
	c := math.Sqrt(x)
	term, sum := c, 0.0
	for r := 1; r <= (df-1)/2; r++ {
		if r > 1 {
			term *= x / float64(2*r-1)
		}
		sum += term
	}
	return math.Erfc(c/math.Sqrt2) + 2*math.Exp(-x/2)/math.Sqrt(2*math.Pi)*sum
}

// TestDipperWays: the model's own way in gives the same; a next-seen table
// gives what it can and says what it cannot; without sex there is one class.
func TestDipperWays(t *testing.T) {
	h := dipper(t, "dipper.toml")
	p, err := model.Build(model.Input{Histories: h}, model.Spec{Survival: "reach by sex", Detection: "site"})
	require.NoError(t, err)
	bySex, err := assess.Check(h, assess.Options{Categories: []string{"sex"}})
	require.NoError(t, err)
	assert.Equal(t, same(t, bySex), same(t, assess.OfModel(p)))
	require.Len(t, bySex.Likeness, 6)

	table := dipper(t, "dipper_next_seen_by_sex.toml")
	reduced, err := assess.Check(table, assess.Options{})
	require.NoError(t, err)
	assert.True(t, reduced.Reduced)
	for i, c := range reduced.Components {
		switch c.ID {
		case assess.UnseenNextSeen, assess.UnseenWhereLater:
			assert.Equal(t, bySex.Components[i].Statistic, c.Statistic)
			assert.Equal(t, bySex.Components[i].DF, c.DF)
			assert.NotEmpty(t, c.Tables)
		default:
			assert.Empty(t, c.Tables)
			assert.Contains(t, c.Why, "next-seen table")
		}
	}
	// The likeness of the sexes is counted from the same fish.
	for i := range bySex.Likeness {
		assert.Equal(t, bySex.Likeness[i].Counts, reduced.Likeness[i].Counts)
		assert.Equal(t, bySex.Likeness[i].Statistic, reduced.Likeness[i].Statistic)
	}

	// Of the females alone 4.98 on 5 df: taken as 1.
	females := *h
	females.Entry, females.Seen, females.End, females.Cohort, females.Tag = nil, nil, nil, nil, nil
	sex := h.Column("sex")
	for i := range h.Len() {
		if sex.Levels[sex.Level[i]] == "female" {
			females.Entry, females.Seen = append(females.Entry, h.Entry[i]), append(females.Seen, h.Seen[i])
			females.End, females.Cohort = append(females.End, h.End[i]), append(females.Cohort, 0)
		}
	}
	females.Columns = nil
	r, err := assess.Check(&females, assess.Options{})
	require.NoError(t, err)
	assert.Equal(t, 5, r.Total.DF)
	factor, ok := r.VarianceInflation()
	assert.True(t, ok)
	assert.Equal(t, 1.0, factor)
	assert.Contains(t, r.Words()[2], "Variance inflation: 1.00 (4.98 / 5, taken as 1).")

	whole, err := assess.Check(h, assess.Options{})
	require.NoError(t, err)
	assert.Len(t, whole.Classes, 1)
	assert.Empty(t, whole.Likeness)

	_, err = assess.Check(h, assess.Options{Categories: []string{"sx"}})
	assert.ErrorContains(t, err, `"sx" is no category of the fish; there are sex; did you mean "sex"?`)
}

// same is a result as JSON without what does not bear on it; NaN as null.
func same(t *testing.T, r *assess.Result) string {
	t.Helper()
	c := *r
	c.River = nil
	c.Tables = append([]assess.Table(nil), r.Tables...)
	for i := range c.Tables {
		for _, v := range []*float64{&c.Tables[i].P, &c.Tables[i].SmallestP} {
			if math.IsNaN(*v) {
				*v = -1
			}
		}
	}
	c.Likeness = nil
	c.Components = append([]assess.Component(nil), r.Components...)
	for i := range c.Components {
		if math.IsNaN(c.Components[i].P) {
			c.Components[i].P = -1
		}
	}
	b, err := json.Marshal(c)
	require.NoError(t, err)
	return string(b)
}
