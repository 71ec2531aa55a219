package cjs

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
)

// TestDoubtsByStatus: what status and interval of an estimate say by themselves.
func TestDoubtsByStatus(t *testing.T) {
	nan := math.NaN()
	f := &Fit{Problem: &model.Problem{Layout: likelihood.NewLayout([]int{0, 1, 1})}, Warnings: []Warning{{ID: WarnModelAlone}}}
	of := func(s Status, low, high float64, site int) []string {
		return f.doubtsOf(&Estimate{Low: low, High: high, Status: s}, site)
	}
	assert.Empty(t, of(Estimated, 0.2, 0.6, 2))
	assert.Empty(t, of(Boundary, 0.2, 1, 2))
	assert.Empty(t, of(Held, nan, nan, 2))
	assert.Equal(t, []string{WarnTooEarly}, of(TooEarly, 0.2, 0.6, 2))
	assert.Equal(t, []string{WarnInseparable}, of(Inseparable, nan, nan, 2))
	assert.Equal(t, []string{WarnInseparable}, of(Absent, nan, nan, 2))
	assert.Equal(t, []string{WarnModelAlone}, of(Borrowed, 0.2, 0.6, 2))
	assert.Empty(t, of(Borrowed, 0.2, 0.6, 1))
	assert.Equal(t, []string{limitNotFound}, of(Estimated, 0.2, nan, 2))
	assert.Equal(t, []string{limitNotFound}, of(Boundary, nan, 0.6, 2))
	f.Warnings = nil
	assert.Empty(t, of(Borrowed, 0.2, 0.6, 2))

	for _, id := range []string{WarnNotConverged, WarnSeveralMaxima, WarnClosedForm} {
		f.Warnings = []Warning{{ID: id}, {ID: WarnBoundary}, {ID: WarnRowsUntested}}
		assert.Equal(t, []string{id}, f.doubtsOfFit())
	}
	f.Warnings, f.accused = nil, []float64{1}
	assert.Equal(t, []string{WarnProfileBeats}, f.doubtsOfFit())
}
