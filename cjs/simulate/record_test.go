package simulate_test

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/simulate"
)

const studiesFolder = "../../testdata/studies"

// record is a committed study: what became of all its replicates, and of the
// first, which are run again to see that they are still the same.
type record struct {
	All   *simulate.Result `json:"all"`
	First *simulate.Result `json:"first"`
}

// firstReplicates is how many are run again.
const firstReplicates = 50

func recordFile(study string) string { return filepath.Join(studiesFolder, study+".json") }

func readRecord(t testing.TB, study string) *record {
	t.Helper()
	b, err := os.ReadFile(recordFile(study))
	require.NoError(t, err)
	r := new(record)
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	require.NoError(t, d.Decode(r))
	return r
}

// sameResult holds a result to another: counts exactly; numbers to 1e-6 of
// their size, since the search stops within 1e-9 standard errors of a maximum
// and another kind of processor may stop elsewhere.
func sameResult(t testing.TB, want, got *simulate.Result) {
	t.Helper()
	assert.Equal(t, want.Study, got.Study)
	assert.Equal(t, want.About, got.About)
	assert.Equal(t, want.Model, got.Model)
	assert.Equal(t, want.Seed, got.Seed, "the seed of a study was fixed before its first run; a change needs a line in testdata/studies/README.md")
	assert.Equal(t, want.From, got.From)
	assert.Equal(t, want.To, got.To)
	assert.Equal(t, want.Replicates, got.Replicates)
	assert.Equal(t, want.Failed, got.Failed)
	assert.Equal(t, want.Warned, got.Warned)
	require.Len(t, got.Quantities, len(want.Quantities))
	for i, w := range want.Quantities {
		g := got.Quantities[i]
		numbers := [][2]*float64{{&w.Truth, &g.Truth}, {&w.Bias, &g.Bias}, {&w.BiasSE, &g.BiasSE}, {&w.SD, &g.SD}, {&w.SE, &g.SE}, {&w.Width, &g.Width}}
		if w.Undoubted != nil && g.Undoubted != nil {
			a, b := *w.Undoubted, *g.Undoubted
			w.Undoubted, g.Undoubted = &a, &b
			numbers = append(numbers, [][2]*float64{{&a.Bias, &b.Bias}, {&a.BiasSE, &b.BiasSE}, {&a.SD, &b.SD}, {&a.MedianError, &b.MedianError}}...)
		}
		for _, x := range numbers {
			assert.InDelta(t, *x[0], *x[1], 1e-6*max(1, math.Abs(*x[0])), "%s %s %s", w.Kind, w.Of, w.At)
			*x[1] = *x[0]
		}
		assert.Equal(t, w, g)
	}
}
