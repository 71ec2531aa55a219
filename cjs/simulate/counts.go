package simulate

import (
	"math"
	"slices"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/likelihood"
)

// Counts are what fish that differ by categories only have to say: the counts
// of the likelihood, and those of the saturated model.
type Counts struct {
	// Data has a unit for each class, then those of the test passes.
	Data likelihood.Data

	layout *likelihood.Layout
	masks  []uint64
	// next[g][i*sites+j]: of class g, released or seen at i, next seen at j;
	// never[g][i]: not seen again.
	next, never [][]int
	// rows[g] counts the sightings of class g at divided sites by the rows
	// that saw.
	rows []map[uint64]int
}

func newCounts(p *model.Problem) *Counts {
	sites := p.Layout.Sites()
	c := &Counts{layout: p.Layout, masks: p.Histories.River.SiteMasks()}
	for g := range p.Classes {
		z := make([]float64, p.Design.Numbers)
		z[0] = 1
		c.Data.Units = append(c.Data.Units, likelihood.NewUnit(p.Layout, g, z))
		c.next = append(c.next, make([]int, sites*sites))
		c.never = append(c.never, make([]int, sites))
		c.rows = append(c.rows, map[uint64]int{})
	}
	for _, u := range p.TestUnits() {
		v := likelihood.NewUnit(p.Layout, u.Class, u.Z)
		copy(v.Seen, u.Seen)
		copy(v.Missed, u.Missed)
		c.Data.Units = append(c.Data.Units, v)
	}
	return c
}

// clear empties the counts of fish; those of test passes stay.
func (c *Counts) clear() {
	for g := range c.next {
		u := &c.Data.Units[g]
		clear(u.Alive)
		clear(u.Seen)
		clear(u.Missed)
		clear(u.Never)
		clear(c.next[g])
		clear(c.never[g])
		clear(c.rows[g])
	}
}

// sighted counts w fish of class g, last seen at i and now at k by the rows of
// bits, numbered over the river.
func (c *Counts) sighted(g, i, k int, bits uint64, w int) {
	if w == 0 {
		return
	}
	u := &c.Data.Units[g]
	for r := i; r < k; r++ {
		u.Alive[r] += float64(w)
		from, to := c.layout.SiteRows(r + 1)
		for b := from; b < to; b++ {
			if bits>>uint(b)&1 == 1 {
				u.Seen[b] += float64(w)
			} else {
				u.Missed[b] += float64(w)
			}
		}
	}
	c.next[g][i*c.layout.Sites()+k] += w
	if from, to := c.layout.SiteRows(k); to-from > 1 {
		c.rows[g][bits] += w
	}
}

// unseen counts w fish of class g never seen after i.
func (c *Counts) unseen(g, i, w int) {
	c.Data.Units[g].Never[i] += float64(w)
	c.never[g][i] += w
}

// record counts w fish of class g with one history.
func (c *Counts) record(g, entry int, seen uint64, end history.End, w int) {
	at := entry
	for k := entry + 1; k < c.layout.Sites(); k++ {
		if bits := seen & c.masks[k]; bits != 0 {
			c.sighted(g, at, k, bits, w)
			at = k
		}
	}
	if end == history.Open {
		c.unseen(g, at, w)
	}
}

// Saturated is the log-likelihood of the model with a probability of its own
// for every cell of the next-seen table of every class, for the rows that see
// at a divided site, and for every count of test passes. Twice what it exceeds
// the fit by is the deviance.
func (c *Counts) Saturated() float64 {
	if c == nil || c.layout == nil {
		return math.NaN()
	}
	sites := c.layout.Sites()
	var sum float64
	share := func(n, of int) {
		if n > 0 {
			sum += float64(n) * math.Log(float64(n)/float64(of))
		}
	}
	for g := range c.next {
		for i := range sites - 1 {
			cells := c.next[g][i*sites : (i+1)*sites]
			all := c.never[g][i]
			for _, n := range cells {
				all += n
			}
			share(c.never[g][i], all)
			for _, n := range cells {
				share(n, all)
			}
		}
		if len(c.rows[g]) == 0 {
			continue
		}
		patterns := make([]uint64, 0, len(c.rows[g]))
		for bits := range c.rows[g] {
			patterns = append(patterns, bits)
		}
		slices.Sort(patterns) // sums in one order have one result
		for k := 1; k < sites; k++ {
			all := 0
			for _, bits := range patterns {
				if bits&c.masks[k] != 0 {
					all += c.rows[g][bits]
				}
			}
			for _, bits := range patterns {
				if bits&c.masks[k] != 0 {
					share(c.rows[g][bits], all)
				}
			}
		}
	}
	for _, u := range c.Data.Units[len(c.next):] {
		for b := range u.Seen {
			share(int(u.Seen[b]), int(u.Seen[b]+u.Missed[b]))
			share(int(u.Missed[b]), int(u.Seen[b]+u.Missed[b]))
		}
	}
	return sum
}
