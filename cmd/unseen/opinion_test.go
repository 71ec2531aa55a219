package main

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cmd/unseen/internal/line"
	"example.org/unseen/cmd/unseen/internal/text"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history/ingest"
)

// TestBetterOpinion: a fit led to the lower of two maxima is fit for use by its
// own verdict; asked, the others say loudly that it is not, on the screen, in
// JSON and by the exit code.
func TestBetterOpinion(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	d, err := analysis.Open(t.Context(), "../../testdata/published/lebreton1992/dipper.toml", ingest.Options{})
	require.NoError(t, err)
	spec := model.Spec{Survival: "reach + sex", Detection: "site"}
	in, err := d.Input()
	require.NoError(t, err)
	p, err := model.Build(in, spec)
	require.NoError(t, err)
	var f *analysis.Fitted
	for _, x := range cjs.Scatter(p, 50, 3) {
		f, err = d.Fit(t.Context(), spec, analysis.Options{Options: cjs.Options{Start: x}})
		require.NoError(t, err)
		if math.Abs(f.Fit.MinusTwoLogLikelihood-656.912121) < 1e-5 {
			break
		}
	}
	require.InDelta(t, 656.912121, f.Fit.MinusTwoLogLikelihood, 1e-5, "no start leads to the lower maximum")
	require.NoError(t, line.Usable(f))

	require.NoError(t, f.AskOthers(t.Context(), nil))
	assert.ErrorIs(t, line.Usable(f), line.ErrNotUsable)
	assert.Equal(t, "second-opinion-better", f.Fit.Warnings[0].ID)
	var b strings.Builder
	require.NoError(t, text.Write(&b, view.FitPage(f)))
	assert.Contains(t, b.String(), "NOT THE MAXIMUM: of three other optimisers from 36 starts")
	assert.Contains(t, b.String(), "! Another optimiser")
	doc, err := json.Marshal(wire.NewFit(wire.NewHead("fit", "test", d.Source()), f))
	require.NoError(t, err)
	require.NoError(t, validate("../..", doc))
	assert.Contains(t, string(doc), `"id":"second-opinion-better"`)
}
