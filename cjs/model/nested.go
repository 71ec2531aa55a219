package model

import (
	"slices"
	"time"
)

// Within tells whether p's model is a special case of q's: built on the same
// input, with the same links, and every term within one of q's. A number of a
// site is within reach, site and row; a number of a cohort at a site within
// these by cohort.
func (p *Problem) Within(q *Problem) bool {
	if p.Check() != nil || q.Check() != nil {
		return false
	}
	for _, part := range Parts() {
		if p.Spec.Link(part) != q.Spec.Link(part) || !p.termsWithin(part, p.TermsOf(part), q.TermsOf(part)) {
			return false
		}
	}
	// That none rest is no inner point of a model with rest.
	return p.AsOf == q.AsOf && p.Layout.Resting == q.Layout.Resting
}

// Same tells whether p's model is q's, built on the same input: the same
// terms, links and parts.
func (p *Problem) Same(q *Problem) bool {
	if p.Check() != nil || q.Check() != nil {
		return false
	}
	for _, part := range Parts() {
		if !p.TermsOf(part).Equal(q.TermsOf(part)) || p.Spec.Link(part) != q.Spec.Link(part) {
			return false
		}
	}
	return p.Layout.Resting == q.Layout.Resting
}

func (p *Problem) termsWithin(part Part, a, b Terms) bool {
	for _, x := range a {
		found := false
		for _, y := range b {
			found = found || p.termWithin(part, x, y)
		}
		if !found {
			return false
		}
	}
	return true
}

func (p *Problem) termWithin(part Part, a, b []string) bool {
	place := indexOf(b, "row") >= 0 || indexOf(b, "site") >= 0 || part == Survival && indexOf(b, "reach") >= 0
	for _, n := range a {
		switch {
		case indexOf(b, n) >= 0:
		case n == "site" && indexOf(b, "row") >= 0:
		case p.isCondition(n) && place && indexOf(b, Cohort) >= 0:
		case p.isAttribute(n) && place:
		default:
			return false
		}
	}
	return true
}

func (p *Problem) isCondition(name string) bool {
	for _, c := range p.Conditions {
		if c.Name == name {
			return true
		}
	}
	return false
}

func (p *Problem) isAttribute(name string) bool {
	if p.Histories.Column(name) != nil || p.isCondition(name) {
		return false
	}
	for k := range p.Histories.River.Sites {
		if _, ok := p.Histories.River.Sites[k].Attributes[name]; ok {
			return true
		}
	}
	return false
}

// For is in for a comparison of specs: all have the same fish, those that lack
// no value that one of them uses.
func (in Input) For(specs []Spec) Input {
	in.Also = slices.Clone(in.Also)
	for _, s := range specs {
		for _, n := range in.FishColumns(s) {
			if !slices.Contains(in.Also, n) {
				in.Also = append(in.Also, n)
			}
		}
	}
	return in
}

// SeasonOver is in as if the season were over, with the fish that the spec has
// while it runs: those without a number of drift, spread or rest stay left out.
func (in Input) SeasonOver(spec Spec) Input {
	in = in.For([]Spec{spec})
	in.AsOf, in.Working = time.Time{}, nil
	return in
}

// FishColumns are the columns of the fish that spec's terms use, in whichever
// of its parts; names that are not columns are passed over, as are terms that
// cannot be read, and parts that matter only while the season runs when it is over.
func (in Input) FishColumns(spec Spec) []string {
	var out []string
	for _, part := range Parts() {
		if part.Moves() && in.AsOf.IsZero() && in.Working == nil {
			continue
		}
		terms, err := Parse(spec.Terms(part))
		if err != nil {
			continue
		}
		for _, n := range terms.Names() {
			if in.Histories.Column(n) != nil && indexOf(out, n) < 0 {
				out = append(out, n)
			}
		}
	}
	return out
}
