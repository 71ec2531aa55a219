package model

import (
	"fmt"
	"strings"
)

// names settles the categories that make classes and the numbers used.
func (p *Problem) names(r *resolver, in Input, parts []Part) error {
	add := func(list *[]string, names ...string) {
		for _, n := range names {
			if indexOf(*list, n) < 0 {
				*list = append(*list, n)
			}
		}
	}
	if len(p.Histories.Cohorts) > 1 {
		add(&p.Categories, Cohort)
	}
	var numbers, uses []string
	for _, part := range parts {
		terms := p.TermsOf(part)
		cats, nums, err := r.needs(part, terms)
		if err != nil {
			return err
		}
		add(&p.Categories, cats...)
		add(&numbers, nums...)
		add(part.of().categories(p), cats...)
		// What differs between cohorts at a site differs by cohort.
		for _, n := range terms.Names() {
			f, _ := r.factor(part, n)
			if f.kind != condition {
				continue
			}
			c := in.Conditions[f.index]
			if c.Within > c.Between {
				return fmt.Errorf("%s: %s varies more among the fish of one cohort at a site (standard deviation %.3g) than among the cohorts (%.3g); a cohort's mean says little about its fish. Use shorter release periods as cohorts, or leave %s out", part, n, c.Within, c.Between, n)
			}
			add(&uses, n)
			if len(p.Histories.Cohorts) > 1 {
				add(part.of().categories(p), Cohort)
			}
		}
	}
	for _, c := range in.Conditions {
		if indexOf(uses, c.Name) >= 0 {
			p.Conditions = append(p.Conditions, c)
		}
	}
	where := func(what string, w map[string]string, differs *[]string) error {
		for _, n := range sortedKeys(w) {
			level := w[n]
			if n == Cohort || n == p.Histories.CohortColumn {
				if len(p.Histories.Cohorts) > 1 {
					add(differs, Cohort)
				}
				if indexOf(p.Histories.Cohorts, level) < 0 {
					return fmt.Errorf("%s: there is no cohort %q; there are %s", what, level, strings.Join(p.Histories.Cohorts, ", "))
				}
				continue
			}
			c := p.Histories.Column(n)
			if c == nil || !c.IsCategory() {
				return fmt.Errorf("%s: %q is no category of the fish", what, n)
			}
			if indexOf(c.Levels, level) < 0 {
				return fmt.Errorf("%s: %s has no level %q; there are %s", what, n, level, strings.Join(c.Levels, ", "))
			}
			add(&p.Categories, n)
			add(differs, n)
		}
		return nil
	}
	for _, hold := range in.Holds {
		differs := &p.SurvivalCategories
		if hold.Reach < 0 {
			differs = &p.DetectionCategories
		}
		if err := where("hold", hold.Where, differs); err != nil {
			return err
		}
	}
	for _, t := range in.TestPasses {
		if err := where("test_passes", t.Where, new([]string)); err != nil {
			return err
		}
	}
	for _, n := range p.Categories {
		if n == Cohort {
			p.Levels = append(p.Levels, p.Histories.Cohorts)
		} else {
			p.Levels = append(p.Levels, p.Histories.Column(n).Levels)
		}
	}
	for _, n := range numbers {
		p.Numbers = append(p.Numbers, Number{Name: n})
	}
	r.categories, r.numbers = p.Categories, numbers
	return nil
}

func sortedKeys(m map[string]string) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	sortNames(out)
	return out
}
