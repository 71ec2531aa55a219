// Package assess puts the model behind every other to the test: each cohort
// with its own survival in every reach and its own detection at every row. If
// that model does not hold, no simpler one does.
//
// The model says that what becomes of a fish does not depend on what became of
// it before. So fish at the same site are split by their past and compared by
// their future, in contingency tables (Burnham et al. 1987, American Fisheries
// Society Monograph 5; Pradel 1993, Biometrics 49:887–893). The names of the
// tables are ours.
//
// Begin with [Check]; ExampleCheck shows it. A result has chi-squares, degrees
// of freedom and probabilities from 0 to 1; the variance inflation is a factor.
package assess

import (
	"fmt"
	"slices"
	"strings"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// Options of a check. The zero value is the documented default.
type Options struct {
	// Categories names columns of the fish that the model tells apart
	// besides the cohort; nil means none. Fish that lack one are left out.
	Categories []string
}

// Check tests the model cohort by reach by row on h. Errors are the user's: a
// category that is not there.
func Check(h *history.Histories, opt Options) (*Result, error) {
	if err := h.Check(); err != nil {
		return nil, err
	}
	type key struct {
		of    string
		level []int32
	}
	var levels [][]int32
	var words [][]string
	var columns []string
	if len(h.Cohorts) > 1 {
		columns, levels, words = append(columns, model.Cohort), append(levels, h.Cohort), append(words, h.Cohorts)
	}
	for _, name := range opt.Categories {
		if name == model.Cohort || name == h.CohortColumn && name != "" || slices.Contains(columns, name) {
			continue
		}
		c := h.Column(name)
		if c == nil || !c.IsCategory() {
			var have []string
			for i := range h.Columns {
				if h.Columns[i].IsCategory() {
					have = append(have, h.Columns[i].Name)
				}
			}
			if len(have) == 0 {
				return nil, fmt.Errorf("%q is no category of the fish; they have none", name)
			}
			return nil, fmt.Errorf("%q is no category of the fish; there are %s%s", name, strings.Join(have, ", "), history.Propose(name, have))
		}
		columns, levels, words = append(columns, name), append(levels, c.Level), append(words, c.Levels)
	}
	index := map[string]int{}
	var used []key
	classOf := make([]int32, h.Len())
	leftOut := 0
	at := make([]byte, 4*len(levels))
	previous, last := -1, ""
records:
	for i := range h.Len() {
		for c, l := range levels {
			v := l[i]
			if v < 0 {
				classOf[i] = -1
				leftOut += h.Weight(i)
				continue records
			}
			at[4*c], at[4*c+1], at[4*c+2], at[4*c+3] = byte(v>>24), byte(v>>16), byte(v>>8), byte(v)
		}
		if previous < 0 || string(at) != last {
			last = string(at)
			g, ok := index[last]
			if !ok {
				g = len(used)
				index[last] = g
				k := key{of: last}
				for _, l := range levels {
					k.level = append(k.level, l[i])
				}
				used = append(used, k)
			}
			previous = g
		}
		classOf[i] = int32(previous)
	}
	// Classes stand in the order of their levels, whatever the order of fish.
	slices.SortFunc(used, func(a, b key) int { return strings.Compare(a.of, b.of) })
	place := make([]int32, len(used))
	of := make([][]cjs.Category, len(used))
	for g, k := range used {
		place[index[k.of]] = int32(g)
		for c, v := range k.level {
			of[g] = append(of[g], cjs.Category{Name: columns[c], Level: words[c][v]})
		}
	}
	for i, g := range classOf {
		if g >= 0 {
			classOf[i] = place[g]
		}
	}
	r := check(h, classOf, of, nil)
	r.LeftOut = leftOut
	return r, nil
}

// OfModel is [Check] for the fish, the cohorts and the categories of a model; empty
// of a problem that model.Build did not make.
func OfModel(p *model.Problem) *Result {
	if p.Check() != nil {
		return &Result{}
	}
	of := make([][]cjs.Category, len(p.Classes))
	for g := range of {
		for c, v := range p.Classes[g].Level {
			of[g] = append(of[g], cjs.Category{Name: p.Categories[c], Level: p.Levels[c][v]})
		}
	}
	r := check(p.Histories, p.ClassOf, of, p.Outages())
	r.LeftOut = p.Dropped
	r.BeforeCovariates = len(p.Numbers) > 0
	return r
}

// OfModels is [OfModel] for several models of the same fish: those that have
// all the values that one of the models uses, told apart by every category of
// any. With one model it is the same.
func OfModels(in model.Input, specs []model.Spec) (*Result, error) {
	if err := in.Histories.Check(); err != nil {
		return nil, err
	}
	in = in.For(specs)
	var all model.Terms
	numbers := false
	for _, name := range in.Also {
		if c := in.Histories.Column(name); c == nil || c.IsCategory() {
			all = append(all, []string{name})
		} else {
			numbers = true
		}
	}
	p, err := model.Build(in, model.Spec{Survival: all.String(), Detection: "same"})
	if err != nil {
		return nil, err
	}
	r := OfModel(p)
	r.BeforeCovariates = numbers
	return r, nil
}

// check tests fish by their classes.
func check(h *history.Histories, classOf []int32, of [][]cjs.Category, o *model.Outages) *Result {
	r := &Result{River: &h.River}
	sums := count(h, classOf, len(of), o)
	for i, e := range h.End {
		r.Reduced = r.Reduced || e == history.Continued || !h.New(i)
	}
	byID := map[string][]Table{}
	for g := range of {
		b := &builder{river: &h.River, of: of[g], class: g, sums: &sums[g], reduced: r.Reduced, outages: o, out: byID}
		b.build()
	}
	classes := make([]ClassSum, len(of))
	for g := range of {
		classes[g].Of = of[g]
	}
	for _, n := range names {
		c := Component{ID: n.id, Name: n.name, Why: r.why(n.id, byID)}
		for _, t := range byID[n.id] {
			c.Tables = append(c.Tables, len(r.Tables))
			r.Tables = append(r.Tables, t)
			c.add(&t)
			r.Total.add(&t)
			classes[t.class].add(&t)
			if t.Counted {
				r.Tested++
				r.ByChance += t.ByChance
				if below(t.P) {
					r.BelowLevel++
				}
			}
		}
		c.settle()
		if n.id == RowsIndependent && len(c.Tables) == 0 {
			continue // no site is divided
		}
		r.Components = append(r.Components, c)
	}
	for g := range classes {
		classes[g].settle()
	}
	r.Classes = classes
	r.Total.settle()
	if len(of) > 1 {
		r.Likeness = likeness(&h.River, of, sums, o)
	}
	return r
}

// why says why a check has no table.
func (r *Result) why(id string, have map[string][]Table) string {
	if len(have[id]) > 0 {
		return ""
	}
	sites := len(r.River.Sites)
	switch id {
	case NewlySeenAgain, NewlyWhereNext:
		if r.Reduced {
			return "a next-seen table does not tell newly tagged fish from those detected before"
		}
		return "no fish were newly tagged below the first site, with a site farther down"
	case EarlierSeenAgain, EarlierWhereNext:
		switch {
		case r.Reduced:
			return "a next-seen table does not tell where fish were detected before"
		case len(have[NewlySeenAgain]) > 0:
			return "newly tagged fish are compared with those detected before in its place"
		case id == EarlierWhereNext:
			return fmt.Sprintf("it needs a release site and four sites below; there are %d", max(0, sites-1))
		}
		return fmt.Sprintf("it needs a release site and three sites below; there are %d", max(0, sites-1))
	case UnseenNextSeen:
		return fmt.Sprintf("it needs a release site and three sites below; there are %d", max(0, sites-1))
	case UnseenWhereLater:
		return fmt.Sprintf("it needs a release site and four sites below; there are %d", max(0, sites-1))
	}
	return ""
}
