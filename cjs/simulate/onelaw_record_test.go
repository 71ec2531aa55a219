package simulate_test

import (
	"encoding/json"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// oneLawSeed draws other fish than those of the outage study and of the pilot runs.
const oneLawSeed = 20250416

// oneLawFile records how often the tests of one law of travel for all fish reject at
// 1 % together, in the designs of the outage study.
const oneLawFile = "../../testdata/studies/season-one-law.json"

type oneLawRecord struct {
	Seed       int           `json:"seed"`
	Replicates int           `json:"replicates"`
	Designs    []oneLawCount `json:"designs"`
}

type oneLawCount struct {
	Design   string       `json:"design"`
	Rejected int          `json:"rejected"`
	Speeds   int          `json:"speeds"` // by the test of speeds
	Rests    int          `json:"rests"`  // by that of rests
	First    [][2]float64 `json:"first"`  // the probabilities of the first replicates
}

func readOneLaw(t testing.TB) (r oneLawRecord) {
	t.Helper()
	b, err := os.ReadFile(oneLawFile)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(b, &r))
	require.Equal(t, oneLawSeed, r.Seed)
	require.Len(t, r.Designs, len(outageDesigns)-2, "all but the last two, which have no windows")
	return r
}

// TestOneLawStudy holds the record to limits set before its run: where one law
// holds at most 2 % are rejected, 1 % and three Monte Carlo standard errors of
// 1,000 replicates; of two speeds 90 % at least, and 30 % where a fifth
// of the fish rest for four days.
func TestOneLawStudy(t *testing.T) {
	r := readOneLaw(t)
	require.GreaterOrEqual(t, r.Replicates, 1000)
	for i, d := range r.Designs {
		o := &outageDesigns[i]
		require.Equal(t, o.name, d.Design)
		share := float64(d.Rejected) / float64(r.Replicates)
		switch o.law {
		case "":
			assert.LessOrEqual(t, share, 0.02, d.Design)
		case "two speeds":
			assert.GreaterOrEqual(t, share, 0.9, d.Design)
		case "resting":
			assert.GreaterOrEqual(t, share, 0.3, d.Design)
		}
	}
}
