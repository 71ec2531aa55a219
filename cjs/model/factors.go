package model

import (
	"errors"
	"fmt"
	"math"
	"sort"
	"strings"

	"github.com/agnivade/levenshtein"
)

// factor is a name of a term with what it means in this study.
type factor struct {
	name  string
	kind  kind
	index int // ofClass: category; fishNum: number; condition: which
}

func (f factor) isCategory() bool { return f.kind <= ofClass }

// needs splits the names of terms into fish categories and fish numbers, and
// refuses what the study does not have or the part cannot use.
func (r *resolver) needs(part Part, terms Terms) (categories, numbers []string, err error) {
	for _, n := range terms.Names() {
		f, err := r.factor(part, n)
		if err != nil {
			return nil, nil, &Fault{part, fmt.Errorf("%s %q: %w", part, terms.String(), err), errors.As(err, &unknownName{})}
		}
		switch f.kind {
		case ofClass:
			categories = append(categories, n)
		case fishNum:
			numbers = append(numbers, n)
		}
	}
	return categories, numbers, nil
}

// factor resolves one name.
func (r *resolver) factor(part Part, name string) (factor, error) {
	h := r.h
	m := part.of()
	for _, x := range m.places {
		if x.name == name {
			return factor{name, x.kind, 0}, nil
		}
	}
	switch {
	case name == "reach" || name == "site" || name == "row":
		return factor{}, errors.New(strings.ReplaceAll(m.wrongPlace, "PLACE", name))
	case name == Cohort:
		return factor{name, ofClass, indexOf(r.categories, Cohort)}, nil
	}
	if c := h.Column(name); c != nil {
		if c.IsCategory() {
			return factor{name, ofClass, indexOf(r.categories, name)}, nil
		}
		return factor{name, fishNum, indexOf(r.numbers, name)}, nil
	}
	for i := range r.conditions {
		if r.conditions[i].Name == name && !part.Moves() {
			return factor{name, condition, i}, nil
		}
	}
	for k := range h.River.Sites {
		if _, ok := h.River.Sites[k].Attributes[name]; ok && !part.Moves() {
			return factor{name, siteNum, 0}, r.complete(part, name)
		}
	}
	return factor{}, r.unknown(part, name)
}

// complete checks that an attribute has a value wherever the part needs one.
func (r *resolver) complete(part Part, name string) error {
	for k := 1; k < len(r.h.River.Sites); k++ {
		s := &r.h.River.Sites[k]
		if _, ok := s.Attributes[name]; !ok {
			return fmt.Errorf("site %q has no attribute %s, which is needed for %s", s.Name, name, part.of().there)
		}
	}
	return nil
}

func (r *resolver) unknown(part Part, name string) error {
	have := []string{"same", Cohort}
	for _, x := range part.of().places {
		have = append(have, x.name)
	}
	var own []string
	for i := range r.h.Columns {
		own = append(own, r.h.Columns[i].Name)
	}
	for i := range r.conditions {
		own = append(own, r.conditions[i].Name)
	}
	seen := map[string]bool{}
	for k := range r.h.River.Sites {
		for n := range r.h.River.Sites[k].Attributes {
			if !seen[n] {
				seen[n] = true
				own = append(own, n)
			}
		}
	}
	sort.Strings(own)
	have = append(have, own...)
	msg := fmt.Sprintf("nothing in this study is called %q; there are %s", name, strings.Join(have, ", "))
	best, dist := "", 3
	for _, n := range have {
		if d := levenshtein.ComputeDistance(strings.ToLower(n), strings.ToLower(name)); d < dist {
			best, dist = n, d
		}
	}
	for _, n := range own {
		if best == "" && len(name) > 2 && strings.Contains(strings.ToLower(n), strings.ToLower(name)) {
			best = n // the name without its unit, or one word of it
		}
	}
	if best != "" {
		msg += fmt.Sprintf("; did you mean %s?", best)
	}
	return unknownName{errors.New(msg)}
}

func indexOf(list []string, s string) int {
	for i, v := range list {
		if v == s {
			return i
		}
	}
	return -1
}

// slotNumber is the value of a number of the site or of the cohort at a site.
func (r *resolver) slotNumber(f factor, site, cohort int) (float64, error) {
	if f.kind == siteNum {
		return r.h.River.Sites[site].Attributes[f.name], nil
	}
	v := r.conditions[f.index].Mean[cohort][site]
	if math.IsNaN(v) {
		return 0, fmt.Errorf("%s has no value for cohort %q at %s", f.name, r.h.Cohorts[cohort], r.h.River.Sites[site].Name)
	}
	return v, nil
}
