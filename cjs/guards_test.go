package cjs_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/cjs/compare"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/opinion"
	"example.org/unseen/cjs/plan"
	"example.org/unseen/cjs/replicate"
	"example.org/unseen/cjs/season"
	"example.org/unseen/cjs/simulate"
	"example.org/unseen/cjs/travel"
	"example.org/unseen/cjs/whatif"
	"example.org/unseen/history"
	"example.org/unseen/likelihood"
)

// TestEntriesRefuse: whatever the library takes from a caller is looked at
// where it comes in, and what is refused is said with what would be right.
func TestEntriesRefuse(t *testing.T) {
	ctx := t.Context()
	in := smallStudy(t, rand.New(rand.NewPCG(1, 0)))
	in.Holds, in.Conditions = nil, nil
	spec := model.Spec{Survival: "reach", Detection: "site"}
	p, err := model.Build(in, spec)
	require.NoError(t, err)
	f, err := cjs.New(ctx, p, cjs.Options{Interval: "logit"})
	require.NoError(t, err)
	short := model.Input{Histories: &history.Histories{River: in.Histories.River, Entry: []uint8{0}, Cohorts: []string{"all"}}}
	fit := func(opt cjs.Options) error { _, err := cjs.New(ctx, p, opt); return err }
	retained := func(held, kept int) (opt cjs.Options) {
		opt.Retention.Held, opt.Retention.Kept = held, kept
		return opt
	}
	replicates := &replicate.Set{Names: []string{"a"}, Estimates: []float64{1}, Replicates: []replicate.Replicate{{Index: 1}}}
	travelled := func(h *history.Histories, opt travel.Options) error { _, err := travel.New(ctx, h, opt); return err }
	second := func(_ any, err error) error { return err }
	expectAtWork := func(work [][]likelihood.Work) error {
		return second(cjs.Expect(ctx, p, f.X, []likelihood.Released{{Z: []float64{1}, At: make([]float64, 4), Work: work}}, nil, cjs.Options{}))
	}
	pl, err := plan.FromFit(f)
	require.NoError(t, err)
	fc, err := plan.New(ctx, pl)
	require.NoError(t, err)
	target := func(kind plan.Kind, reach, site, row int) plan.Target {
		return plan.Target{Kind: kind, Reach: reach, Site: site, Row: row, HalfWidth: 0.05}
	}
	planned := func(spoil func(p *plan.Plan)) error { q := pl.WithFish(pl.Fish()); spoil(q); return q.Check() }
	option := func(o plan.Option) error { _, err := pl.Apply(&o); return err }
	nan := math.NaN()

	for _, c := range []struct {
		says string
		err  error
	}{
		{"the start: 1 coefficients for", fit(cjs.Options{Start: []float64{1}})},
		{"the start: coefficient 0 is NaN", fit(cjs.Options{Start: append([]float64{nan}, f.X[1:]...)})},
		{"retention: 4 tags kept by 3 fish", fit(retained(3, 4))},
		{"retention: 0 tags kept by -1 fish", fit(retained(-1, 0))},
		{"make one with model.Build", second(cjs.New(ctx, nil, cjs.Options{}))},
		{"make one with model.Build", second(cjs.New(ctx, &model.Problem{}, cjs.Options{}))},
		{"0 coefficients for", second(cjs.Expect(ctx, p, nil, nil, nil, cjs.Options{}))},
		{"release 0 has numbers of 1 sites; there are 4", second(cjs.Expect(ctx, p, f.X, []likelihood.Released{{Z: []float64{1}, At: []float64{1}}}, nil, cjs.Options{}))},
		{"release 0: rows at work at 1 sites; there are 4", expectAtWork([][]likelihood.Work{nil})},
		{"release 0: rows 1 work for a share of 1 of the passages of site 3", expectAtWork([][]likelihood.Work{nil, nil, nil, {{Share: 1, Rows: 1}}})},
		{"release 0: the shares of the passages of site 1 add up to 0.5", expectAtWork([][]likelihood.Work{nil, {{Share: 0.5}}, nil, nil})},
		{"unit 0: class 99", second(cjs.Expect(ctx, p, f.X, nil, []likelihood.Unit{{Class: 99}}, cjs.Options{}))},
		{"no data to refit", second(cjs.NewRefitter(f).Fit(ctx, nil))},
		{"unit 0: class 99", second(cjs.NewRefitter(f).Fit(ctx, &likelihood.Data{Units: []likelihood.Unit{{Class: 99}}}))},
		{"1 low and 0 high ends", second(f.SetIntervals("bootstrap", []float64{1}, nil))},
		{"make one with cjs.New", second((&cjs.Fit{}).Effects(ctx))},
		{"make one with cjs.New", second((*cjs.Fit)(nil).RelativePassed("early", "late", 1))},

		{"Seen has 0 values for 1 records", second(compare.Run(ctx, short, []model.Spec{spec}, cjs.Options{}, nil))},
		{"level of intervals is 95", second(compare.Run(ctx, in, []model.Spec{spec}, cjs.Options{Level: 95}, nil))},
		{"Seen has 0 values", second(assess.Check(short.Histories, assess.Options{}))},
		{"Seen has 0 values", second(season.Replay(ctx, short, spec, nil, cjs.Options{}, nil))},
		{`no intervals "profle"`, second(season.Replay(ctx, in, spec, nil, cjs.Options{Interval: "profle"}, nil))},
		{"Seen has 0 values", travelled(short.Histories, travel.Options{})},
		{"no detection histories", travelled(nil, travel.Options{})},
		{"the share 50 of the fish", travelled(in.Histories, travel.Options{Shares: []float64{50}})},
		{"level of intervals is 95", travelled(in.Histories, travel.Options{Level: 95})},
		{"sightings at or after as_of", travelled(in.Histories, travel.Options{AsOf: time.Date(2025, 4, 3, 0, 0, 0, 0, time.UTC).UnixMilli()})},

		{"a list of -1 fish", second(whatif.Run(ctx, f, nil, whatif.Options{Most: -1}))},
		{"a list of -1 fish", second(whatif.Influences(ctx, f, -1))},
		{"make one with cjs.New", second(whatif.Run(ctx, nil, nil, whatif.Options{}))},
		{"cohort number 2 cannot be left out; there are 0 to 1", second(whatif.WithoutCohort(in, 2))},
		{"-3 starts", second(opinion.Run(ctx, f, opinion.Options{Starts: -3}))},
		{"make one with cjs.New", second(opinion.Run(ctx, &cjs.Fit{}, opinion.Options{}))},
		{"make one with cjs.New", second(replicate.Run(ctx, &cjs.Fit{}, 1, 2, replicate.Options{}))},
		{"the replicates made before: replicate 1 has 0 estimates, not 1", second(replicate.Run(ctx, f, 1, 2, replicate.Options{Have: replicates}))},
		{"part 1: there are no replicates", second(replicate.Merge(nil))},
		{"replicate 1 has 0 estimates, not 1", second(replicates.Summarise(0.95))},
		{"level of intervals is 95", second((&replicate.Set{}).Summarise(95))},
		{"variance inflation is -2", second((&simulate.Study{Truth: *simulate.TruthOf(f), Options: cjs.Options{VarianceInflation: -2}}).Run(ctx, 1, 1, nil))},

		{"make one with cjs.New", second(plan.FromFit(nil))},
		{"there is no plan", second(plan.New(ctx, nil))},
		{"level of intervals is 95", planned(func(p *plan.Plan) { p.Level = 95 })},
		{"variance inflation is -2", planned(func(p *plan.Plan) { p.VarianceInflation = -2 })},
		{"refers to value number 99", planned(func(p *plan.Plan) { p.Cohorts[0].Survival[0] = 99 })},
		{"removed has 1 values", planned(func(p *plan.Plan) { p.Removed = []float64{0} })},
		{"removed at Alder Ford: 2 is no share", planned(func(p *plan.Plan) { p.Removed = []float64{0, 2, 0, 0} })},
		{"test passes over row 9", planned(func(p *plan.Plan) { p.TestPasses = []model.TestPasses{{Row: 9}} })},
		{"flow has numbers of 0 cohorts", planned(func(p *plan.Plan) { p.Conditions = []history.CohortCondition{{Name: "flow"}} })},
		{`there is no option "fsh"; there are fish, row`, option(plan.Option{What: "fsh"})},
		{`there is no site "Mill Lade" below the first`, option(plan.Option{What: "drop", Site: "Mill Lade"})},
		{"a new site needs a name and its km", option(plan.Option{What: "site", Site: "New", Km: nan})},
		{"needs the detection to plan with", option(plan.Option{What: "antennas", Site: "Tidehead", Detection: nan})},
		{"a detection of 60", option(plan.Option{What: "row", Site: "Tidehead", Detection: 60})},
		{"-5 more fish", option(plan.Option{What: "fish", Fish: -5})},
		{"cohorts spread over 0", option(plan.Option{What: "spread"})},
		{"0 test passes", option(plan.Option{What: "test passes", Site: "Tidehead"})},
		{`no estimate "x" to ask for`, second(fc.Need(ctx, target("x", -1, 3, -1)))},
		{"about site number 4; there are 1 to 3", second(fc.Compare(ctx, target(plan.Passed, -1, 4, -1), nil))},
		{"about reach number 0, which does not end at site number 2", second(fc.Curve(ctx, target(plan.Survival, 0, 2, -1), nil))},
		{"about row number 2 of Scar Weir, which has 2", second(fc.Curves(ctx, target(plan.Detection, -1, 2, 2), nil, nil))},
		{"0 times the fish of the plan", second(fc.Curve(ctx, target(plan.Passed, -1, 3, -1), []float64{0}))},
		{`there is no cohort "erly"`, second(fc.Power(ctx, plan.Contrast{First: "erly", Second: "late", Target: target(plan.Passed, -1, 3, -1)}))},
		{"make one with plan.New", second((&plan.Forecast{}).Need(ctx, plan.Target{}))},
		{"make one with plan.New", second((*plan.Forecast)(nil).Verify(ctx, 1, 1, nil))},
	} {
		assert.ErrorContains(t, c.err, c.says)
	}
	_, _, err = whatif.WithoutSite(in, 4)
	assert.ErrorContains(t, err, "site number 4 cannot be left out; of the sites 0 to 3")
	assert.NoError(t, fit(retained(3, 3)))
}
