package cjs

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// warnBoundary names the estimates at 0 or 1.
func (f *Fit) warnBoundary() {
	if len(f.limits) == 0 {
		return
	}
	river := &f.Problem.Histories.River
	var names []string
	for _, s := range f.Survival {
		if s.Status == Boundary {
			n := fmt.Sprintf("survival %s%s is %.0f", river.Reach(s.From), forWords(s.Of), s.Value)
			if s.Raw > 1 {
				n += fmt.Sprintf(" (closed form %.3f)", s.Raw)
			}
			names = append(names, n)
		}
	}
	for _, d := range f.Detection {
		if d.Status == Boundary {
			names = append(names, fmt.Sprintf("detection at %s%s is %.0f", f.rowName(d.Site, d.Row), forWords(d.Of), d.Value))
		}
	}
	if len(names) == 0 {
		return // the fish are parted by a number, of which another warning speaks
	}
	f.warning(WarnBoundary, "estimates", "At the edge of what is possible: %s. That says no more than that the data are compatible with it; read the interval, not the point. The standard errors of the others take these values as known.", list(names, 6))
}

// rowName is a site, or a row of a divided one.
func (f *Fit) rowName(site, row int) string {
	s := &f.Problem.Histories.River.Sites[site]
	if row >= 0 {
		return s.Name + "/" + s.Rows[row]
	}
	return s.Name
}

// warnLimits names the intervals of which an end could not be found.
func (f *Fit) warnLimits() {
	river := &f.Problem.Histories.River
	var names []string
	look := func(what string, of []Category, e *Estimate) {
		if e.Method != "profile" {
			return
		}
		var ends []string
		if math.IsNaN(e.Low) {
			ends = append(ends, "lower")
		}
		if math.IsNaN(e.High) {
			ends = append(ends, "upper")
		}
		if len(ends) > 0 {
			names = append(names, fmt.Sprintf("%s%s (%s end)", what, forWords(of), strings.Join(ends, " and ")))
		}
	}
	for i := range f.Survival {
		s := &f.Survival[i]
		look("survival "+river.Reach(s.From), s.Of, &s.Estimate)
	}
	for i := range f.Detection {
		d := &f.Detection[i]
		look("detection at "+f.rowName(d.Site, d.Row), d.Of, &d.Estimate)
	}
	for i := range f.Products {
		x := &f.Products[i]
		look("survival × detection at "+river.Sites[x.Site].Name, x.Of, &x.Estimate)
	}
	for i := range f.Passed {
		x := &f.Passed[i]
		look("passed "+river.Sites[x.Site].Name, x.Of, &x.PassedShare)
	}
	if len(names) > 0 {
		f.warning(WarnLimit, "estimates", "No limit was found for: %s. The search for a profile limit ended before it could be shown to be one, so that end is left out; the other end holds. Try a simpler model.", list(names, 6))
	}
}

// parted is what a number of the fish parts: the fish of one slot whose
// probability is 0, and those where it is 1, by the number's value.
type parted struct {
	what    string
	numbers []int // into Problem.Numbers
	fish    [2]int
	low     [2]float64 // smallest and largest value of the first number at 0 and at 1
	high    [2]float64
}

// warnSeparated tells where the fish are parted by a number: those on one side
// of some value have probability 0, those on the other 1.
func (f *Fit) warnSeparated() {
	var names, numbers []string
	for a := range f.Problem.Layout.Slots() {
		p := f.partedAt(a)
		if p == nil {
			continue
		}
		var by []string
		for _, n := range p.numbers {
			by = append(by, f.Problem.Numbers[n].Name)
		}
		for _, n := range by {
			if !slices.Contains(numbers, n) {
				numbers = append(numbers, n)
			}
		}
		var sides []string
		for v, n := range p.fish {
			if n == 0 {
				continue
			}
			s := fmt.Sprintf("%d for %d fish", v, n)
			if len(by) == 1 {
				s += fmt.Sprintf(" with %s %s to %s", by[0], short(p.low[v]), short(p.high[v]))
			}
			sides = append(sides, s)
		}
		names = append(names, p.what+" is "+strings.Join(sides, " and "))
	}
	if len(names) > 0 {
		with := strings.Join(numbers, " and ")
		f.warning(WarnSeparated, with, "%s parts the fish completely: %s. How steep its effect is these data cannot say, only which way it goes, so its coefficient has no value; read the intervals, which are by profile likelihood. More fish of the values between would tell, or a model without %s.", with, list(names, 4), with)
	}
}

// partedAt is what slot a parts by a number, nil where nothing.
func (f *Fit) partedAt(a int) *parted {
	p := f.Problem
	l := p.Layout
	var out *parted
	z := constant(p.Design.Numbers)
	for i, g := range p.ClassOf {
		if g < 0 || !f.design.Parts(int(g), a) || int(p.Histories.Entry[i]) > l.Site(a) {
			continue
		}
		for n := range p.Z {
			z[n+1] = p.Z[n][i]
		}
		if f.design.AtLimit(int(g), a, z) == 0 {
			continue
		}
		if out == nil {
			out = &parted{what: f.slotName(a), numbers: f.numbersOf(int(g), a)}
			out.low = [2]float64{math.Inf(1), math.Inf(1)}
			out.high = [2]float64{math.Inf(-1), math.Inf(-1)}
		}
		v := int(f.design.Prob(f.X, int(g), a, z).P)
		out.fish[v] += p.Histories.Weight(i)
		x := p.Histories.Column(p.Numbers[out.numbers[0]].Name).Value[i]
		out.low[v], out.high[v] = min(out.low[v], x), max(out.high[v], x)
	}
	return out
}

func (f *Fit) slotName(a int) string {
	p := f.Problem
	if k := p.Layout.Reach(a); k >= 0 {
		return "survival " + p.Histories.River.Reach(k)
	}
	if b := p.Layout.Row(a); b >= 0 {
		return "detection at " + p.Histories.River.RowLabel(b)
	}
	return "the share that rests"
}

// numbersOf are the numbers of the fish that the predictor of slot a has.
func (f *Fit) numbersOf(g, a int) []int {
	var out []int
	for _, e := range f.Problem.Design.Slots[g][a] {
		for _, n := range f.Problem.Products[e.Number] {
			if !slices.Contains(out, n) {
				out = append(out, n)
			}
		}
	}
	return out
}

func short(v float64) string { return fmt.Sprintf("%.4g", v) }
