package model

import (
	"math"
	"slices"

	"example.org/unseen/history"
)

// Outages are when rows did not work, as far as the likelihood knows: moments from
// and to in Unix milliseconds.
type Outages struct {
	Rows  [][][2]int64 // by numbered row
	Sites [][][2]int64 // by site: of any of its rows
}

// Outages is nil where all rows worked all the time.
func (p *Problem) Outages() *Outages {
	if !p.Windowed() {
		return nil
	}
	o := &Outages{Sites: make([][][2]int64, p.Layout.Sites())}
	for b, k := range p.Histories.River.SiteOfRow() {
		idle := p.IdleTimes(b, math.MaxInt64)
		o.Rows, o.Sites[k] = append(o.Rows, idle), append(o.Sites[k], idle...)
	}
	return o
}

// At tells whether some row of site k did not work all the time.
func (o *Outages) At(k int) bool { return o.any(k, k+1) }

// Above tells it of the sites below the first and above k.
func (o *Outages) Above(k int) bool { return o.any(1, k) }

// Below tells it of the sites below k.
func (o *Outages) Below(k int) bool { return o != nil && o.any(k+1, len(o.Sites)) }

func (o *Outages) any(from, to int) bool {
	if o == nil {
		return false
	}
	from, to = max(from, 0), min(to, len(o.Sites))
	return from < to && slices.ContainsFunc(o.Sites[from:to], func(s [][2]int64) bool { return len(s) > 0 })
}

// Touches tells whether one of the times lies, or reaches, within from and to.
func Touches(idle [][2]int64, from, to int64) bool {
	return slices.ContainsFunc(idle, func(s [2]int64) bool { return s[0] <= to && from < s[1] })
}

// Stop is where a fish was released or seen.
type Stop struct {
	Site        int   // its index
	First, Last int64 // sighting there, Unix milliseconds; of a release the same
}

// Stops appends those of record i to out, its release first. Windows of work need
// the time of each; without them nothing is appended.
func Stops(out []Stop, h *history.Histories, i int) []Stop {
	if h == nil || i < 0 || i >= min(h.Len(), len(h.Released), len(h.Seen)) || h.First == nil || len(h.First) < (i+1)*h.River.Rows() || len(h.Last) != len(h.First) {
		return out
	}
	entry, rows := int(h.Entry[i]), h.River.Rows()
	out = append(out, Stop{entry, h.Released[i], h.Released[i]})
	for b, k := range h.River.SiteOfRow() {
		if k <= entry || h.Seen[i]>>uint(b)&1 == 0 {
			continue
		}
		first, last := h.First[i*rows+b], h.Last[i*rows+b]
		if n := len(out) - 1; out[n].Site == k {
			out[n].First, out[n].Last = min(out[n].First, first), max(out[n].Last, last)
			continue
		}
		out = append(out, Stop{k, first, last})
	}
	return out
}

// Around is the time in which a fish with these stops passed site k, whatever was
// seen there: from its last sighting above to its first below; ok is false where
// it has none.
func Around(stops []Stop, k int) (from, to int64, ok bool) {
	from = history.NoTime
	for _, s := range stops {
		switch {
		case s.Site < k:
			from, ok = s.Last, true
		case s.Site > k:
			return from, s.First, ok
		}
	}
	return from, to, false
}
