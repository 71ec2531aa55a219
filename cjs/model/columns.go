package model

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"example.org/unseen/likelihood"
)

// columns makes the coefficients of a part and their entries.
//
// Terms with the same numbers (none, one, a product) share a block of
// categories: of several sets of categories the first gets a value for every
// combination of levels that occurs, the later ones the contrasts that are
// not in the span of those before.
func (p *Problem) columns(r *resolver, part Part) error {
	terms := p.TermsOf(part)
	type block struct {
		numbers []factor
		sets    [][]factor
	}
	var blocks []*block
	addSet := func(numbers, cats []factor) {
		var b *block
		for _, x := range blocks {
			if sameFactors(x.numbers, numbers) {
				b = x
			}
		}
		if b == nil {
			b = &block{numbers: numbers}
			blocks = append(blocks, b)
		}
		for i, s := range b.sets {
			if hasAll(s, cats) {
				return
			}
			if hasAll(cats, s) {
				b.sets[i] = cats
				return
			}
		}
		b.sets = append(b.sets, cats)
	}
	addSet(nil, nil)
	for _, term := range terms {
		var cats, nums []factor
		for _, n := range term {
			f, err := r.factor(part, n)
			if err != nil {
				return fmt.Errorf("%s %q: %w", part, terms.String(), err)
			}
			if f.isCategory() {
				cats = append(cats, f)
			} else {
				nums = append(nums, f)
			}
		}
		// Every product of numbers implies the products within it.
		for m := range 1 << len(nums) {
			var sub []factor
			for i, f := range nums {
				if m>>i&1 == 1 {
					sub = append(sub, f)
				}
			}
			addSet(sub, cats)
		}
	}
	sort.SliceStable(blocks, func(i, j int) bool { return len(blocks[i].numbers) < len(blocks[j].numbers) })
	for _, b := range blocks {
		if err := p.block(r, part, b.numbers, dropContained(b.sets)); err != nil {
			return err
		}
	}
	return nil
}

func sameFactors(a, b []factor) bool { return len(a) == len(b) && hasAll(a, b) }

func hasAll(a, b []factor) bool {
	for _, x := range b {
		found := false
		for _, y := range a {
			found = found || x == y
		}
		if !found {
			return false
		}
	}
	return true
}

// dropContained leaves out sets that another contains.
func dropContained(sets [][]factor) [][]factor {
	var out [][]factor
	for i, a := range sets {
		contained := false
		for j, b := range sets {
			contained = contained || i != j && hasAll(b, a) && (len(b) > len(a) || j < i)
		}
		if !contained {
			out = append(out, a)
		}
	}
	return out
}

// cell is one combination of levels and the (class, slot) pairs it holds for.
type cell struct {
	levels []int
	label  string
	first  bool // holds the first level of a category
	where  []place
}

type place struct{ class, slot int }

// block adds the coefficients of one product of numbers.
func (p *Problem) block(r *resolver, part Part, numbers []factor, sets [][]factor) error {
	var places []place
	for g := range p.Classes {
		for a := range p.Layout.Slots() {
			if p.PartOf(a) == part && p.Design.Links[g][a].Kind != likelihood.Fixed {
				places = append(places, place{g, a})
			}
		}
	}
	number, scale, names := p.product(numbers)
	values, sd, err := p.slotValues(r, places, numbers)
	if err != nil {
		return fmt.Errorf("%s: %w", part, err)
	}
	span := &span{}
	for i, set := range sets {
		cells := p.cells(set, places)
		against := ""
		if i > 0 {
			// Contrasts are measured against the first level.
			sort.SliceStable(cells, func(x, y int) bool { return !cells[x].first && cells[y].first })
		}
		for _, c := range cells {
			if len(sets) > 1 && !span.add(c.where, len(p.Classes), p.Layout.Slots()) {
				continue
			}
			if i > 0 {
				against = p.firstLevels(set)
			}
			label := strings.Join(append(append([]string{}, names...), c.label), " by ")
			if c.label == "" {
				label = strings.Join(names, " by ")
				if label == "" {
					label = "same"
				}
			}
			col := len(p.Columns)
			p.Columns = append(p.Columns, Column{Part: part, Term: label, Against: against, Scale: scale, Numeric: len(numbers) > 0, SlotSD: sd})
			for _, w := range c.where {
				v := values[w]
				if v != 0 {
					p.Design.Slots[w.class][w.slot] = append(p.Design.Slots[w.class][w.slot], likelihood.Entry{Column: col, Number: number, Value: v})
				}
			}
		}
	}
	return nil
}

// product finds or adds the design's number for the fish numbers among
// numbers, with the scale from standardised to own units.
func (p *Problem) product(numbers []factor) (index int, scale float64, names []string) {
	var of []int
	scale = 1
	for _, f := range numbers {
		names = append(names, quoteName(f.name))
		if f.kind == fishNum {
			of = append(of, f.index)
			scale /= p.Numbers[f.index].SD
		}
	}
	for i, have := range p.Products {
		if len(have) == len(of) {
			same := true
			for j := range of {
				same = same && have[j] == of[j]
			}
			if same {
				return i, scale, names
			}
		}
	}
	p.Products = append(p.Products, of)
	return len(p.Products) - 1, scale, names
}

// slotValues is the product of the site and cohort numbers at each place, and
// its standard deviation over the places.
func (p *Problem) slotValues(r *resolver, places []place, numbers []factor) (map[place]float64, float64, error) {
	values := make(map[place]float64, len(places))
	cohort := indexOf(p.Categories, Cohort)
	slotted := false
	var sum, sq float64
	for _, w := range places {
		v := 1.0
		for _, f := range numbers {
			if f.kind == fishNum {
				continue
			}
			site := p.Site(w.slot)
			slotted = true
			c := 0
			if cohort >= 0 {
				c = p.Classes[w.class].Level[cohort]
			}
			x, err := r.slotNumber(f, site, c)
			if err != nil {
				return nil, 0, err
			}
			v *= x
		}
		values[w] = v
		sum += v
		sq += v * v
	}
	if !slotted || len(places) < 2 {
		return values, 1, nil
	}
	n := float64(len(places))
	return values, math.Sqrt(max(0, (sq-sum*sum/n)/(n-1))), nil
}

// Site is the site a slot is about: for survival the one its reach ends at.
func (p *Problem) Site(a int) int {
	if p.Layout == nil || p.Histories == nil {
		return 0
	}
	if k := p.Layout.Reach(a); k >= 0 {
		return k + 1
	}
	if p.Layout.Row(a) < 0 {
		return 0
	}
	return p.Histories.River.SiteOfRow()[p.Layout.Row(a)]
}

// cells are the combinations of levels of set that occur, in order of levels.
func (p *Problem) cells(set []factor, places []place) []*cell {
	index := map[string]*cell{}
	var out []*cell
	levels := make([]int, len(set))
	for _, w := range places {
		for i, f := range set {
			levels[i] = p.level(f, w)
		}
		key := fmt.Sprint(levels)
		c := index[key]
		if c == nil {
			c = &cell{levels: append([]int(nil), levels...)}
			parts := make([]string, len(set))
			for i, f := range set {
				parts[i] = f.name + " " + p.levelName(f, levels[i])
				c.first = c.first || levels[i] == 0
			}
			c.label = strings.Join(parts, " by ")
			index[key] = c
			out = append(out, c)
		}
		c.where = append(c.where, w)
	}
	sort.SliceStable(out, func(i, j int) bool {
		for k := range set {
			if out[i].levels[k] != out[j].levels[k] {
				return out[i].levels[k] < out[j].levels[k]
			}
		}
		return false
	})
	return out
}

func (p *Problem) level(f factor, w place) int {
	switch f.kind {
	case byReach:
		return p.Layout.Reach(w.slot)
	case bySite:
		return p.Site(w.slot) - 1
	case byRow:
		return p.Layout.Row(w.slot)
	case byStretch:
		law, _, _ := p.Layout.Moves(w.slot)
		return law
	default:
		return p.Classes[w.class].Level[f.index]
	}
}

func (p *Problem) levelName(f factor, level int) string {
	river := &p.Histories.River
	switch f.kind {
	case byReach:
		return river.Reach(level)
	case bySite:
		return river.Sites[level+1].Name
	case byRow:
		return river.RowLabel(level)
	case byStretch:
		from, to := p.Layout.Stretch(level)
		return river.Sites[from].Name + " to " + river.Sites[to].Name
	default:
		return p.Levels[f.index][level]
	}
}

func (p *Problem) firstLevels(set []factor) string {
	parts := make([]string, len(set))
	for i, f := range set {
		parts[i] = p.levelName(f, 0)
	}
	return strings.Join(parts, ", ")
}

// span keeps an orthonormal basis of the columns taken so far.
type span struct{ basis [][]float64 }

// add tells whether the indicator of where is outside the span, and takes it in.
func (s *span) add(where []place, classes, slots int) bool {
	v := make([]float64, classes*slots)
	for _, w := range where {
		v[w.class*slots+w.slot] = 1
	}
	norm := math.Sqrt(float64(len(where)))
	// Twice, so that rounding of the first pass does not stay.
	for range 2 {
		for _, b := range s.basis {
			var dot float64
			for i, x := range v {
				dot += x * b[i]
			}
			for i := range v {
				v[i] -= dot * b[i]
			}
		}
	}
	var rest float64
	for _, x := range v {
		rest += x * x
	}
	rest = math.Sqrt(rest)
	if rest < 1e-9*norm {
		return false
	}
	for i := range v {
		v[i] /= rest
	}
	s.basis = append(s.basis, v)
	return true
}
