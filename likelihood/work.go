package likelihood

import (
	"fmt"
	"math"
	"math/bits"
	"slices"
)

// Window is a half-open stretch of time in days, on the scale of [TravelTime.At] and
// [Wait.At].
type Window struct{ From, To float64 }

// Working is the layout, which has places, with the windows in which each
// numbered row works (nil: always); it sees a fish only if that passes in one.
// end is when the data end, +Inf where the season is over.
func (l *Layout) Working(rows [][]Window, end float64) (*Layout, error) {
	if l.Km == nil {
		return nil, fmt.Errorf("the layout has no places; windows of work need to know when fish pass, see Timed")
	}
	if len(rows) != l.RowCount() {
		return nil, fmt.Errorf("windows of work of %d rows; there are %d", len(rows), l.RowCount())
	}
	if math.IsNaN(end) {
		return nil, fmt.Errorf("the data end at no time")
	}
	for b, windows := range rows {
		for _, w := range windows {
			if !(w.From < w.To) {
				return nil, fmt.Errorf("row %d works from day %v to day %v; a window ends after it starts", b, w.From, w.To)
			}
		}
	}
	c := *l
	c.work, c.end = make([]work, l.sites), end
	any := false
	for k := 1; k < l.sites; k++ {
		from, to := l.SiteRows(k)
		c.work[k] = siteWork(rows[from:to], from)
		any = any || c.Idle(k)
	}
	if !any {
		c.work = nil
	}
	return &c, nil
}

// AlwaysWorking is a layout without windows of work.
func (l *Layout) AlwaysWorking() *Layout {
	c := *l
	c.work = nil
	return &c
}

// Windowed tells whether some row does not work all the time.
func (l *Layout) Windowed() bool { return l.work != nil }

// Idle tells whether site k is not at full work all the time.
func (l *Layout) Idle(k int) bool { return len(l.workAt(k).spells) > 0 }

var always work

// workAt is when site k works; always where nothing else is said.
func (l *Layout) workAt(k int) *work {
	if k < 0 || k >= len(l.work) {
		return &always
	}
	return &l.work[k]
}

// lastEdge is the last time at which a row stops or starts to work.
func (l *Layout) lastEdge() float64 {
	last := math.Inf(-1)
	for _, w := range l.work {
		for _, s := range w.spells {
			for _, at := range []float64{s.from, s.to} {
				if !math.IsInf(at, 1) {
					last = max(last, at)
				}
			}
		}
	}
	return last
}

// siteWork is the work of a site whose first numbered row is first.
func siteWork(rows [][]Window, first int) work {
	edges := []float64{math.Inf(-1), math.Inf(1)}
	for _, windows := range rows {
		for _, w := range windows {
			edges = append(edges, w.From, w.To)
		}
	}
	slices.Sort(edges)
	edges = slices.Compact(edges)
	w := work{states: []uint64{(1<<len(rows) - 1) << first}}
	for i, from := range edges[:len(edges)-1] {
		to := edges[i+1]
		var on uint64
		for b, windows := range rows {
			if within(windows, from) {
				on |= 1 << (first + b)
			}
		}
		s := slices.Index(w.states, on)
		if s < 0 {
			s = len(w.states)
			w.states = append(w.states, on)
		}
		n := len(w.spells)
		switch {
		case s == 0:
		case n > 0 && w.spells[n-1].to == from && w.spells[n-1].state == s:
			w.spells[n-1].to = to
		default:
			w.spells = append(w.spells, spell{from, to, s})
		}
	}
	return w
}

func within(windows []Window, day float64) bool {
	return windows == nil || slices.ContainsFunc(windows, func(w Window) bool { return day >= w.From && day < w.To })
}

// course is a way fish can take from a site: past, at a time of the given state,
// the site, and on as rest says; without rest they come to the site, state 0
// meaning at any time.
type course struct {
	id          int
	site, state int
	rest        *course
}

// last is where the course ends.
func (c *course) last() *course {
	for c.rest != nil {
		c = c.rest
	}
	return c
}

// courses are all ways from site i to site j, by whether they pass sites between
// at full work or not (state 0 does not say: such a site is no part of one, and
// others give the difference). Ways on from a site are one for all above.
type courses struct {
	layout *Layout
	known  map[[2]int][]*course
	all    []*course
}

func (cs *courses) from(i, j int) []*course {
	if c, ok := cs.known[[2]int{i, j}]; ok {
		return c
	}
	var out []*course
	add := func(site, state int, rest *course) {
		c := &course{len(cs.all), site, state, rest}
		cs.all = append(cs.all, c)
		out = append(out, c)
	}
	l := cs.layout
	for m := range l.work[j].states {
		add(j, m, nil)
	}
	for k := i + 1; k < j; k++ {
		for m := 1; m < len(l.work[k].states); m++ {
			for _, rest := range cs.from(k, j) {
				add(k, m, rest)
			}
		}
	}
	cs.known[[2]int{i, j}] = out
	return out
}

// idleSites are the sites between i and j that are not always at full work.
func (l *Layout) idleSites(i, j int) (out []int) {
	for k := min(max(i, -1), l.sites) + 1; k < min(j, l.sites); k++ {
		if l.Idle(k) {
			out = append(out, k)
		}
	}
	return out
}

// RowsAt are the rows of site k at work on day at, as bits of numbered rows.
func (l *Layout) RowsAt(k int, at float64) uint64 {
	from, to := l.SiteRows(k)
	all := uint64(1<<(to-from)-1) << from
	w := l.workAt(k)
	for _, s := range w.spells {
		if at >= s.from && at < s.to {
			return w.states[s.state]
		}
	}
	return all
}

// Unwatched are the times in which no row of site k is at work, in order.
func (l *Layout) Unwatched(k int) (out []Window) {
	w := l.workAt(k)
	for _, s := range w.spells {
		if w.states[s.state] == 0 {
			out = append(out, Window{s.from, s.to})
		}
	}
	return out
}

// IdleTimes are the times in which numbered row b does not work, in order.
func (l *Layout) IdleTimes(b int) (out []Window) {
	if l.work == nil {
		return nil
	}
	if b < 0 || b >= l.RowCount() {
		return nil
	}
	w := &l.work[l.Site(l.detect[b])+1]
	for _, s := range w.spells {
		n := len(out)
		switch {
		case w.states[s.state]>>uint(b)&1 == 1:
		case n > 0 && out[n-1].To == s.from:
			out[n-1].To = s.to
		default:
			out = append(out, Window{s.from, s.to})
		}
	}
	return out
}

// Unknown are the rows between sites i and j of which it is not known whether
// they were at work when a fish passed that was not seen there, as bits.
func (l *Layout) Unknown(i, j int) uint64 {
	var out uint64
	for _, k := range l.idleSites(i, j) {
		out |= l.work[k].states[0]
	}
	return out
}

// crosses tells whether a trip from site i to site j passes a site that is not
// always at full work.
func (l *Layout) crosses(i, j int) bool { return l.Unknown(i, j) != 0 }

// rowsOf lists the rows of bits.
func rowsOf(mask uint64) (out []int) {
	for m := mask; m != 0; m &= m - 1 {
		out = append(out, bits.TrailingZeros64(m))
	}
	return out
}
