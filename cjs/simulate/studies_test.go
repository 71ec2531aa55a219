//go:build studies

package simulate_test

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/simulate"
)

// full runs every replicate of the studies and writes their records:
//
//	go test -tags studies ./cjs/simulate -run TestStudies -full -timeout 5h
var full = flag.Bool("full", false, "run all replicates of the studies and write testdata/studies")

// TestStudies runs the first replicates of every committed study again.
func TestStudies(t *testing.T) {
	for _, s := range allStudies() {
		t.Run(s.Name, func(t *testing.T) {
			first, err := s.Run(context.Background(), 1, firstReplicates, nil)
			require.NoError(t, err)
			if *full {
				start := time.Now()
				all, err := s.Run(context.Background(), 1, s.replicates, nil)
				require.NoError(t, err)
				t.Logf("%d replicates in %v", s.replicates, time.Since(start).Round(time.Second))
				writeRecord(t, s.Name, &record{All: all, First: first})
			}
			r := readRecord(t, s.Name)
			sameResult(t, r.First, first)
			assert.Equal(t, s.replicates, r.All.Replicates)
		})
	}
}

// plannedStudy is a study with the number of its replicates.
type plannedStudy struct {
	simulate.Study
	replicates int
}

func allStudies() []plannedStudy {
	var out []plannedStudy
	for _, s := range append(passedStudies(), effectStudies()...) {
		out = append(out, plannedStudy{s, 2000})
	}
	for _, s := range coverageStudies() {
		out = append(out, plannedStudy{s, coverageReplicates})
	}
	return out
}

func writeRecord(t testing.TB, study string, r *record) {
	t.Helper()
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetIndent("", " ")
	e.SetEscapeHTML(false)
	require.NoError(t, e.Encode(r))
	require.NoError(t, os.MkdirAll(studiesFolder, 0o755))
	require.NoError(t, os.WriteFile(recordFile(study), b.Bytes(), 0o644))
}
