package whatif_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/whatif"
)

// TestInfluenceNearAnEdge: ten fish, survival of the last reach estimated at 1 or
// near it. What is said of each fish is what a fit to the other records gives.
func TestInfluenceNearAnEdge(t *testing.T) {
	sites := []string{"Mill Lade", "Alder Ford", "Scar Weir", "Tidehead"}
	for name, records := range map[string][]string{
		"at 1":    {"1,1,1,1", "1,1,1,1", "1,1,0,1", "1,0,1,1", "1,0,1,1", "1,1,1,0", "1,1,0,1", "1,0,0,0", "1,1,1,1", "1,0,0,1"},
		"near it": {"1,1,1,1", "1,1,1,1", "1,1,0,1", "1,0,1,1", "1,1,0,0", "1,1,1,0", "1,1,0,0", "1,0,0,0", "1,1,1,1", "1,0,1,0", "1,1,0,0", "1,0,0,0"},
	} {
		in := write(t, "", sites, append([]string{strings.Join(sites, ",")}, records...))
		f := fit(t, in, "reach", "same")
		list, err := whatif.Influences(t.Context(), f, 5)
		require.NoError(t, err)
		require.Len(t, list, 5, name)
		moved := 0.0
		for _, x := range list {
			var keep []int
			for i := range in.Histories.Len() {
				if i != x.Record {
					keep = append(keep, i)
				}
			}
			changed := in
			changed.Histories = in.Histories.Pick(keep)
			g := fit(t, changed, "reach", "same")
			for k, site := range x.Sites {
				for j := range g.Passed {
					if row := g.Passed[j]; row.Site == site && len(row.Of) == 0 {
						// Both searches end within 1e-6 of the maximum.
						assert.InDelta(t, row.PassedShare.Value-share(f, site), x.By[k], 1e-5, "%s: without %s at %s", name, x.History, sites[site])
						moved = math.Max(moved, math.Abs(x.By[k]))
					}
				}
			}
		}
		assert.Greater(t, moved, 0.03, name)
		for i := 1; i < len(list); i++ {
			assert.GreaterOrEqual(t, most(list[i-1].By), most(list[i].By), "in order after the refits too")
		}
	}
}

func share(f *cjs.Fit, site int) float64 {
	for _, row := range f.Passed {
		if row.Site == site && len(row.Of) == 0 {
			return row.PassedShare.Value
		}
	}
	return math.NaN()
}

func most(by []float64) (largest float64) {
	for _, v := range by {
		largest = math.Max(largest, math.Abs(v))
	}
	return largest
}
