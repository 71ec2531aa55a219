package simulate_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestThin holds the committed study of thin data to its limits.
func TestThin(t *testing.T) {
	list, records := thinStudies(), readThin(t)
	require.Len(t, records, len(list))
	designs := 0
	for i := range list {
		s, all := &list[i], records[i].All
		require.Equal(t, s.Name, all.Study)
		assert.Equal(t, s.Seed, all.Seed)
		assert.Equal(t, thinReplicates, all.Replicates)
		require.Len(t, all.Quantities, len(s.centre.River.Sites)-1, s.Name)
		judged := false
		for j, row := range s.judge(all) {
			judged = judged || row.judged
			assert.Empty(t, row.broken)
			t.Logf("%-20s %s", s.Name, &row)
			if q := &all.Quantities[j]; row.bound {
				t.Logf("%-20s %-11s median error %+.4f", s.Name, row.site, q.Undoubted.MedianError)
			}
		}
		if judged {
			designs++
		}
	}
	assert.GreaterOrEqual(t, designs, thinDesigns, "designs of which a row could be judged")
}
