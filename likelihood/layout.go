// Package likelihood is the probability of detection histories under
// Cormack–Jolly–Seber models: numbers in, numbers out. It knows no file and no
// river; package cjs gives its numbers their names.
//
// A fish alive at site k survives reach k (from site k to k+1) with
// probability S_k and, passing row b, is detected there with probability p_b,
// all independent. With q = Π(1−p) over the rows of a site, a fish last seen
// at site i is never seen again with probability
//
//	χ_i = 1 − S_i (1 − q_{i+1} χ_{i+1}),  χ = 1 at the last site
//
// (Cormack 1964; Jolly 1965; Seber 1965; in the product form used here
// Burnham et al. 1987, Lebreton et al. 1992). The likelihood is conditional on
// release and leaves the multinomial constant out.
//
// Begin with [NewCJS]; ExampleNewCJS shows a likelihood with its derivatives by
// the coefficients, which are on the scale of each [Link]. Times are in days,
// distances in km.
package likelihood

import (
	"fmt"
	"math"
)

// Layout is the shape of a river: how many sites, and how many rows at each.
//
// The probabilities of one fish are its slots, in the order the fish meets
// them: S_0, the rows of site 1, S_1, the rows of site 2, …
type Layout struct {
	// Rows is the number of rows at each site; Rows[0] is not used (a fish
	// is not detected where it enters).
	Rows []int

	// Km is the place of each site along the river, for times of passage; nil
	// where they have no part in the likelihood. With it there are more slots,
	// the last: drift and spread of the migrants by each law of travel.
	Km []float64
	// Laws[k] is the law by which fish travel reach k: 0 for the first, and
	// for each further one the same or the next. nil: one law for all.
	Laws []int
	// Resting: a share of the fish may rest after their release.
	Resting bool

	sites    int
	river    int     // slots that are probabilities
	reach    []int   // slot → reach it is the survival of, or −1
	row      []int   // slot → numbered row it is the detection of, or −1
	survival []int   // reach → slot
	detect   []int   // numbered row → slot
	firstRow []int   // site → first numbered row (site 0: 0)
	moves    []int   // the slots of movement
	work     []work  // site → when it works; nil: always, see Working
	end      float64 // of the data, in days; with work
}

// NewLayout is the layout of a river with rows[k] rows at site k ≥ 1. There is
// at least one site, each below the first has a row, and all have at most 64.
func NewLayout(rows []int) (*Layout, error) {
	if len(rows) == 0 {
		return nil, fmt.Errorf("a layout needs a site")
	}
	l := &Layout{Rows: rows, sites: len(rows), firstRow: make([]int, len(rows)+1)}
	for k := 1; k < len(rows); k++ {
		if rows[k] < 1 {
			return nil, fmt.Errorf("site %d has %d rows; each below the first has at least one", k, rows[k])
		}
		if rows[k] > maxRows-len(l.detect) {
			return nil, fmt.Errorf("the sites have more than %d rows; the rows a fish was seen at are the bits of one word", maxRows)
		}
		l.survival = append(l.survival, len(l.reach))
		l.reach = append(l.reach, k-1)
		l.row = append(l.row, -1)
		l.firstRow[k] = len(l.detect)
		for range rows[k] {
			l.row = append(l.row, len(l.detect))
			l.detect = append(l.detect, len(l.reach))
			l.reach = append(l.reach, -1)
		}
	}
	l.firstRow[len(rows)] = len(l.detect)
	l.river = len(l.reach)
	return l, nil
}

// maxRows is how many rows a [HistoryGroup] can tell apart.
const maxRows = 64

// Timed is the layout with the sites' places along the river (km, rising or
// falling), so that times of passage can be part of the likelihood. laws: see
// [Layout.Laws]; nil means one. With resting, a share of the fish may rest after
// their release, see [Layout.Rest]. Every site needs its place.
func (l *Layout) Timed(km []float64, laws []int, resting bool) (*Layout, error) {
	if len(km) != l.sites {
		return nil, fmt.Errorf("%d places for %d sites; each has one", len(km), l.sites)
	}
	for k, v := range km {
		if !finite(v) {
			return nil, fmt.Errorf("site %d lies at %v km; times of passage need to know how far it is", k, v)
		}
	}
	if laws != nil && len(laws) != l.sites-1 {
		return nil, fmt.Errorf("%d laws of travel for %d reaches; each has one", len(laws), l.sites-1)
	}
	for k, law := range laws {
		if k == 0 && law != 0 || k > 0 && law != laws[k-1] && law != laws[k-1]+1 {
			return nil, fmt.Errorf("reach %d has law of travel %d; laws count up from 0 along the river", k, law)
		}
	}
	return l.moved(km, laws, resting), nil
}

// WithoutRest is a layout with places in which no fish rests.
func (l *Layout) WithoutRest() *Layout { return l.moved(l.Km, l.Laws, false) }

func (l *Layout) moved(km []float64, laws []int, resting bool) *Layout {
	c := *l
	c.Km, c.Laws, c.Resting, c.moves = km, laws, resting, nil
	c.reach, c.row = l.reach[:l.river:l.river], l.row[:l.river:l.river]
	n := 2 * c.LawCount()
	if resting {
		n += 2
	}
	for i := range n {
		c.moves = append(c.moves, c.river+i)
		c.reach, c.row = append(c.reach, -1), append(c.row, -1)
	}
	return &c
}

// LawCount is the number of laws of travel; 0 in a layout without places.
func (l *Layout) LawCount() int {
	switch {
	case l.Km == nil:
		return 0
	case len(l.Laws) == 0:
		return 1
	}
	return l.Laws[len(l.Laws)-1] + 1
}

// LawOf is the law of travel of reach k; −1 where there is none.
func (l *Layout) LawOf(k int) int {
	if l.Laws == nil {
		return 0
	}
	return at(l.Laws, k, -1)
}

// at is the i-th of a list, or what stands for none.
func at(list []int, i, none int) int {
	if i < 0 || i >= len(list) {
		return none
	}
	return list[i]
}

// Stretch is the sites between which law i holds; −1 where there is none.
func (l *Layout) Stretch(i int) (from, to int) {
	if i < 0 || i >= l.LawCount() {
		return -1, -1
	}
	for l.LawOf(from) < i {
		from++
	}
	to = from + 1
	for to < l.sites-1 && l.LawOf(to) == i {
		to++
	}
	return from, to
}

// movement are the slots of movement, in order: drift and spread of each law,
// and where fish may rest the share that does and the way lost by it.
func (l *Layout) movement() []int { return l.moves }

// Drift and Spread are the slots of the migrants' speed v (km/day) and spread
// σ (km/√day) by law i; −1 where there is none.
func (l *Layout) Drift(i int) int { return l.moving(i >= 0 && i < l.LawCount(), 2*i) }

// Spread: see [Layout.Drift].
func (l *Layout) Spread(i int) int { return l.moving(i >= 0 && i < l.LawCount(), 2*i+1) }

// Rest is the slot of the share of fish that rest after their release, RestKm
// that of what they lose by it, as a way in km: they come as if released so
// much farther up, on average RestKm/drift days later, and times over reaches
// still add up. −1 in a layout where no fish rests.
func (l *Layout) Rest() int { return l.moving(l.Resting, 2*l.LawCount()) }

// RestKm: see [Layout.Rest].
func (l *Layout) RestKm() int { return l.moving(l.Resting, 2*l.LawCount()+1) }

func (l *Layout) moving(there bool, i int) int {
	if !there {
		return -1
	}
	return at(l.moves, i, -1)
}

// Moves tells what a slot of movement is of: drift, spread (of a law) or
// neither.
func (l *Layout) Moves(a int) (law int, drift, spread bool) {
	i := a - l.river
	if i < 0 || i >= 2*l.LawCount() {
		return -1, false, false
	}
	return i / 2, i%2 == 0, i%2 == 1
}

// Distance is the way in km from site i to site j; NaN where it is not known.
func (l *Layout) Distance(i, j int) float64 {
	if min(i, j) < 0 || max(i, j) >= len(l.Km) {
		return math.NaN()
	}
	return math.Abs(l.Km[j] - l.Km[i])
}

// Sites is the number of sites, the first included.
func (l *Layout) Sites() int { return l.sites }

// Slots is the number of probabilities of one fish, with drift and spread.
func (l *Layout) Slots() int { return len(l.reach) }

// RowCount is the number of rows at all sites below the first.
func (l *Layout) RowCount() int { return len(l.detect) }

// Survival is the slot of the survival of reach k, or −1.
func (l *Layout) Survival(k int) int { return at(l.survival, k, -1) }

// Detection is the slot of the detection at numbered row b, or −1.
func (l *Layout) Detection(b int) int { return at(l.detect, b, -1) }

// Reach is the reach slot a is the survival of, or −1.
func (l *Layout) Reach(a int) int { return at(l.reach, a, -1) }

// Row is the numbered row slot a is the detection of, or −1.
func (l *Layout) Row(a int) int { return at(l.row, a, -1) }

// Site is the last site at which a fish can enter for slot a to be one of its
// probabilities: where the reach starts, or the one above the row's. Slots of
// movement are of all fish.
func (l *Layout) Site(a int) int {
	if k := l.Reach(a); k >= 0 {
		return k
	}
	b := l.Row(a)
	for k := 1; k < l.sites && b >= 0; k++ {
		if b < l.firstRow[k+1] {
			return k - 1
		}
	}
	return l.sites - 1
}

// SiteRows are the first numbered row of site k ≥ 1 and the one past its last;
// the same for a site without any.
func (l *Layout) SiteRows(k int) (from, to int) {
	if k < 0 || k >= l.sites {
		return 0, 0
	}
	return l.firstRow[k], l.firstRow[k+1]
}

type spell struct {
	from, to float64
	state    int
}

// work is when the rows of a site were at work.
type work struct {
	// states are the sets of rows at work that occur, as bits of numbered
	// rows; the first is all rows.
	states []uint64
	// spells are the times in another state than the first, in order.
	spells []spell
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
