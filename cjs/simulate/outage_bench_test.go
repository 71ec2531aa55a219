//go:build studies

package simulate_test

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// BenchmarkOutage is five replicates of two designs of the study of outages: 600
// fish drawn, fitted, and profile intervals.
func BenchmarkOutage(b *testing.B) {
	for _, name := range []string{"last, five cohorts", "inner, five cohorts"} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				_, err := outageDesigns[outageAt(name)].study().Run(b.Context(), 1, 5, nil)
				require.NoError(b, err)
			}
		})
	}
}
