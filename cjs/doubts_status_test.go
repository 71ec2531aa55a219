package cjs

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
)

// TestDoubtsByStatus: what status and interval of an estimate say by themselves.
func TestDoubtsByStatus(t *testing.T) {
	nan := math.NaN()
	layout, err := likelihood.NewLayout([]int{0, 1, 1})
	require.NoError(t, err)
	f := &Fit{machine: &machine{}, Problem: &model.Problem{Layout: layout}, Warnings: []Warning{{ID: WarnModelAlone}}}
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
	assert.Equal(t, []string{WarnLimit}, of(Estimated, 0.2, nan, 2))
	assert.Equal(t, []string{WarnLimit}, of(Boundary, nan, 0.6, 2))
	f.Warnings = nil
	assert.Empty(t, of(Borrowed, 0.2, 0.6, 2))

	for _, id := range []string{WarnNotConverged, WarnSpeeds, WarnOneLaw, WarnSeveralMaxima, WarnClosedForm} {
		f.Warnings = []Warning{{ID: id}, {ID: WarnBoundary}, {ID: WarnRowsUntested}}
		assert.Equal(t, []string{id}, f.doubtsOfFit())
	}
	f.Warnings, f.accused = nil, []float64{1}
	assert.Equal(t, []string{WarnProfileBeats}, f.doubtsOfFit())
}

// TestRestsOnFew: a row rests on few fish where its own share, survival above it
// or detection there is hardly known, of its fish; what concerns other sites
// or other fish is not its own.
func TestRestsOnFew(t *testing.T) {
	well := Estimate{Value: 0.5, SE: 0.05, Status: Estimated}
	ill := Estimate{Value: 0.9, SE: 0.06, Status: Estimated} // (0.09/0.06)² = 2.25 < 3
	early, late := []Category{{"cohort", "early"}}, []Category{{"cohort", "late"}}
	row := &Passed{Site: 2, Of: early, PassedShare: well}
	f := new(Fit)
	assert.False(t, f.restsOnFew(row, nil))
	assert.True(t, f.restsOnFew(row, []seenBelow{{early, 2, 3}}))
	assert.False(t, f.restsOnFew(row, []seenBelow{{early, 1, 3}, {late, 2, 3}}))
	row.PassedShare = ill
	assert.True(t, f.restsOnFew(row, nil))
}

// TestHardlyKnown: below θ(1 − θ)/SE² · θ(1 − θ) = 3, inside (0, 1).
func TestHardlyKnown(t *testing.T) {
	at := func(v, se float64, s Status) bool { return hardlyKnown(&Estimate{Value: v, SE: se, Status: s}) }
	assert.True(t, at(0.5, 0.25/math.Sqrt(2.99), Estimated))
	assert.False(t, at(0.5, 0.25/math.Sqrt(3.01), Estimated))
	assert.True(t, at(0.5, 0.25, Borrowed))
	assert.False(t, at(0.5, 0.25, Boundary))
	assert.False(t, at(1, 0.25, Estimated))
	assert.False(t, at(math.NaN(), math.NaN(), Inseparable))
}
