package plan_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/plan"
	"example.org/unseen/cjs/simulate"
	"example.org/unseen/history/study"
)

const oneSite = `
[[site]]
name = "Mill Lade"
km = 20
[[site]]
name = "Tidehead"
km = 0
survival = 0.8
detection = 0.6
test_passes = 50
`

const fourHundred = "[[cohort]]\nname = \"early\"\nfish = 400\n"

// One site below the release, survival S, detection p by m test passes, working for a
// known share w of the passages: of n fish x ~ Bin(n, S w p) are seen and S is
// x/(n w p), so that var S/S² = (1 − S w p)/(n S w p) + (1 − p)/(m p).
func TestWorkingShareInClosedForm(t *testing.T) {
	for _, w := range []float64{1, 0.7, 0.2} {
		f, err := plan.Parse("plan.toml", []byte(oneSite+"working_share = "+study.FormatNumber(w)+"\n"+fourHundred))
		require.NoError(t, err)
		p, err := plan.FromFile(f)
		require.NoError(t, err)
		got := forecast(t, p)
		const s, d, n, m = 0.8, 0.6, 400.0, 50.0
		assert.InDelta(t, s, got.Passed[0].Value, 1e-9)
		assert.InEpsilon(t, s*math.Sqrt((1-s*w*d)/(n*s*w*d)+(1-d)/(m*d)), got.Passed[0].SE, 1e-8, w)
		assert.InDelta(t, d, got.Detection[0].Value, 1e-9)
		assert.InEpsilon(t, math.Sqrt(d*(1-d)/m), got.Detection[0].SE, 1e-8, w)
		if _, err = got.Verify(t.Context(), 10, 1, nil); w == 1 {
			require.NoError(t, err)
			assert.NotContains(t, p.Notes, "The working shares are taken as known, and the outages of different rows as independent of each other.")
			continue
		}
		assert.ErrorContains(t, err, "does not say when")
		assert.Contains(t, p.Notes[0], "Tidehead is assumed to work for "+study.FormatNumber(100*w)+".0 % of the passages there; its detection is that at full work.")
	}
}

// What changes the sites or rows takes their working shares along: the plan stays one
// that can be forecast, and a further row, new antennas and half the fish help or
// harm as they must.
func TestOptionsKeepWorkingShares(t *testing.T) {
	f, err := plan.Parse("plan.toml", []byte(oneSite+"working_share = 0.7\n"+`[[site]]
name = "Bar"
km = -4
survival = 0.9
detection = 0.5
test_passes = 60
working_share = 0.4
`+fourHundred))
	require.NoError(t, err)
	p, err := plan.FromFile(f)
	require.NoError(t, err)
	none := math.NaN()
	half := func(q *plan.Plan) float64 {
		for _, l := range forecast(t, q).Passed {
			if q.River.Sites[l.Site].Name == "Tidehead" {
				return l.Half
			}
		}
		return none
	}
	for _, c := range []struct {
		option plan.Option
		shares []float64
		helps  bool
	}{
		{plan.Option{What: "row", Site: "Tidehead", Detection: none}, []float64{0.7, 0.7, 0.4}, true},
		{plan.Option{What: "antennas", Site: "Tidehead", Detection: 0.9}, []float64{0.7, 0.4}, true},
		{plan.Option{What: "site", Site: "Weir", Km: 10, Detection: 0.9, Survival: none}, []float64{1, 0.7, 0.4}, true},
		{plan.Option{What: "drop", Site: "Bar", Detection: none}, []float64{0.7}, false},
		{plan.Option{What: "spread", Cohorts: 2, Detection: none}, []float64{0.7, 0.4}, false},
	} {
		c.option.Cost = none
		q, err := p.Apply(&c.option)
		require.NoError(t, err, c.option.What)
		assert.Equal(t, c.shares, q.Cohorts[0].Working, c.option.What)
		if c.helps {
			assert.Less(t, half(q), half(p), c.option.What)
		} else {
			assert.GreaterOrEqual(t, half(q), half(p)*(1-1e-9), c.option.What)
		}
	}
	assert.Equal(t, []float64{0.7, 0.4}, p.Cohorts[0].Working)
}

func TestWorkingShareFaults(t *testing.T) {
	const rows = "rows = [\"upper\", \"lower\"]\n"
	for text, why := range map[string]string{
		oneSite + "working_share = 0\n" + fourHundred:                                       "working_share is 0; it must be above 0",
		oneSite + "working_share = 80\n" + fourHundred:                                      "(80 % is 0.8)",
		oneSite + "working_share = [0.5, 0.8]\n" + fourHundred:                              "working_share is one number",
		oneSite + "working = [[2025-04-01, 2025-04-08]]\n" + fourHundred:                    "a plan has no times of release by which windows could count; give working_share",
		oneSite + rows + "working_share = 0.8\n" + fourHundred:                              "several rows; give each its own, { upper = … }",
		oneSite + rows + "working_share = { middle = 0.8 }\n" + fourHundred:                 `no row "middle"`,
		oneSite + fourHundred + "working_share = { Tidehed = 0.8 }\n":                       `no site or row "Tidehed"`,
		oneSite + rows + fourHundred + "working_share = { Tidehead = 0.8 }\n":               "several rows; give each its own, as \"Tidehead/upper\"",
		"[[site]]\nname = \"Mill Lade\"\nworking_share = 0.5\n" + oneSite[1:] + fourHundred: "the first site is where fish are released; it has no working_share",
		oneSite + fourHundred + "working_share = { Tidehead = [0.2, 0.8] }\n":               "is one number",
		oneSite + rows + fourHundred + "working_share = { \"Tidehead/upper\" = 1.8 }\n":     "at most 1",
	} {
		_, err := plan.Parse("plan.toml", []byte(text))
		assert.ErrorContains(t, err, why, text)
	}
}

// A season in which the last site stood still: planned again without the outage, and
// with it for the share of each cohort's passages for which it worked, which the
// simulation counted (within 4 binomial standard errors of 4,000 fish); that is worse,
// and worst for the cohort it met most.
func TestPlanOfAFitWithOutages(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	const day = 24 * time.Hour
	start := time.Date(2025, 4, 1, 12, 0, 0, 0, time.UTC)
	truth := simulate.Truth{River: river(3), TestPasses: []simulate.TestPasses{{Row: 1, Passes: 400}}}
	for k, km := range []float64{60, 20, 0} {
		truth.River.Sites[k].Km = km
	}
	for i, name := range []string{"early", "late"} {
		truth.Cohorts = append(truth.Cohorts, simulate.Cohort{Name: name, Fish: 4000, Survival: []float64{0.9, 0.9}, Detection: []float64{0.6, 0.7},
			Released: []int64{start.Add(time.Duration(i) * 5 * day).UnixMilli()}, Movement: simulate.Movement{Drift: 8, Spread: 6}})
	}
	truth.Stop(1, start.Add(11*day), start.Add(13*day))
	fit := func(truth simulate.Truth) (*simulate.Sample, model.Input) {
		s := truth.Draw(202570, 1)
		return s, model.Input{Histories: s.Histories, TestPasses: s.TestPasses, Working: truth.Working}
	}
	s, in := fit(truth)
	f := fitted(t, in, model.Spec{Survival: "reach", Detection: "row"})
	without, err := plan.FromFit(f)
	require.NoError(t, err)
	assert.Contains(t, without.Notes[0], "of the passages there in the study; the plan is for rows that work all the time, and detection is that at full work.")
	assert.Nil(t, without.Cohorts[0].Working)
	with, err := plan.FromFitWithOutages(f)
	require.NoError(t, err)
	assert.Contains(t, with.Notes[0], "is assumed to work for")
	require.Len(t, with.Cohorts, 2)
	var share, fish float64
	for i := range with.Cohorts {
		assert.Equal(t, 1.0, with.Cohorts[i].Working[0])
		share, fish = share+4000*with.Cohorts[i].Working[1], fish+4000
	}
	o := s.Outages[0]
	assert.InDelta(t, 1-o.Share(), share/fish, 4*math.Sqrt(o.Share()*(1-o.Share())/float64(o.Passed)))
	assert.Less(t, with.Cohorts[1].Working[1], with.Cohorts[0].Working[1]-0.05)
	a, b := forecast(t, without), forecast(t, with)
	for i := range a.Passed {
		if a.Passed[i].Site == 2 {
			assert.InDelta(t, a.Passed[i].Value, b.Passed[i].Value, 1e-9)
			assert.Greater(t, b.Passed[i].SE, a.Passed[i].SE*1.01)
		}
	}

	// Rows that stood still together are more than shares can tell.
	truth.River.Sites[2].Rows = []string{"upper", "lower"}
	for i := range truth.Cohorts {
		truth.Cohorts[i].Fish, truth.Cohorts[i].Detection = 800, []float64{0.6, 0.7, 0.5}
	}
	truth.Working = nil
	truth.Stop(1, start.Add(11*day), start.Add(13*day))
	truth.Stop(2, start.Add(12*day), start.Add(14*day))
	_, in = fit(truth)
	both := fitted(t, in, model.Spec{Survival: "reach", Detection: "row"})
	_, err = plan.FromFitWithOutages(both)
	assert.ErrorContains(t, err, "rows of "+truth.River.Sites[2].Name+" stood still at the same time")
	_, err = plan.FromFit(both)
	assert.NoError(t, err)
}
