//go:build studies

package simulate_test

import (
	"encoding/json"
	"os"
	"strconv"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/model"
)

// oneLaw are the probabilities of the two tests in the first n replicates of a design.
func oneLaw(t testing.TB, o *outageDesign, n int) [][2]float64 {
	t.Helper()
	s := o.study()
	out, errs := make([][2]float64, n), make([]error, n)
	var wg sync.WaitGroup
	room := make(chan struct{}, 2)
	for i := range n {
		room <- struct{}{}
		wg.Go(func() {
			defer func() { <-room }()
			sample := s.Truth.Draw(oneLawSeed, uint64(i+1))
			p, err := model.Build(model.Input{Histories: sample.Histories, TestPasses: sample.TestPasses, AsOf: s.Truth.AsOf, Working: s.Truth.Working}, s.Spec)
			if errs[i] = err; err == nil {
				out[i][0], out[i][1] = p.OneLaw()
			}
		})
	}
	wg.Wait()
	for _, err := range errs {
		require.NoError(t, err)
	}
	return out
}

// TestWriteOneLawStudy writes the record, only when asked for: WRITE_STUDIES=one-law
// REPLICATES=n.
func TestWriteOneLawStudy(t *testing.T) {
	if os.Getenv("WRITE_STUDIES") != "one-law" {
		return
	}
	n, err := strconv.Atoi(os.Getenv("REPLICATES"))
	require.NoError(t, err)
	r := oneLawRecord{Seed: oneLawSeed, Replicates: n}
	for i := range outageDesigns[:outageAt("none")] {
		all := oneLaw(t, &outageDesigns[i], n)
		c := oneLawCount{Design: outageDesigns[i].name, First: all[:5]}
		for _, p := range all {
			speeds, rests := 2*p[0] < 0.01, 2*p[1] < 0.01
			count(&c.Speeds, speeds)
			count(&c.Rests, rests)
			count(&c.Rejected, speeds || rests)
		}
		r.Designs = append(r.Designs, c)
		t.Logf("%s: %d of %d", c.Design, c.Rejected, n)
	}
	b, err := json.MarshalIndent(r, "", " ")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(oneLawFile, append(b, '\n'), 0o644))
}

// TestOneLawStudyStillHolds runs the first replicates again, to 1e-6: the search
// for the maximum ends within that.
func TestOneLawStudyStillHolds(t *testing.T) {
	for i, d := range readOneLaw(t).Designs {
		for k, p := range oneLaw(t, &outageDesigns[i], len(d.First)) {
			require.InDeltaSlice(t, d.First[k][:], p[:], 1e-6, d.Design)
		}
	}
}

func count(n *int, yes bool) {
	if yes {
		*n++
	}
}
