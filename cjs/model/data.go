package model

import (
	"cmp"
	"math"
	"slices"

	"example.org/unseen/history"
	"example.org/unseen/likelihood"
)

// maxUnits is how many sets of numbers may be kept as counts; beyond it fish
// are kept one by one.
const maxUnits = 20000

// data turns the fish into counts and history groups.
func (p *Problem) data() {
	p.Data = &likelihood.Data{}
	numbers := p.Design.Numbers
	if numbers == 1 {
		for g := range p.Classes {
			p.Data.Units = append(p.Data.Units, p.classUnit(g))
		}
		return
	}
	p.products()
	historyGroups := p.historyGroups()
	if units := p.gather(historyGroups); units != nil {
		p.Data.Units = units
		return
	}
	p.Data.HistoryGroups = historyGroups
	for g := range p.Classes {
		if !p.rowsVary(g) {
			u := p.classUnit(g)
			clear(u.Alive)
			clear(u.Never)
			p.Data.Units = append(p.Data.Units, u)
		}
	}
}

// classUnit is the counts of class g, with the numbers at their mean.
func (p *Problem) classUnit(g int) likelihood.Unit {
	z := make([]float64, p.Design.Numbers)
	z[0] = 1
	u := likelihood.NewUnit(p.Layout, g, z)
	t := &p.Classes[g].Tally
	for k, n := range t.Alive {
		u.Alive[k] = float64(n)
	}
	for b, n := range t.RowSeen {
		u.Seen[b] = float64(n)
		u.Missed[b] = float64(t.RowMissed[b])
	}
	if !p.Timed() {
		for k := range u.Never {
			u.Never[k] = float64(t.Never(k))
		}
	}
	return u
}

// rowsVary tells whether detection differs between fish of class g.
func (p *Problem) rowsVary(g int) bool {
	for b := range p.Layout.RowCount() {
		if p.Design.Varies(g, p.Layout.Detection(b)) {
			return true
		}
	}
	return false
}

// products fills Z with the standardised numbers and their products.
func (p *Problem) products() {
	h := p.Histories
	for _, of := range p.Products[1:] {
		z := make([]float64, h.Len())
		for k, i := range of {
			c := h.Column(p.Numbers[i].Name)
			for f := range z {
				v := p.standard(i, f, c)
				if k == 0 {
					z[f] = v
				} else {
					z[f] *= v
				}
			}
		}
		p.Z = append(p.Z, z)
	}
}

// strandKey tells apart the fish of a class by all but their numbers.
type strandKey struct {
	class, entry, last int
	open               bool
	seen, idle         uint64
}

// historyGroups puts fish of one class and history together; those alike in their
// numbers too are one entry with a weight.
func (p *Problem) historyGroups() []likelihood.HistoryGroup {
	h := p.Histories
	n := h.Len()
	vary := make([]bool, len(p.Classes))
	for g := range vary {
		vary[g] = p.rowsVary(g)
	}
	keys := map[strandKey]int32{}
	var order []strandKey
	var previous strandKey
	previousID := int32(-1)

	size := 1
	for size < 2*n {
		size *= 2
	}
	table := make([]int32, size) // entry + 1
	var of []int32               // entry → history group
	var rep []int32              // entry → a record of it
	var weight []float64
	weighted := false
	for f := range n {
		g := int(p.ClassOf[f])
		if g < 0 {
			continue
		}
		k := strandKey{g, int(h.Entry[f]), p.Last(f), h.End[f] == history.Open && !p.Timed(), 0, 0}
		if vary[g] {
			k.seen, k.idle = h.Seen[f], p.IdleRows(f, k.last)
		}
		id := previousID
		if id < 0 || k != previous {
			var ok bool
			if id, ok = keys[k]; !ok {
				id = int32(len(order))
				keys[k] = id
				order = append(order, k)
			}
			previous, previousID = k, id
		}
		hash := uint64(id) * 0x9E3779B97F4A7C15
		for _, z := range p.Z {
			hash = (hash ^ math.Float64bits(z[f])) * 0xD6E8FEB86659FD93
			hash ^= hash >> 32
		}
		at := hash & uint64(size-1)
		for {
			e := table[at]
			if e == 0 {
				table[at] = int32(len(of) + 1)
				of = append(of, id)
				rep = append(rep, int32(f))
				weight = append(weight, float64(h.Weight(f)))
				weighted = weighted || h.Weight(f) != 1
				break
			}
			if of[e-1] == id && p.sameNumbers(int(rep[e-1]), f) {
				weight[e-1] += float64(h.Weight(f))
				weighted = true
				break
			}
			at = (at + 1) & uint64(size-1)
		}
	}
	sorted := make([]int32, len(order)) // position → history group
	for i := range sorted {
		sorted[i] = int32(i)
	}
	slices.SortFunc(sorted, func(a, b int32) int { return compareKeys(order[a], order[b]) })
	place := make([]int32, len(order))
	out := make([]likelihood.HistoryGroup, len(order))
	for i, id := range sorted {
		place[id] = int32(i)
		k := order[id]
		out[i] = likelihood.HistoryGroup{Class: k.class, Entry: k.entry, Last: k.last, Open: k.open, Seen: k.seen, Idle: k.idle, RowsCounted: !vary[k.class]}
	}
	for _, id := range of {
		out[place[id]].N++
	}
	for i := range out {
		s := &out[i]
		s.Z = make([][]float64, len(p.Z))
		for m := range s.Z {
			s.Z[m] = make([]float64, 0, s.N)
		}
		if weighted {
			s.Weight = make([]float64, 0, s.N)
		}
	}
	for e, id := range of {
		s := &out[place[id]]
		for m, z := range p.Z {
			s.Z[m] = append(s.Z[m], z[rep[e]])
		}
		if weighted {
			s.Weight = append(s.Weight, weight[e])
		}
	}
	return out
}

func (p *Problem) sameNumbers(a, b int) bool {
	for _, z := range p.Z {
		if z[a] != z[b] {
			return false
		}
	}
	return true
}

func compareKeys(a, b strandKey) int {
	for _, d := range []int{a.class - b.class, a.entry - b.entry, a.last - b.last} {
		if d != 0 {
			return d
		}
	}
	if a.open != b.open {
		if b.open {
			return -1
		}
		return 1
	}
	return cmp.Or(cmp.Compare(a.seen, b.seen), cmp.Compare(a.idle, b.idle))
}

// gather puts history groups into counts by class and numbers where few sets of
// numbers occur; nil where it would not pay.
func (p *Problem) gather(historyGroups []likelihood.HistoryGroup) []likelihood.Unit {
	entries := 0
	for i := range historyGroups {
		entries += historyGroups[i].N
	}
	// Where hardly any fish are alike, looking further would be wasted.
	if entries > maxUnits && 2*entries > p.Histories.Len() {
		return nil
	}
	type key struct {
		class int
		z     [likelihood.MaxNumbers]float64
	}
	index := map[key]int{}
	var units []likelihood.Unit
	for i := range historyGroups {
		s := &historyGroups[i]
		for f := range s.N {
			k := key{class: s.Class}
			k.z[0] = 1
			for m := range s.Z {
				k.z[m+1] = s.Z[m][f]
			}
			j, ok := index[k]
			if !ok {
				if len(units) >= maxUnits {
					return nil
				}
				j = len(units)
				index[k] = j
				units = append(units, likelihood.NewUnit(p.Layout, s.Class, append([]float64(nil), k.z[:p.Design.Numbers]...)))
			}
			w := 1.0
			if s.Weight != nil {
				w = s.Weight[f]
			}
			units[j].Add(p.Layout, s.Entry, s.Last, s.Seen, s.Open, false, w)
			if !s.RowsCounted {
				units[j].AddRows(p.Layout, s.Entry, s.Last, s.Seen, s.Idle, w)
			}
		}
	}
	if 2*len(units) > entries {
		return nil
	}
	for g := range p.Classes {
		if !p.rowsVary(g) {
			u := p.classUnit(g)
			clear(u.Alive)
			clear(u.Never)
			units = append(units, u)
		}
	}
	slices.SortStableFunc(units, func(a, b likelihood.Unit) int { return a.Class - b.Class })
	return units
}

// TypicalNumbers are some sets of numbers that fish of class g have, spread
// over the records: enough to tell what could be estimated from all.
func (p *Problem) TypicalNumbers(g int) [][]float64 {
	if p.Check() != nil {
		return nil
	}
	n := p.Design.Numbers
	if n == 1 {
		return [][]float64{{1}}
	}
	var of []int
	for f, c := range p.ClassOf {
		if int(c) == g {
			of = append(of, f)
		}
	}
	want := min(len(of), 3*n)
	var out [][]float64
	for i := range want {
		z := []float64{1}
		for _, col := range p.Z {
			z = append(z, col[of[i*len(of)/want]])
		}
		out = append(out, z)
	}
	return out
}

// TestUnits are the counts that are of test tags, not of fish.
func (p *Problem) TestUnits() []likelihood.Unit {
	if p.Check() != nil || p.testUnits > len(p.Data.Units) {
		return nil
	}
	return p.Data.Units[len(p.Data.Units)-p.testUnits:]
}

// NumbersAt are the design's numbers of a fish whose number i has value v, in
// its own unit, and whose others are at their mean: columns of one value each.
func (p *Problem) NumbersAt(i int, v float64) [][]float64 {
	if len(p.Products) == 0 {
		return nil
	}
	z := make([][]float64, len(p.Products)-1)
	for n, of := range p.Products[1:] {
		x := 1.0
		for _, m := range of {
			if m == i {
				x *= (v - p.Numbers[m].Mean) / p.Numbers[m].SD
			} else {
				x = 0
			}
		}
		z[n] = []float64{x}
	}
	return z
}
