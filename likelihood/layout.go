// Package likelihood is the probability of detection histories under
// Cormack–Jolly–Seber models: numbers in, numbers out. It knows no file and no
// river; package cjs gives its numbers their names.
//
// A fish alive at site k survives reach k (from site k to k+1) with
// probability S_k and, passing row b, is sighted there with probability p_b,
// all independent. With q = Π(1−p) over the rows of a site, a fish last seen
// at site i is never seen again with probability
//
//	χ_i = 1 − S_i (1 − q_{i+1} χ_{i+1}),  χ = 1 at the last site
//
// (Cormack 1964; Jolly 1965; Seber 1965; in the product form used here
// Burnham et al. 1987, Lebreton et al. 1992). The likelihood is conditional on
// release and leaves the multinomial constant out.
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
	// where they have no part in the likelihood. With it there are two more
	// slots, the last: drift and spread of the migrants.
	Km []float64
	// Resting: a share of the fish may rest after their release.
	Resting bool

	sites    int
	river    int   // slots that are probabilities
	reach    []int // slot → reach it is the survival of, or −1
	row      []int // slot → numbered row it is the detection of, or −1
	survival []int // reach → slot
	detect   []int // numbered row → slot
	firstRow []int // site → first numbered row (site 0: 0)
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
		if len(l.detect)+rows[k] > maxRows {
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

// maxRows is how many rows a [Strand] can tell apart.
const maxRows = 64

// Timed is the layout with the sites' places along the river (km, rising or
// falling), so that times of passage can be part of the likelihood. With
// resting, a share of the fish may rest after their release, see [Layout.Rest].
// Every site needs its place.
func (l *Layout) Timed(km []float64, resting bool) (*Layout, error) {
	if len(km) != l.sites {
		return nil, fmt.Errorf("%d places for %d sites; each has one", len(km), l.sites)
	}
	for k, v := range km {
		if !finite(v) {
			return nil, fmt.Errorf("site %d lies at %v km; times of passage need to know how far it is", k, v)
		}
	}
	return l.moved(km, resting), nil
}

// WithoutRest is a layout with places in which no fish rests.
func (l *Layout) WithoutRest() *Layout { return l.moved(l.Km, false) }

func (l *Layout) moved(km []float64, resting bool) *Layout {
	c := *l
	c.Km, c.Resting = km, resting
	c.reach, c.row = l.reach[:l.river:l.river], l.row[:l.river:l.river]
	for range c.movementSlots() {
		c.reach, c.row = append(c.reach, -1), append(c.row, -1)
	}
	return &c
}

// movementSlots is the number of slots that are of movement.
func (l *Layout) movementSlots() int {
	switch {
	case l.Km == nil:
		return 0
	case l.Resting:
		return 4
	default:
		return 2
	}
}

// movement are the slots of movement, in order.
func (l *Layout) movement() []int {
	out := make([]int, l.movementSlots())
	for i := range out {
		out[i] = l.river + i
	}
	return out
}

// Drift and Spread are the slots of the migrants' speed v (km/day) and spread
// σ (km/√day); −1 in a layout without places.
func (l *Layout) Drift() int { return l.moving(0) }

// Spread: see [Layout.Drift].
func (l *Layout) Spread() int { return l.moving(1) }

// Rest is the slot of the share of fish that rest after their release, RestKm
// that of what they lose by it, as a way in km: they come as if released so
// much farther up, on average RestKm/drift days later, and times over reaches
// still add up. −1 in a layout where no fish rests.
func (l *Layout) Rest() int { return l.moving(2) }

// RestKm: see [Layout.Rest].
func (l *Layout) RestKm() int { return l.moving(3) }

func (l *Layout) moving(i int) int {
	if i >= l.movementSlots() {
		return -1
	}
	return l.river + i
}

// Distance is the way in km from site i to site j.
func (l *Layout) Distance(i, j int) float64 { return math.Abs(l.Km[j] - l.Km[i]) }

// Sites is the number of sites, the first included.
func (l *Layout) Sites() int { return l.sites }

// Slots is the number of probabilities of one fish, with drift and spread.
func (l *Layout) Slots() int { return len(l.reach) }

// RowCount is the number of rows at all sites below the first.
func (l *Layout) RowCount() int { return len(l.detect) }

// Survival is the slot of the survival of reach k.
func (l *Layout) Survival(k int) int { return l.survival[k] }

// Detection is the slot of the detection at numbered row b.
func (l *Layout) Detection(b int) int { return l.detect[b] }

// Reach is the reach slot a is the survival of, or −1.
func (l *Layout) Reach(a int) int { return l.reach[a] }

// Row is the numbered row slot a is the detection of, or −1.
func (l *Layout) Row(a int) int { return l.row[a] }

// Site is the last site at which a fish can enter for slot a to be one of its
// probabilities: where the reach starts, or the one above the row's. Slots of
// movement are of all fish.
func (l *Layout) Site(a int) int {
	if k := l.reach[a]; k >= 0 {
		return k
	}
	b := l.row[a]
	for k := 1; k < l.sites && b >= 0; k++ {
		if b < l.firstRow[k+1] {
			return k - 1
		}
	}
	return l.sites - 1
}

// SiteRows are the first numbered row of site k ≥ 1 and the one past its last.
func (l *Layout) SiteRows(k int) (from, to int) { return l.firstRow[k], l.firstRow[k+1] }
