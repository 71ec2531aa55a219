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
			assert.NotContains(t, p.Notes, "Detection is that at full work. The working shares are taken as known, and the outages of different sites, and of single rows, as independent of each other.")
			continue
		}
		assert.ErrorContains(t, err, "does not say when")
		assert.Contains(t, p.Notes[0], "Tidehead is assumed to work for "+study.FormatNumber(100*w)+".0 % of the passages there.")
	}
}

// One site of two rows a and b that stand still together but for a known share w of the
// passages, and for a share of those each by itself: of n fish S w a b are seen by both,
// and S is n_a n_b/(n_ab n w), n_a those seen by row a or, where it stood still, none.
func TestSiteWorkingShareInClosedForm(t *testing.T) {
	const s, a, b, w, n = 0.8, 0.6, 0.5, 0.7, 400.0
	const rows = "rows = [\"upper\", \"lower\"]\nsurvival = 0.8\ndetection = { upper = 0.6, lower = 0.5 }\n"
	const site = "[[site]]\nname = \"Mill Lade\"\nkm = 20\n[[site]]\nname = \"Tidehead\"\nkm = 0\n" + rows
	for _, text := range []string{site + "working_share = 0.7\n" + fourHundred, site + fourHundred + "working_share = { Tidehead = 0.7 }\n"} {
		f, err := plan.Parse("plan.toml", []byte(text))
		require.NoError(t, err)
		p, err := plan.FromFile(f)
		require.NoError(t, err)
		assert.Equal(t, "Tidehead is assumed to work for 70.0 % of the passages there.", p.Notes[0])
		got := forecast(t, p)
		// Of log S = log n_a + log n_b − log n_ab by the three cells, multinomial.
		na, nb, both := n*s*w*a, n*s*w*b, n*s*w*a*b
		var squares, mean float64
		for _, c := range [][2]float64{{both, 1/na + 1/nb - 1/both}, {na - both, 1 / na}, {nb - both, 1 / nb}} {
			squares, mean = squares+c[0]*c[1]*c[1], mean+c[0]*c[1]
		}
		assert.InDelta(t, s, got.Passed[0].Value, 1e-9)
		assert.InEpsilon(t, s*math.Sqrt(squares-mean*mean/n), got.Passed[0].SE, 1e-8)
		// Seen is who passes while the site works.
		assert.InEpsilon(t, n*s*w*(1-(1-a)*(1-b)), got.SeenAgain[0], 1e-9)
	}
	// Each row by itself: more are seen than of rows that stand still together as long.
	f, err := plan.Parse("plan.toml", []byte(site+"working_share = { upper = 0.7, lower = 0.7 }\n"+fourHundred))
	require.NoError(t, err)
	p, err := plan.FromFile(f)
	require.NoError(t, err)
	assert.InEpsilon(t, n*s*(1-(1-w*a)*(1-w*b)), forecast(t, p).SeenAgain[0], 1e-9)
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
		oneSite + rows + "working_share = 1.8\n" + fourHundred:                              "at most 1",
		oneSite + rows + "working_share = [0.5, 0.8]\n" + fourHundred:                       "working_share is one number",
		oneSite + rows + "working_share = { middle = 0.8 }\n" + fourHundred:                 `no row "middle"`,
		oneSite + fourHundred + "working_share = { Tidehed = 0.8 }\n":                       `no site or row "Tidehed"`,
		oneSite + rows + fourHundred + "working_share = { Tidehead = 0 }\n":                 "working_share.Tidehead is 0",
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
	assert.Contains(t, without.Notes[0], "of the passages there in the study; in the plan all rows work all the time, and detection is that at full work.")
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

	// Rows that stood still partly together: the site for the time that both did.
	truth.River.Sites[2].Rows = []string{"upper", "lower"}
	for i := range truth.Cohorts {
		truth.Cohorts[i].Detection = []float64{0.6, 0.7, 0.5}
	}
	truth.Working = nil
	truth.Stop(1, start.Add(11*day), start.Add(13*day))
	truth.Stop(2, start.Add(12*day), start.Add(14*day))
	s, in = fit(truth)
	both, err := plan.FromFitWithOutages(fitted(t, in, model.Spec{Survival: "reach", Detection: "row"}))
	require.NoError(t, err)
	for row, o := range s.Outages {
		var worked, fish float64
		for _, c := range both.Cohorts {
			assert.Less(t, c.SiteWorking[2], 1.0)
			assert.Equal(t, []float64{1, 1}, c.SiteWorking[:2])
			worked, fish = worked+float64(c.Fish)*c.SiteWorking[2]*c.Working[1+row], fish+float64(c.Fish)
		}
		assert.InDelta(t, 1-o.Share(), worked/fish, 4*math.Sqrt(o.Share()*(1-o.Share())/float64(o.Passed)), o.At)
	}
	seen := func(p *plan.Plan) (sum float64) {
		for _, n := range forecast(t, p).SeenAgain {
			sum += n
		}
		return sum
	}
	// As many are to be seen as were: 4 standard errors of 8,000 fish.
	were := 0.0
	for i := range s.Histories.Len() {
		if s.Histories.Seen[i] != 0 {
			were += float64(s.Histories.Weight(i))
		}
	}
	assert.InDelta(t, were, seen(both), 4*math.Sqrt(were*(1-were/8000)))
}
