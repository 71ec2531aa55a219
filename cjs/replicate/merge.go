package replicate

import (
	"fmt"
	"math"
	"slices"
)

// sameRun says why replicates of o do not belong to s.
func (s *Set) sameRun(o *Set) error {
	for _, x := range [][3]string{
		{"data (SHA-256)", s.Data, o.Data}, {"model (SHA-256)", s.Model, o.Model}, {"method", s.Method, o.Method},
		{"seed", fmt.Sprint(s.Seed), fmt.Sprint(o.Seed)}, {"estimates", fmt.Sprint(s.Names), fmt.Sprint(o.Names)},
	} {
		if x[1] != x[2] {
			return fmt.Errorf("the %s differ: %s and %s; only replicates of one run belong together", x[0], x[1], x[2])
		}
	}
	// Another kind of processor may end a search elsewhere in the last digits.
	for i, v := range s.Estimates {
		if w := o.Estimates[i]; !(math.Abs(v-w) <= 1e-6*max(1, math.Abs(v))) {
			return fmt.Errorf("the fits differ: %s is %v and %v; both must be made by the same version", s.Names[i], v, w)
		}
	}
	return nil
}

// Check refuses a set of which a replicate has not all estimates.
func (s *Set) Check() error {
	if s == nil {
		return fmt.Errorf("there are no replicates")
	}
	if len(s.Estimates) != len(s.Names) {
		return fmt.Errorf("%d names and %d estimates", len(s.Names), len(s.Estimates))
	}
	for _, r := range s.Replicates {
		if r.Failure == "" && len(r.Estimates) != len(s.Names) {
			return fmt.Errorf("replicate %d has %d estimates, not %d", r.Index, len(r.Estimates), len(s.Names))
		}
	}
	return nil
}

// Merge puts the parts of one run together. Parts of different runs, and a
// replicate that stands twice, are refused.
func Merge(parts ...*Set) (*Set, error) {
	if len(parts) == 0 {
		return nil, fmt.Errorf("nothing to merge")
	}
	for i, p := range parts {
		if err := p.Check(); err != nil {
			return nil, fmt.Errorf("part %d: %w", i+1, err)
		}
	}
	out := *parts[0]
	out.Replicates = nil
	seen := map[int]int{}
	for i, p := range parts {
		if err := out.sameRun(p); err != nil {
			return nil, fmt.Errorf("part %d: %w", i+1, err)
		}
		for _, r := range p.Replicates {
			if j, twice := seen[r.Index]; twice {
				return nil, fmt.Errorf("replicate %d stands in part %d and in part %d: give every part its own numbers", r.Index, j, i+1)
			}
			seen[r.Index] = i + 1
			out.Replicates = append(out.Replicates, r)
		}
	}
	out.sort()
	return &out, nil
}

// Add takes from o the replicates that s has not; o must be of the same run.
func (s *Set) Add(o *Set) error {
	if err := o.Check(); err != nil {
		return err
	}
	if err := s.sameRun(o); err != nil {
		return err
	}
	have := s.indices()
	s.Replicates = slices.Clone(s.Replicates) // nobody else's are moved
	for _, r := range o.Replicates {
		if !have[r.Index] {
			s.Replicates = append(s.Replicates, r)
		}
	}
	s.sort()
	return nil
}

func (s *Set) indices() map[int]bool {
	have := make(map[int]bool, len(s.Replicates))
	for _, r := range s.Replicates {
		have[r.Index] = true
	}
	return have
}

func (s *Set) sort() {
	slices.SortFunc(s.Replicates, func(a, b Replicate) int { return a.Index - b.Index })
}
