package simulate

import (
	"math"
	"math/rand/v2"
	"slices"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/likelihood"
	"example.org/unseen/likelihood/passtime"
)

// Sample is one simulated study, with what really became of its fish.
type Sample struct {
	Histories  *history.Histories // the simulated fish
	TestPasses []model.TestPasses // simulated with them
	// Retention are the fish held and the tags they kept.
	Retention struct{ Held, Kept int }
	// Passed[c][k] is the number of cohort c's fish that reached site k
	// (below their entry) at large: the living ones not removed above; while the
	// season runs, by as_of.
	Passed [][]int
	// Share[c][k] is the mean over cohort c's fish that entered above site k
	// of their probability to reach it, had nobody been removed; NaN where
	// none did.
	Share [][]float64
	// Entered[c][k] is the number of cohort c's fish that entered above site k.
	Entered [][]int
	// Outages are the rows that do not work all the time.
	Outages []Outage
	// Of is the truth's cohort of each record.
	Of []int32
}

// Stream is the random numbers of sample index under seed: what one sample
// draws is independent of all others, and of the order they are drawn in.
func Stream(seed, index uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, index)) }

// Draw makes sample index under seed. The truth must pass [Truth.Check].
// Fish that are alike are records with a count; with covariates, breakers or
// times every fish is a record of its own. While the season runs (AsOf) it is
// what is known of the fish released by then; but the shares that pass are
// those at the season's end.
func (t *Truth) Draw(seed, index uint64) *Sample {
	if t.Check() != nil {
		return nil
	}
	return t.draw(Stream(seed, index))
}

func (t *Truth) draw(rnd *rand.Rand) *Sample {
	d := &drawing{truth: t, rnd: rnd, masks: t.River.SiteMasks()}
	d.start()
	for i := range t.Cohorts {
		if t.alike() {
			d.together(i)
		} else {
			d.oneByOne(i)
		}
	}
	s := &d.out
	for c := range s.Share {
		for k := range s.Share[c] {
			s.Share[c][k] /= float64(s.Entered[c][k]) // 0/0 is NaN, as said
		}
	}
	for _, p := range t.TestPasses {
		s.TestPasses = append(s.TestPasses, model.TestPasses{Row: p.Row, Passes: p.Passes,
			Read: Binomial(d.rnd, p.Passes, t.Cohorts[0].Detection[p.Row])})
	}
	if r := t.Retention; r.Held > 0 {
		s.Retention.Held, s.Retention.Kept = r.Held, Binomial(d.rnd, r.Held, r.Kept)
	}
	if h := s.Histories; h.First != nil {
		h.Last = append([]int64(nil), h.First...)
		if !t.AsOf.IsZero() {
			s.Histories = h.Until(t.AsOf.UnixMilli())
		}
	}
	return s
}

type drawing struct {
	truth  *Truth
	rnd    *rand.Rand
	masks  []uint64
	cohort []int // truth's cohort → histories' cohort
	// at are the times at which the fish in hand was first seen at each row.
	at  []int64
	out Sample
	// outage is, by row, which of the sample's outages is its own; −1: none.
	outage []int
}

// start lays out the sample.
func (d *drawing) start() {
	t := d.truth
	h := &history.Histories{River: t.River}
	d.out.Histories = h
	fish := 0
	for i := range t.Cohorts {
		c := &t.Cohorts[i]
		fish += c.Fish
		at := -1
		for j, name := range h.Cohorts {
			if name == c.Name {
				at = j
			}
		}
		if at < 0 {
			at = len(h.Cohorts)
			h.Cohorts = append(h.Cohorts, c.Name)
		}
		d.cohort = append(d.cohort, at)
	}
	n := len(h.Cohorts)
	if n > 1 {
		h.CohortColumn = model.Cohort
	}
	d.outage = slices.Repeat([]int{-1}, t.River.Rows())
	for b, w := range t.Working {
		if w != nil {
			d.outage[b] = len(d.out.Outages)
			d.out.Outages = append(d.out.Outages, Outage{At: t.River.RowLabel(b)})
		}
	}
	sites := len(t.River.Sites)
	d.out.Passed, d.out.Entered, d.out.Share = make([][]int, n), make([][]int, n), make([][]float64, n)
	for c := range n {
		d.out.Passed[c], d.out.Entered[c], d.out.Share[c] = make([]int, sites), make([]int, sites), make([]float64, sites)
	}
	for _, c := range t.Covariates {
		h.Columns = append(h.Columns, history.Column{Name: c.Name, Value: make([]float64, 0, fish)})
	}
	for _, name := range names(t.Cohorts[0].Levels) {
		var levels []string
		for i := range t.Cohorts {
			levels = append(levels, t.Cohorts[i].Levels[name])
		}
		slices.Sort(levels)
		h.Columns = append(h.Columns, history.Column{Name: name, Levels: slices.Compact(levels), Level: []int32{}})
	}
	for _, name := range names(t.Cohorts[0].Values) {
		h.Columns = append(h.Columns, history.Column{Name: name, Value: []float64{}})
	}
}

// add is a record of w fish of truth's cohort i.
func (d *drawing) add(i int, seen uint64, end history.End, w int) {
	h := d.out.Histories
	h.Cohort = append(h.Cohort, int32(d.cohort[i]))
	h.Entry = append(h.Entry, uint8(d.truth.Cohorts[i].Entry))
	h.Seen = append(h.Seen, seen)
	h.End = append(h.End, end)
	d.out.Of = append(d.out.Of, int32(i))
	if d.truth.alike() {
		h.Count = append(h.Count, int32(w))
	}
	c := &d.truth.Cohorts[i]
	for k := len(d.truth.Covariates); k < len(h.Columns); k++ {
		x := &h.Columns[k]
		if x.IsCategory() {
			level, _ := slices.BinarySearch(x.Levels, c.Levels[x.Name])
			x.Level = append(x.Level, int32(level))
		} else {
			x.Value = append(x.Value, c.Values[x.Name])
		}
	}
}

// alive is fish with the same history that are at large.
type alive struct {
	seen uint64
	n    int
}

// together draws the fish of a cohort by the number.
func (d *drawing) together(i int) {
	t := d.truth
	c := &t.Cohorts[i]
	of := d.cohort[i]
	n := c.Fish
	share := 1.0
	for k := c.Entry + 1; k < len(t.River.Sites); k++ {
		share *= c.Survival[k-1]
		d.out.Share[of][k] += float64(c.Fish) * share
		d.out.Entered[of][k] += c.Fish
	}
	open := map[uint64]int{}
	var order []uint64 // as first met, so that records stand in one order
	ends := func(seen uint64, n int) {
		if n == 0 {
			return
		}
		if open[seen] == 0 {
			order = append(order, seen)
		}
		open[seen] += n
	}
	if t.Retention.Held > 0 {
		kept := Binomial(d.rnd, n, t.Retention.Kept)
		// Fish without a tag migrate as the others do, unseen.
		bare := n - kept
		ends(0, bare)
		for k := c.Entry + 1; k < len(t.River.Sites); k++ {
			bare = Binomial(d.rnd, bare, c.Survival[k-1])
			d.out.Passed[of][k] += bare
		}
		n = kept
	}
	states := []alive{{0, n}}
	for k := c.Entry + 1; k < len(t.River.Sites); k++ {
		var next []alive
		for _, s := range states {
			live := Binomial(d.rnd, s.n, c.Survival[k-1])
			ends(s.seen, s.n-live)
			d.out.Passed[of][k] += live
			next = d.rows(next, c, k, t.River.FirstRow(k), alive{s.seen, live})
		}
		if c.Removed != nil && c.Removed[k] > 0 {
			for j := range next {
				s := &next[j]
				if s.seen&d.masks[k] != 0 {
					out := Binomial(d.rnd, s.n, c.Removed[k])
					s.n -= out
					if out > 0 {
						d.add(i, s.seen, history.Removed, out)
					}
				}
			}
		}
		states = next
	}
	for _, s := range states {
		ends(s.seen, s.n)
	}
	for _, seen := range order {
		d.add(i, seen, history.Open, open[seen])
	}
}

// rows shares out fish passing site k, from row b on, by which rows see them.
func (d *drawing) rows(to []alive, c *Cohort, k, b int, s alive) []alive {
	if s.n == 0 {
		return to
	}
	if d.masks[k]>>uint(b)&1 == 0 {
		return append(to, s)
	}
	seen := Binomial(d.rnd, s.n, c.Detection[b])
	to = d.rows(to, c, k, b+1, alive{s.seen | 1<<uint(b), seen})
	return d.rows(to, c, k, b+1, alive{s.seen, s.n - seen})
}

// oneByOne draws the fish of a cohort one after the other.
func (d *drawing) oneByOne(i int) {
	t := d.truth
	c := &t.Cohorts[i]
	h := d.out.Histories
	sites := len(t.River.Sites)
	f := &fish{cohort: c, of: d.cohort[i], known: true,
		survival: make([]float64, sites-1), detection: make([]float64, t.River.Rows())}
	d.at = make([]int64, len(f.detection))
	z := make([]float64, len(t.Covariates))
	for n := range c.Fish {
		if c.Released != nil {
			f.released = c.Released[n*len(c.Released)/c.Fish]
			f.known = t.AsOf.IsZero() || f.released <= t.AsOf.UnixMilli()
		}
		for j := range z {
			z[j] = d.rnd.NormFloat64()
		}
		d.nature(f, z)
		seen, end := d.journey(f)
		if !f.known {
			continue
		}
		share := 1.0
		for k := c.Entry + 1; k < sites; k++ {
			share *= f.survival[k-1]
			d.out.Share[f.of][k] += share
			d.out.Entered[f.of][k]++
		}
		for j := range z {
			x := &t.Covariates[j]
			h.Columns[j].Value = append(h.Columns[j].Value, x.Mean+x.SD*z[j])
		}
		d.add(i, seen, end, 1)
		if c.Released != nil {
			h.Released = append(h.Released, f.released)
			h.First = append(h.First, d.at...)
		}
	}
}

// fish is one that is drawn by itself.
type fish struct {
	cohort              *Cohort
	of                  int // histories' cohort
	survival, detection []float64
	drift               float64 // where it is not its cohort's
	released            int64
	known               bool // released by as_of
}

// nature sets the probabilities of one fish with covariates z standard
// deviations above the mean, and its drift where that is its own.
func (d *drawing) nature(f *fish, z []float64) {
	t, b, c := d.truth, &d.truth.Violations, f.cohort
	survival, detection := f.survival, f.detection
	f.drift = 0
	var onSurvival, onDetection float64
	if b.Second.Share > 0 && d.rnd.Float64() < b.Second.Share {
		onSurvival, onDetection = b.Second.Survival, b.Second.Detection
		if b.Second.Drift > 0 {
			f.drift = b.Second.Drift
		}
	}
	if b.DetectionSD > 0 {
		onDetection += b.DetectionSD * d.rnd.NormFloat64()
	}
	for k := range survival {
		shift := 0.0
		for j, x := range t.Covariates {
			if x.Survival != nil {
				shift += x.Survival[k] * (x.SD * z[j])
			}
		}
		survival[k] = moved(t.link(k), c.Survival[k], shift)
		survival[k] = moved(likelihood.Link{}, survival[k], onSurvival)
	}
	for r := range detection {
		shift := onDetection
		for j, x := range t.Covariates {
			if x.Detection != nil {
				shift += x.Detection[r] * (x.SD * z[j])
			}
		}
		detection[r] = moved(likelihood.Link{}, c.Detection[r], shift)
	}
}

// moved is p with its predictor shifted.
func moved(l likelihood.Link, p, shift float64) float64 {
	if shift == 0 || p <= 0 || p >= 1 {
		return p
	}
	return l.At(l.Inverse(p) + shift).P
}

// journey sends one fish down the river.
func (d *drawing) journey(f *fish) (seen uint64, end history.End) {
	t, b, c := d.truth, &d.truth.Violations, f.cohort
	tag := t.Retention.Held == 0 || d.rnd.Float64() < t.Retention.Kept
	living := !(b.HandlingDeath > 0 && d.rnd.Float64() < b.HandlingDeath)
	drifting := false
	days := d.rest(f)
	for r := range d.at {
		d.at[r] = history.NoTime
	}
	for k := c.Entry + 1; k < len(t.River.Sites); k++ {
		if living {
			if living = d.rnd.Float64() < f.survival[k-1]; !living {
				drifting = b.Ghosts > 0 && d.rnd.Float64() < b.Ghosts
			}
		} else if drifting {
			drifting = d.rnd.Float64() < b.Ghosts
		}
		if living || drifting {
			days += d.days(f, k-1, t.River.ReachKm(k-1))
		}
		if living && (t.AsOf.IsZero() || f.at(days) <= t.AsOf.UnixMilli()) {
			d.out.Passed[f.of][k]++
			d.overRows(k, f.at(days))
		}
		tag = tag && !(b.TagLoss > 0 && d.rnd.Float64() < b.TagLoss)
		if !living && !drifting || !tag {
			if !living {
				return seen, history.Open
			}
			continue // alive without its tag: only its passing counts
		}
		bits := d.sighted(k, f.detection)
		for r := range d.at {
			if bits>>uint(r)&1 == 1 && t.Working != nil && !t.works(r, f.at(days)) {
				bits &^= 1 << uint(r)
			}
		}
		seen |= bits
		for r := range d.at {
			if c.Released != nil && bits>>uint(r)&1 == 1 {
				d.at[r] = f.at(days)
			}
		}
		if bits != 0 && living && c.Removed != nil && c.Removed[k] > 0 && d.rnd.Float64() < c.Removed[k] {
			return seen, history.Removed
		}
	}
	return seen, history.Open
}

// overRows counts a living fish that passes the rows of site k, where they have
// outages.
func (d *drawing) overRows(k int, ms int64) {
	for b, i := range d.outage {
		if i < 0 || d.masks[k]>>uint(b)&1 == 0 {
			continue
		}
		o := &d.out.Outages[i]
		o.Passed++
		if !d.truth.works(b, ms) {
			o.Idle++
		}
	}
}

// at is the time so many days after the release.
func (f *fish) at(days float64) int64 {
	const msPerDay = 24 * 60 * 60 * 1000
	// A fish that never comes comes after everything.
	return f.released + int64(min(days, 1e6)*msPerDay)
}

// days is how long the fish takes for a way as in reach k, where there are
// times.
func (d *drawing) days(f *fish, k int, km float64) float64 {
	if f.cohort.Released == nil {
		return 0
	}
	drift, spread := f.cohort.Movement.over(k)
	if f.drift > 0 {
		drift = f.drift
	}
	return passtime.Law{Km: km, Drift: drift, Spread: spread}.Quantile(d.rnd.Float64())
}

// rest is how many days the fish rests after its release.
func (d *drawing) rest(f *fish) (days float64) {
	m := &f.cohort.Movement
	if m.Rest > 0 && d.rnd.Float64() < m.Rest {
		if m.RestDays > 0 {
			days += m.RestDays * d.rnd.ExpFloat64()
		}
		if m.RestKm > 0 {
			days += d.days(f, f.cohort.Entry, m.RestKm)
		}
	}
	return days
}

// sighted are the rows of site k that see a passing fish.
func (d *drawing) sighted(k int, detection []float64) (bits uint64) {
	first := d.truth.River.FirstRow(k)
	together := d.truth.River.Sites[k].Divided() && d.truth.Violations.RowsTogether > 0 && d.rnd.Float64() < d.truth.Violations.RowsTogether
	u := math.NaN()
	for b := first; d.masks[k]>>uint(b)&1 == 1; b++ {
		if !together || math.IsNaN(u) {
			u = d.rnd.Float64()
		}
		if u < detection[b] {
			bits |= 1 << uint(b)
		}
	}
	return bits
}
