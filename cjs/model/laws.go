package model

import (
	"context"
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/likelihood"
	"example.org/unseen/likelihood/linear"
)

const (
	// LawFish is how many fish must have been seen at both ends of a reach (of
	// reaches put together, at two of their sites) for it to have a law of travel
	// of its own.
	LawFish = 10
	// SpeedsDiffer is the probability below which stretches are taken to
	// differ in their laws of travel.
	SpeedsDiffer = 0.05
)

// stretches are the laws of travel that the fish seen can tell, by reach (see
// [likelihood.Layout]): each reach its own; while fewer than LawFish were seen
// at two sites of a stretch, its ends among them, the one with the fewest has its
// law in common with the neighbour that has fewer. So a stretch where no one
// watches has one law.
func (p *Problem) stretches() []int {
	h := p.Histories
	sites := len(p.masks)
	twice := func(from, to int) (n int) { // fish seen at two of its sites or more
		for i := range h.Len() {
			seen := 0
			for k := from; k <= to; k++ {
				if int(h.Entry[i]) == k || h.Seen[i]&p.masks[k] != 0 {
					seen++
				}
			}
			if seen > 1 {
				n += h.Weight(i)
			}
		}
		return n
	}
	ends := make([]int, sites) // the sites at which laws change
	for k := range ends {
		ends[k] = k
	}
	for len(ends) > 2 {
		fish := make([]int, len(ends)-1)
		least := 0
		for i := range fish {
			if fish[i] = twice(ends[i], ends[i+1]); fish[i] < fish[least] {
				least = i
			}
		}
		if fish[least] >= LawFish {
			break
		}
		// The end that goes is that towards the neighbour.
		gone := least
		if least == 0 || least < len(fish)-1 && fish[least+1] < fish[least-1] {
			gone = least + 1
		}
		ends = append(ends[:gone], ends[gone+1:]...)
	}
	out := make([]int, sites-1)
	law := 0
	for k := range out {
		if k == ends[law+1] {
			law++
		}
		out[k] = law
	}
	return out
}

// ByReach tells whether terms of movement have a law for each stretch.
func (t Terms) ByReach() bool { return indexOf(t.Names(), "reach") >= 0 }

// Differ tells whether the laws of the stretches are not alike.
func (s *Speeds) Differ() bool { return s != nil && s.P < SpeedsDiffer }

// Speeds is the test, nil where there is nothing to test.
func (p *Problem) Speeds() *Speeds {
	if p.Check() != nil {
		return nil
	}
	if p.tested {
		return p.speeds
	}
	return p.testSpeeds()
}

func (p *Problem) testSpeeds() *Speeds {
	if !p.Timed() || p.TermsOf(Drift).ByReach() && p.TermsOf(Spread).ByReach() || p.laws[len(p.laws)-1] == 0 {
		return nil
	}
	data := &likelihood.Data{}
	for _, i := range p.plainTrips() {
		if t := p.Data.TravelTimes[i]; p.laws[t.From] == p.laws[t.To-1] {
			t.Within = p.room[i]
			data.TravelTimes = append(data.TravelTimes, t)
		}
	}
	drift, spread := p.TermsOf(Drift), p.TermsOf(Spread)
	one, own := p.moving(drift, spread), p.moving(drift.PerReach(), spread.PerReach())
	if one == nil || own == nil {
		return nil
	}
	// Of a few coefficients, which takes a moment: nothing to be stopped.
	ctx := context.Background()
	a := likelihood.Maximise(ctx, likelihood.NewCJS(one, data), startMoving(one, data), nil)
	b := likelihood.Maximise(ctx, likelihood.NewCJS(own, data), startMoving(own, data), nil)
	df := told(own, data) - told(one, data)
	rise := 2 * (b.P.F - a.P.F)
	if math.IsNaN(rise) || math.IsInf(rise, 0) || df < 1 {
		return nil
	}
	s := &Speeds{Statistic: max(0, rise), DF: df}
	s.P = distuv.ChiSquared{K: float64(s.DF)}.Survival(s.Statistic)
	l := own.Layout
	z := make([]float64, own.Numbers)
	z[0] = 1
	for i := range l.LawCount() {
		from, to := l.Stretch(i)
		s.From, s.To = append(s.From, from), append(s.To, to)
		s.Drift = append(s.Drift, own.Prob(b.X, 0, l.Drift(i), z).P)
		s.Spread = append(s.Spread, own.Prob(b.X, 0, l.Spread(i), z).P)
	}
	return s
}

// With is the terms with a name beside them, as they are where it has a part.
func (t Terms) With(name string) Terms {
	if slices.Contains(t.Names(), name) {
		return t
	}
	return append(slices.Clone(t), []string{name}).canonical()
}

// PerReach is the terms with a value of its own for each stretch beside them.
func (t Terms) PerReach() Terms { return t.With("reach") }

// moving is the design of the times alone with other terms of drift and spread.
func (p *Problem) moving(drift, spread Terms) *likelihood.Design {
	q := *p
	q.terms, q.Columns = maps.Clone(p.terms), nil
	q.terms[Drift], q.terms[Spread] = drift, spread
	if q.timed() != nil {
		return nil
	}
	d := *p.Design
	d.Layout = q.Layout
	d.Slots, d.Links = make([][][]likelihood.Entry, len(p.Classes)), make([][]likelihood.Link, len(p.Classes))
	for g := range p.Classes {
		d.Slots[g], d.Links[g] = make([][]likelihood.Entry, q.Layout.Slots()), make([]likelihood.Link, q.Layout.Slots())
	}
	q.Design = &d
	if q.links() != nil {
		return nil
	}
	for _, part := range []Part{Drift, Spread} {
		if q.columns(q.resolver, part) != nil {
			return nil
		}
	}
	d.Columns = len(q.Columns)
	return &d
}

// told is how many coefficients of d the travel times can tell, or combinations of
// them.
func told(d *likelihood.Design, data *likelihood.Data) int {
	n, l := d.Columns, d.Layout
	gram := make([]float64, n*n)
	seen := map[[2]int]bool{}
	for i := range data.TravelTimes {
		t := &data.TravelTimes[i]
		if k := [2]int{t.Class, l.LawOf(t.From)}; n == 0 || seen[k] && !d.Differs(t.Class) {
			continue
		} else {
			seen[k] = true
		}
		for _, a := range []int{l.Drift(l.LawOf(t.From)), l.Spread(l.LawOf(t.From))} {
			row := make([]float64, n)
			d.AddGradient(row, 1, t.Class, a, t.Z)
			for j, x := range row {
				for k, y := range row {
					gram[j*n+k] += x * y
				}
			}
		}
	}
	s, ok := linear.Decompose(gram, n)
	if !ok {
		return 0
	}
	return s.Rank(1e-10)
}

// startMoving are the coefficients of the closed form of the travel times (see
// [Travelled]), which takes those that have come for all.
func startMoving(d *likelihood.Design, data *likelihood.Data) []float64 {
	target := make([][]float64, d.Classes())
	for g := range target {
		target[g] = make([]float64, d.Layout.Slots())
		for a := range target[g] {
			target[g][a] = math.NaN()
		}
		Travelled(d.Layout, data.TravelTimes, g, target[g])
	}
	return likelihood.Project(d, target, nil)
}

// enoughTravelTimes: with fewer travel times of its own a class or a stretch starts from
// those of all.
const enoughTravelTimes = 5

// Travelled sets the targets of movement of class g from travel times alone: v = Σd/Σt
// and σ² the mean of (d−vt)²/t (Tweedie 1957).
func Travelled(l *likelihood.Layout, travelTimes []likelihood.TravelTime, g int, target []float64) {
	type sums struct{ n, way, days, quick float64 }
	of := func(take func(t *likelihood.TravelTime) bool) (s sums) {
		for i := range travelTimes {
			if t := &travelTimes[i]; take(t) {
				km := l.Distance(t.From, t.To)
				s.n += t.Weight
				s.way += t.Weight * km
				s.days += t.Weight * t.Days
				s.quick += t.Weight * km * km / t.Days
			}
		}
		return s
	}
	if l == nil || len(target) != l.Slots() {
		return
	}
	for law := range l.LawCount() {
		within := func(t *likelihood.TravelTime) bool { return l.LawOf(t.From) == law && l.LawOf(t.To-1) == law }
		s := of(func(t *likelihood.TravelTime) bool { return t.Class == g && within(t) })
		if s.n < enoughTravelTimes {
			s = of(within)
		}
		if s.n < enoughTravelTimes && l.LawCount() > 1 {
			s = of(func(*likelihood.TravelTime) bool { return true })
		}
		if s.n == 0 {
			s = sums{1, 10, 1, 100 + 100}
		}
		if l.Drift(law) < 0 {
			return
		}
		v := s.way / s.days
		target[l.Drift(law)] = v
		target[l.Spread(law)] = math.Sqrt(max(1e-4*v*v, (s.quick-2*v*s.way+v*v*s.days)/s.n))
	}
	if l.Resting {
		// A fifth of the fish, for a few days.
		target[l.Rest()], target[l.RestKm()] = 0.2, 5*target[l.Drift(0)]
	}
}

// OneLaw tells by [likelihood.OneLaw], where working windows make the law of travel
// count, how probable it is by chance that the time scales of fish differ, and that
// some rest after release, at least as much as they seem to; NaN where there is
// nothing to test. It takes the trips that [Speeds] takes, with the model's own terms
// of drift and spread.
func (p *Problem) OneLaw() (speeds, rests float64) {
	if !p.Windowed() {
		return math.NaN(), math.NaN()
	}
	data := &likelihood.Data{}
	var fish [][]likelihood.TravelTime
	last := int32(-1)
	for _, i := range p.plainTrips() {
		t := p.Data.TravelTimes[i]
		t.Within = p.room[i]
		data.TravelTimes = append(data.TravelTimes, t)
		if p.tripOf[i] != last {
			fish, last = append(fish, nil), p.tripOf[i]
		}
		fish[len(fish)-1] = append(fish[len(fish)-1], t)
	}
	d := p.moving(p.TermsOf(Drift), p.TermsOf(Spread))
	if d == nil || len(fish) < LawFish {
		return math.NaN(), math.NaN()
	}
	m := likelihood.Maximise(context.Background(), likelihood.NewCJS(d, data), startMoving(d, data), nil)
	speeds, rests = likelihood.OneLaw(d, m.X, fish)
	return distuv.UnitNormal.Survival(speeds), distuv.UnitNormal.Survival(rests)
}

// plainTrips are the travel times of fish that did not rest first, past no site that
// may have been idle.
func (p *Problem) plainTrips() (out []int) {
	for i := range p.Data.TravelTimes {
		if t := &p.Data.TravelTimes[i]; !(t.Fresh && p.Layout.Resting) && p.Layout.Unknown(t.From, t.To) == 0 {
			out = append(out, i)
		}
	}
	return out
}

// timed gives the layout the laws of travel that drift and spread ask for.
func (p *Problem) timed() (err error) {
	if !p.Timed() {
		return nil
	}
	var laws []int
	if p.TermsOf(Drift).ByReach() || p.TermsOf(Spread).ByReach() {
		laws = p.laws
	}
	p.Layout, err = p.Layout.Timed(p.km, laws, p.Layout.Resting)
	return err
}
