package simulate

import (
	"errors"
	"fmt"
	"math/rand/v2"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// FromFit prepares new data like those of f; nil of what is no fit.
func FromFit(f *cjs.Fit) *Resampler {
	if f.Check() != nil {
		return nil
	}
	a := &Resampler{fit: f, problem: f.Problem, counts: newCounts(f.Problem)}
	p := f.Problem
	for g := range p.Classes {
		t := &p.Classes[g].Tally
		shares := make([]float64, p.Layout.Sites())
		for k := range shares {
			if out := t.New[k] + t.Seen[k] - t.Released[k]; out > 0 && t.Seen[k] > 0 {
				shares[k] = min(1, float64(out)/float64(t.Seen[k]))
			}
		}
		a.removed = append(a.removed, shares)
		if a.Alike() {
			a.prob = append(a.prob, a.probabilities(g, []float64{1}, nil))
		}
	}
	a.stratify()
	return a
}

// Alike tells whether the fish of a class are alike, so that counts will do. Where
// rows did not work all the time, and while the season runs, fish differ by their
// times.
func (a *Resampler) Alike() bool {
	return a.made() && a.problem.Design.Numbers == 1 && !a.problem.Timed()
}

var errUnmade = errors.New("there is nothing to make new data like; FromFit takes a fit")

func (a *Resampler) made() bool { return a != nil && a.problem != nil }

// stratify sorts the records into strata; alike ones are one where fish of a
// class are alike.
func (a *Resampler) stratify() {
	p := a.problem
	h := p.Histories
	type place struct {
		class, entry int
		fresh        bool
	}
	type kind struct {
		place
		seen uint64
		end  history.End
	}
	at := map[place]int{}
	alike := map[kind]int{} // position within the stratum
	for r, g := range p.ClassOf {
		if g < 0 {
			continue
		}
		of := place{int(g), int(h.Entry[r]), h.New(r)}
		i, ok := at[of]
		if !ok {
			i = len(a.strata)
			at[of] = i
			a.strata = append(a.strata, stratum{class: int(g)})
		}
		s := &a.strata[i]
		w := h.Weight(r)
		s.total += w
		if a.Alike() {
			k := kind{of, h.Seen[r], h.End[r]}
			if j, ok := alike[k]; ok {
				s.fish[j] += w
				continue
			}
			alike[k] = len(s.records)
		}
		s.records = append(s.records, r)
		s.fish = append(s.fish, w)
	}
}

// Observed are the counts of the fit's own fish.
func (a *Resampler) Observed() *Counts {
	if !a.made() {
		return nil
	}
	c := newCounts(a.problem)
	h := a.problem.Histories
	for _, s := range a.strata {
		for i, r := range s.records {
			c.record(s.class, int(h.Entry[r]), h.Seen[r], h.End[r], s.fish[i])
		}
	}
	return c
}

// SimulateCounts makes counts under the estimates, good until the next call.
func (a *Resampler) SimulateCounts(rnd *rand.Rand) *Counts {
	if !a.Alike() || rnd == nil {
		return nil
	}
	c := a.counts
	c.clear()
	l := a.problem.Layout
	sites := l.Sites()
	living := make([]int, sites) // at large, by where last seen
	for g := range a.problem.Classes {
		prob := a.prob[g]
		clear(living)
		left := make([]int, sites) // no longer alive, by where last seen
		for k := 1; k < sites; k++ {
			living[k-1] += a.problem.Classes[g].New[k-1]
			seen := 0
			for i := range k {
				live := Binomial(rnd, living[i], prob[l.Survival(k-1)])
				left[i] += living[i] - live
				missed := a.pass(rnd, g, i, k, live)
				seen += live - missed
				living[i] = missed
			}
			living[k] = seen - Binomial(rnd, seen, a.removed[g][k])
		}
		for i := range sites - 1 {
			c.unseen(g, i, left[i]+living[i])
		}
		// At the last site there is nothing more to tell.
		c.unseen(g, sites-1, living[sites-1])
	}
	a.passTests(rnd)
	return c
}

// pass lets n fish of class g, last seen at i, pass the rows of site k, and
// returns how many no row saw.
func (a *Resampler) pass(rnd *rand.Rand, g, i, k, n int) int {
	from, to := a.problem.Layout.SiteRows(k)
	var split func(b int, bits uint64, n int) int
	split = func(b int, bits uint64, n int) int {
		if n == 0 {
			return 0
		}
		if b == to {
			if bits == 0 {
				return n
			}
			a.counts.sighted(g, i, k, bits, n)
			return 0
		}
		seen := Binomial(rnd, n, a.prob[g][a.problem.Layout.Detection(b)])
		return split(b+1, bits|1<<uint(b), seen) + split(b+1, bits, n-seen)
	}
	return split(from, 0, n)
}

// passTests makes the test passes anew.
func (a *Resampler) passTests(rnd *rand.Rand) {
	for _, u := range a.counts.Data.Units[len(a.problem.Classes):] {
		for b := range u.Seen {
			if n := u.Seen[b] + u.Missed[b]; n > 0 {
				read := Binomial(rnd, int(n), min(1, max(0, a.fit.Probability(u.Class, a.problem.Layout.Detection(b), u.Z))))
				u.Seen[b], u.Missed[b] = float64(read), n-float64(read)
			}
		}
	}
}

// ResampleCounts draws as many fish as there are from each class and entry,
// with replacement. Test passes are drawn with the share that was read. The
// counts are good until the next call.
func (a *Resampler) ResampleCounts(rnd *rand.Rand) *Counts {
	if !a.made() || rnd == nil {
		return nil
	}
	c := a.counts
	c.clear()
	h := a.problem.Histories
	for _, s := range a.strata {
		s.draw(rnd, func(r, n int) { c.record(s.class, int(h.Entry[r]), h.Seen[r], h.End[r], n) })
	}
	for i, u := range a.problem.TestUnits() {
		v := &c.Data.Units[len(a.problem.Classes)+i]
		for b := range u.Seen {
			if n := u.Seen[b] + u.Missed[b]; n > 0 {
				v.Seen[b] = float64(Binomial(rnd, int(n), u.Seen[b]/n))
				v.Missed[b] = n - v.Seen[b]
			}
		}
	}
	return c
}

// draw shares out the stratum's fish anew among its records.
func (s *stratum) draw(rnd *rand.Rand, take func(record, n int)) {
	left, fish := s.total, s.total
	for i, r := range s.records {
		if left == 0 {
			return
		}
		n := Binomial(rnd, left, float64(s.fish[i])/float64(fish))
		fish -= s.fish[i]
		left -= n
		if n > 0 {
			take(r, n)
		}
	}
}

// Simulate makes every fish's history anew under the estimates.
func (a *Resampler) Simulate(rnd *rand.Rand) (*model.Problem, error) {
	if !a.made() || rnd == nil {
		return nil, errUnmade
	}
	p := a.problem
	h := p.Histories
	if p.Timed() {
		return a.simulateTimes(rnd)
	}
	out := a.like()
	var of []int
	z := make([]float64, p.Design.Numbers)
	z[0] = 1
	var prob []float64
	for r, g := range p.ClassOf {
		if g < 0 || !h.New(r) {
			continue
		}
		for m := range p.Z {
			z[m+1] = p.Z[m][r]
		}
		prob = a.probabilities(int(g), z, prob)
		for range h.Weight(r) {
			seen, end := a.journey(rnd, int(g), int(h.Entry[r]), prob)
			of = append(of, r)
			out.Seen = append(out.Seen, seen)
			out.End = append(out.End, end)
		}
	}
	return a.finish(out, of, a.newTests(rnd))
}

// simulateTimes makes every fish's history with its times anew: let go when it was,
// it travels by the law of the fit, and is seen while rows work, until as_of.
func (a *Resampler) simulateTimes(rnd *rand.Rand) (*model.Problem, error) {
	if a.truth == nil {
		a.truth, a.records = truthOf(a)
	}
	s := a.truth.draw(rnd)
	out, h := a.like(), s.Histories
	out.Seen, out.End, out.Released, out.First, out.Last = h.Seen, h.End, h.Released, h.First, h.Last
	var of []int
	for _, records := range a.records {
		of = append(of, records...)
	}
	return a.finish(out, of, a.newTests(rnd))
}

// newTests are the test passes made anew.
func (a *Resampler) newTests(rnd *rand.Rand) []model.TestPasses {
	p := a.problem
	a.passTests(rnd)
	tests := append([]model.TestPasses(nil), p.TestPasses...)
	units := a.counts.Data.Units[len(p.Classes):]
	for i := range tests {
		// Passes of a tag that stands for no fish here have no counts.
		if t := &tests[i]; len(units) > 0 && int(units[0].Seen[t.Row]+units[0].Missed[t.Row]) == t.Passes {
			t.Read = int(units[0].Seen[t.Row])
			units = units[1:]
		}
	}
	return tests
}

// journey sends one fish down the river.
func (a *Resampler) journey(rnd *rand.Rand, g, entry int, prob []float64) (seen uint64, end history.End) {
	l := a.problem.Layout
	for k := entry + 1; k < l.Sites(); k++ {
		if rnd.Float64() >= prob[l.Survival(k-1)] {
			break
		}
		before := seen
		from, to := l.SiteRows(k)
		for b := from; b < to; b++ {
			if rnd.Float64() < prob[l.Detection(b)] {
				seen |= 1 << uint(b)
			}
		}
		if out := a.removed[g][k]; seen != before && out > 0 && rnd.Float64() < out {
			return seen, history.Removed
		}
	}
	return seen, history.Open
}

// Resample draws as many fish as there are from each class and entry, with
// replacement.
func (a *Resampler) Resample(rnd *rand.Rand) (*model.Problem, error) {
	if !a.made() || rnd == nil {
		return nil, errUnmade
	}
	p := a.problem
	h := p.Histories
	out := a.like()
	var of []int
	for _, s := range a.strata {
		s.draw(rnd, func(r, n int) {
			of = append(of, r)
			out.Seen = append(out.Seen, h.Seen[r])
			out.End = append(out.End, h.End[r])
			out.Count = append(out.Count, int32(n))
			if p.Timed() {
				rows := h.River.Rows()
				out.Released = append(out.Released, h.Released[r])
				out.First = append(out.First, h.First[r*rows:(r+1)*rows]...)
				out.Last = append(out.Last, h.Last[r*rows:(r+1)*rows]...)
			}
			if h.Again != nil {
				out.Again = append(out.Again, h.Again[r])
			}
		})
	}
	tests := append([]model.TestPasses(nil), p.TestPasses...)
	for i := range tests {
		if t := &tests[i]; t.Passes > 0 {
			t.Read = Binomial(rnd, t.Passes, float64(t.Read)/float64(t.Passes))
		}
	}
	return a.finish(out, of, tests)
}

// like is histories of the same river and cohorts, without fish.
func (a *Resampler) like() *history.Histories {
	h := a.problem.Histories
	return &history.Histories{River: h.River, Cohorts: h.Cohorts, CohortColumn: h.CohortColumn}
}

// finish makes a problem of new histories.
func (a *Resampler) finish(out *history.Histories, of []int, tests []model.TestPasses) (*model.Problem, error) {
	h := a.problem.Histories
	for _, r := range of {
		out.Entry = append(out.Entry, h.Entry[r])
		out.Cohort = append(out.Cohort, h.Cohort[r])
	}
	p, err := a.problem.WithHistories(out, of, tests)
	if err != nil {
		return nil, fmt.Errorf("new data: %w", err)
	}
	return p, nil
}

// TruthOf is the estimates of a fit taken as true: the fish of the fit, each
// with its own categories and numbers, and the shares that were taken out of
// those seen at each site. What cannot be told apart (the last survival and
// detection) is as the search for the maximum left it; only the product counts.
// While the season runs, or where rows did not work all the time, fish are let go
// when they were, travel as estimated, and are known of up to the same moment and
// in the same windows.
func TruthOf(f *cjs.Fit) *Truth {
	a := FromFit(f)
	if a == nil {
		return &Truth{}
	}
	t, _ := truthOf(a)
	return t
}
