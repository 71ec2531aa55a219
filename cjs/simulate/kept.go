package simulate

import (
	"encoding/gob"
	"errors"
	"fmt"
	"io"
)

// saved is the file of replicates, of which what an estimate is of stands once.
type saved struct {
	Version      int
	Study, About string
	Seed         uint64
	From         int
	Judged       bool
	Of           [][3]string // kind, of, at
	Replicates   []savedReplicate
}

type savedReplicate struct {
	Finished      bool
	Model, Failed string
	Warned        []string
	Outages       []Outage
	Estimates     []savedEstimate
}

type savedEstimate struct {
	Of      int
	Values  [5]float64 // truth, value, se, low, high
	Answer  answer
	Doubted bool
}

const savedVersion = 1

// WriteReplicates writes the replicates of r for [ReadReplicates]. Only the result
// of a study with [Study.Have] holds any.
func (r *Result) WriteReplicates(w io.Writer) error {
	if w == nil {
		return errors.New("there is nothing to write the replicates to")
	}
	out := saved{Version: savedVersion, Study: r.Study, About: r.About, Seed: r.Seed, From: r.From, Judged: r.judged}
	index := map[key]int{}
	for i := range r.made {
		x := &r.made[i]
		s := savedReplicate{Finished: x.finished, Model: x.model, Failed: x.failed, Warned: x.warned, Outages: x.outages}
		for _, e := range x.estimates {
			of, ok := index[e.key]
			if !ok {
				of = len(out.Of)
				index[e.key], out.Of = of, append(out.Of, [3]string{e.key.kind, e.key.of, e.key.at})
			}
			s.Estimates = append(s.Estimates, savedEstimate{of, [5]float64{e.truth, e.value, e.se, e.low, e.high}, e.answer, e.doubted})
		}
		out.Replicates = append(out.Replicates, s)
	}
	return gob.NewEncoder(w).Encode(&out)
}

// ReadReplicates reads what [Result.WriteReplicates] wrote and sums it up.
func ReadReplicates(from io.Reader) (*Result, error) {
	if from == nil {
		return nil, errors.New("there is nothing to read replicates from")
	}
	var in saved
	if err := gob.NewDecoder(from).Decode(&in); err != nil {
		return nil, fmt.Errorf("no file of simulated replicates: %w", err)
	}
	if in.Version != savedVersion || in.From < 1 || len(in.Replicates) == 0 {
		return nil, fmt.Errorf("a file of simulated replicates of version %d; this program reads version %d", in.Version, savedVersion)
	}
	made := make([]replicate, len(in.Replicates))
	for i, s := range in.Replicates {
		made[i] = replicate{finished: s.Finished, model: s.Model, failed: s.Failed, warned: s.Warned, outages: s.Outages}
		for _, e := range s.Estimates {
			if e.Of < 0 || e.Of >= len(in.Of) {
				return nil, fmt.Errorf("replicate %d: an estimate of nothing", in.From+i)
			}
			of, v := in.Of[e.Of], e.Values
			made[i].estimates = append(made[i].estimates, estimate{key{of[0], of[1], of[2]}, v[0], v[1], v[2], v[3], v[4], e.Answer, e.Doubted})
		}
	}
	r := &Result{Study: in.Study, About: in.About, Seed: in.Seed, From: in.From, To: in.From + len(made) - 1, Failed: map[string]int{}, Warned: map[string]int{}, judged: in.Judged, made: made}
	r.sum(made)
	return r, nil
}
