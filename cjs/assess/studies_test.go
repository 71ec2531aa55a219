//go:build studies

package assess_test

import (
	"encoding/json"
	"math/rand/v2"
	"os"
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestStudies runs the studies in full and compares with the committed results,
// but for those that are dear, of which TestStudiesAgain runs the first replicates;
// with -update it writes all, and keeps those of as many replicates of which the
// first come out as they did.
func TestStudies(t *testing.T) {
	var list []studyResult
	committed := readStudies(t)
	for _, s := range studies() {
		if !*update && s.dear() {
			continue
		}
		if have := committed[s.Name]; *update && have.Replicates == s.replicates() && reflect.DeepEqual(have.First, run(s.design, s.number, 0, firstReplicates)) {
			list = append(list, have)
			continue
		}
		list = append(list, studyResult{Name: s.Name, Replicates: s.replicates(),
			All: run(s.design, s.number, 0, s.replicates()), First: run(s.design, s.number, 0, firstReplicates)})
	}
	if *update {
		data, err := json.MarshalIndent(list, "", " ")
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(studiesFile, append(data, '\n'), 0o644))
		return
	}
	require.NotEmpty(t, list)
	for _, r := range list {
		assert.Equal(t, committed[r.Name], r)
	}
}

// Where the model holds the summary says that something speaks against it
// seldom, though it looks at checks and tables too: docs/checks.md says in how
// many studies. The limit leaves three standard errors of 1,000 studies.
func TestHowOftenTheSummarySpeaks(t *testing.T) {
	const n = 1000
	for _, d := range sizeDesigns {
		speaks := 0
		for i := range n {
			r := d.check(d.simulate(rand.New(rand.NewPCG(900, uint64(i)))))
			if strings.HasPrefix(r.Words()[0], "Evidence of lack of fit") {
				speaks++
			}
		}
		assert.LessOrEqual(t, float64(speaks)/n, 0.13, d.Name)
	}
}

// dear says whether all replicates take long; of the others .ci/run makes them all.
func (d *design) dear() bool {
	fish := 0
	for _, n := range d.Fish {
		fish += n * max(1, d.Cohorts)
	}
	return d.some > 0 || fish > 1000
}
