package model

import (
	"errors"
	"fmt"
	"math"
	"math/bits"
	"slices"

	"example.org/unseen/history"
)

func newTally(sites, rows int) Tally {
	t := Tally{New: make([]int, sites), Seen: make([]int, sites),
		Released: make([]int, sites), Next: make([][]int, sites), Alive: make([]int, sites-1),
		RowSeen: make([]int, rows), RowMissed: make([]int, rows)}
	for i := range t.Next {
		t.Next[i] = make([]int, sites)
	}
	return t
}

// Never is the number last seen (or released) at site i and not seen again.
func (t *Tally) Never(i int) int {
	if i < 0 || i >= min(len(t.Released), len(t.Next)) {
		return 0
	}
	n := t.Released[i]
	for _, m := range t.Next[i] {
		n -= m
	}
	return n
}

// NewAbove is the number newly released above site k.
func (t *Tally) NewAbove(k int) int {
	n := 0
	for _, m := range t.New[:min(max(k, 0), len(t.New))] {
		n += m
	}
	return n
}

// KnownPassed is the number of fish seen at site k or farther down that
// entered above it.
func (t *Tally) KnownPassed(k int) int {
	if k < 1 || k > len(t.Alive) {
		return 0
	}
	return t.Alive[k-1]
}

func (t *Tally) add(o *Tally) {
	addInts := func(a, b []int) {
		for i, v := range b {
			a[i] += v
		}
	}
	addInts(t.New, o.New)
	addInts(t.Seen, o.Seen)
	addInts(t.Released, o.Released)
	addInts(t.Alive, o.Alive)
	addInts(t.RowSeen, o.RowSeen)
	addInts(t.RowMissed, o.RowMissed)
	for i := range o.Next {
		addInts(t.Next[i], o.Next[i])
	}
}

// Sum is the tally of all classes for which keep is true; nil keeps all.
func (p *Problem) Sum(keep func(g int) bool) Tally {
	if p.Layout == nil || p.Layout.Sites() == 0 {
		return Tally{}
	}
	t := newTally(p.Layout.Sites(), p.Layout.RowCount())
	for g := range p.Classes {
		if keep == nil || keep(g) {
			t.add(&p.Classes[g].Tally)
		}
	}
	return t
}

// count adds w fish of record i, last seen at site last.
func (t *Tally) count(p *Problem, h *history.Histories, i, last, w int) {
	entry, seen, idle := int(h.Entry[i]), h.Seen[i], p.IdleRows(i, last)
	if h.New(i) {
		t.New[entry] += w
	}
	at := entry
	t.Released[entry] += w
	for k := entry + 1; k <= last; k++ {
		t.Alive[k-1] += w
		from, to := p.Layout.SiteRows(k)
		for b := from; b < to; b++ {
			switch {
			case seen>>uint(b)&1 == 1:
				t.RowSeen[b] += w
			case idle>>uint(b)&1 == 0:
				t.RowMissed[b] += w
			}
		}
		if seen&p.masks[k] != 0 {
			t.Seen[k] += w
			t.Next[at][k] += w
			at = k
			t.Released[k] += w
		}
	}
	// Continued: the release is counted in another record.
	if h.End[i] != history.Open {
		t.Released[last] -= w
	}
}

// RemovedAbove is the number of fish taken out above site k: those that came
// to a site there and were not let go again.
func (t *Tally) RemovedAbove(k int) int {
	n := 0
	for i := range min(k, len(t.New), len(t.Seen), len(t.Released)) {
		n += t.New[i] + t.Seen[i] - t.Released[i]
	}
	return n
}

// classes gives every record its class and counts them; fish with missing
// values are refused or left out as the study says.
func (p *Problem) classes(in Input) error {
	h := p.Histories
	n := h.Len()
	var levels [][]int32
	for _, name := range p.Categories {
		if name == Cohort {
			levels = append(levels, h.Cohort)
		} else {
			levels = append(levels, h.Column(name).Level)
		}
	}
	drop, err := p.missing(in)
	if err != nil {
		return err
	}
	p.ClassOf = make([]int32, n)
	size := 1
	for _, l := range p.Levels {
		if size > 1<<24/max(1, len(l)) {
			return fmt.Errorf("the categories of the model make more than 16 million combinations; use fewer")
		}
		size *= len(l)
	}
	index := make([]int32, size) // class + 1
	var used []int
	for i := range n {
		if p.notYet(i) {
			p.ClassOf[i] = -1
			p.NotYet += h.Weight(i)
			continue
		}
		if drop != nil && drop[i] {
			p.ClassOf[i] = -1
			p.Dropped += h.Weight(i)
			continue
		}
		key := 0
		for c, l := range levels {
			key = key*len(p.Levels[c]) + int(l[i])
		}
		if index[key] == 0 {
			index[key] = 1
			used = append(used, key)
		}
		p.ClassOf[i] = int32(key)
	}
	if len(used) == 0 {
		return fmt.Errorf("no fish is left to fit the model to")
	}
	// Classes stand in the order of their levels, whatever the order of fish.
	slices.Sort(used)
	for g, key := range used {
		index[key] = int32(g + 1)
		c := Class{Level: make([]int, len(levels)), Tally: newTally(p.Layout.Sites(), p.Layout.RowCount())}
		for k := len(levels) - 1; k >= 0; k-- {
			c.Level[k] = key % len(p.Levels[k])
			key /= len(p.Levels[k])
		}
		p.Classes = append(p.Classes, c)
	}
	for i := range n {
		if p.ClassOf[i] < 0 {
			continue
		}
		g := index[p.ClassOf[i]] - 1
		p.ClassOf[i] = g
		p.Classes[g].count(p, h, i, p.Last(i), h.Weight(i))
	}
	return p.standardise()
}

// notYet tells whether record i is of fish not released before the data end.
func (p *Problem) notYet(i int) bool { return p.Running() && p.Histories.Released[i] >= p.AsOf }

// Last is the last site of record i.
func (p *Problem) Last(i int) int {
	if p.Layout == nil || p.Histories == nil || i < 0 || i >= min(len(p.Histories.Seen), len(p.Histories.Entry)) {
		return 0
	}
	h := p.Histories
	if h.Seen[i] == 0 {
		return int(h.Entry[i])
	}
	return p.siteOf(63 - bits.LeadingZeros64(h.Seen[i]))
}

func (p *Problem) siteOf(row int) int {
	for k := 1; k < p.Layout.Sites(); k++ {
		if _, to := p.Layout.SiteRows(k); row < to {
			return k
		}
	}
	return 0
}

// missing marks the fish that lack a value the models use, or refuses them.
func (p *Problem) missing(in Input) ([]bool, error) {
	h := p.Histories
	names := append(append([]string{}, p.Categories...), in.Also...)
	for _, n := range p.Numbers {
		names = append(names, n.Name)
	}
	slices.Sort(names)
	var drop []bool
	for _, name := range slices.Compact(names) {
		c := h.Column(name)
		if c == nil {
			continue // the cohort, which no fish lacks, or nothing of the fish
		}
		count, dropped := 0, 0
		for i := range h.Len() {
			if c.IsCategory() && c.Level[i] < 0 || !c.IsCategory() && math.IsNaN(c.Value[i]) {
				count += h.Weight(i)
				if in.Missing == "drop" || c.IsCategory() && in.Missing == "mean" {
					if drop == nil {
						drop = make([]bool, h.Len())
					}
					drop[i] = true
					if !p.notYet(i) {
						dropped += h.Weight(i)
					}
				}
			}
		}
		if count == 0 {
			continue
		}
		if dropped > 0 {
			p.Missing = append(p.Missing, Missing{name, dropped})
		}
		switch {
		case in.Missing == "":
			return nil, errors.New(history.Say("%d of %d fish have no %s, which the model uses; say what becomes of them with missing = \"drop\" (leave them out of every variant) or missing = \"mean\" (numbers only: put the mean) in the study file", count, h.Fish(), name))
		case c.IsCategory() && in.Missing == "mean":
			return nil, errors.New(history.Say("%d of %d fish have no %s; a category has no mean: use missing = \"drop\"", count, h.Fish(), name))
		}
	}
	return drop, nil
}

// standardise settles mean and standard deviation of every number over the
// newly released fish, and makes its column of the design.
func (p *Problem) standardise() error {
	h := p.Histories
	for i := range p.Numbers {
		x := &p.Numbers[i]
		c := h.Column(x.Name)
		var sum, w float64
		x.Min, x.Max = math.Inf(1), math.Inf(-1)
		for f, v := range c.Value {
			if p.ClassOf[f] < 0 || math.IsNaN(v) {
				continue
			}
			wf := float64(h.Weight(f))
			sum += wf * v
			w += wf
			x.Min, x.Max = min(x.Min, v), max(x.Max, v)
		}
		if w == 0 {
			return fmt.Errorf("no fish has a value of %s", x.Name)
		}
		x.Mean = sum / w
		var sq float64
		for f, v := range c.Value {
			if p.ClassOf[f] < 0 {
				continue
			}
			if math.IsNaN(v) {
				p.Filled += h.Weight(f)
				continue
			}
			sq += float64(h.Weight(f)) * (v - x.Mean) * (v - x.Mean)
		}
		x.SD = math.Sqrt(sq / max(1, w-1))
		if !(x.SD > 1e-12*math.Abs(x.Mean)) {
			return fmt.Errorf("%s is %v for all fish: it cannot explain a difference", x.Name, x.Mean)
		}
	}
	return nil
}

// standard is number i of record f, standardised; a missing one is the mean.
func (p *Problem) standard(i, f int, c *history.Column) float64 {
	v := c.Value[f]
	if math.IsNaN(v) {
		return 0
	}
	return (v - p.Numbers[i].Mean) / p.Numbers[i].SD
}
