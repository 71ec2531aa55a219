//go:build studies

package assess_test

import (
	"encoding/json"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestStudies runs every study in full and compares with the committed
// results; with -update it writes them.
func TestStudies(t *testing.T) {
	var list []studyResult
	for _, s := range studies() {
		list = append(list, studyResult{Name: s.Name, Replicates: replicates,
			All: run(s.design, s.number, 0, replicates), First: run(s.design, s.number, 0, firstReplicates)})
	}
	if *update {
		data, err := json.MarshalIndent(list, "", " ")
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(studiesFile, append(data, '\n'), 0o644))
		return
	}
	want := readStudies(t)
	for _, r := range list {
		assert.Equal(t, want[r.Name], r)
	}
}
