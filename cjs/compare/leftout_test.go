package compare_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/compare"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// blank gives the fish of in a length of which every third is missing.
func blank(in model.Input) model.Input {
	length := history.Column{Name: "length", Value: make([]float64, in.Histories.Len())}
	for i := range length.Value {
		length.Value[i] = 150 + float64(i*37%50)
		if i%3 == 0 {
			length.Value[i] = math.NaN()
		}
	}
	in.Histories.Columns = append(in.Histories.Columns, length)
	in.Missing = "drop"
	return in
}

// Whatever part of one variant uses a column, every variant is fitted to the
// fish that have it, and the comparison says how many have not: the likelihood
// of the variant without it is that of a fit to these fish alone.
func TestEveryVariantHasTheSameFish(t *testing.T) {
	ctx := context.Background()
	base := model.Spec{Survival: "reach", Detection: "same"}
	for _, part := range model.Parts() {
		if testing.Short() && part != model.Survival {
			continue
		}
		in := blank(migrants(45))
		with := base
		with.SetTerms(part, "length")
		plain := base
		if part == model.Rest {
			plain.Rest = "same"
		}
		r, err := compare.Run(ctx, in, []model.Spec{plain, with}, cjs.Options{}, nil)
		require.NoError(t, err, part)
		lacking := 0
		for i := range in.Histories.Len() {
			if i%3 == 0 {
				lacking++
			}
		}
		assert.Equal(t, lacking, r.LeftOut, part)
		assert.Equal(t, []model.Missing{{Column: "length", Fish: lacking}}, r.Missing, part)
		require.NotEmpty(t, r.Warnings, part)
		assert.Equal(t, cjs.WarnDropped, r.Warnings[0].ID)
		assert.Contains(t, r.Warnings[0].Message, "267 of 800 fish are left out of every model, so that all are fitted to the same fish: 267 have no length.")
		in.Also = []string{"length"}
		p, err := model.Build(in, plain)
		require.NoError(t, err)
		f, err := cjs.New(ctx, p, cjs.Options{})
		require.NoError(t, err)
		for _, v := range r.Variants {
			require.NoError(t, v.Err, part)
			assert.Equal(t, 800-lacking, v.Fit.Problem.Sum(nil).New[0], "%s: %s", part, v.Name())
			if v.Spec.Terms(part) != "length" {
				// The same data and model: the same climb.
				assert.InDelta(t, f.MinusTwoLogLikelihood, v.Fit.MinusTwoLogLikelihood, 1e-9, part)
			}
		}
	}
}

// A column that only the movement of a running season would use leaves no fish
// out of a season that is over, and fish not released yet are not counted twice.
func TestFishLeftOutForWhatCounts(t *testing.T) {
	ctx := context.Background()
	specs := []model.Spec{{Survival: "reach", Detection: "same", Drift: "length"}, {Survival: "same", Detection: "same"}}
	over := blank(removals())
	r, err := compare.Run(ctx, over, specs, cjs.Options{}, nil)
	require.NoError(t, err)
	assert.Zero(t, r.LeftOut)

	in := blank(migrants(45))
	in.AsOf = in.AsOf.AddDate(0, 0, -35) // day 10: 400 fish released
	for i, at := range in.Histories.First {
		if at >= in.AsOf.UnixMilli() {
			in.Histories.First[i], in.Histories.Last[i] = history.NoTime, history.NoTime
			in.Histories.Seen[i/3] &^= 1 << (i % 3)
		}
	}
	p, err := model.Build(in, model.Spec{Survival: "length", Detection: "same"})
	require.NoError(t, err)
	assert.Equal(t, 400, p.NotYet)
	assert.Equal(t, []model.Missing{{Column: "length", Fish: p.Dropped}}, p.Missing)
	assert.Equal(t, 134, p.Dropped, "every third of those released")
}
