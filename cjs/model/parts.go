package model

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"example.org/unseen/history/study"
	"example.org/unseen/likelihood"
)

const (
	Survival  Part = "survival"  // of the reaches
	Detection Part = "detection" // at the rows
	// Drift and Spread are the migrants' speed (km/day) and how they spread
	// (km/√day); only while the season runs, see [Input.AsOf].
	Drift  Part = "drift"
	Spread Part = "spread" // of distance moved, km/√day
	// Rest is the share of fish that rest after their release before they
	// start, RestKm the way they lose by it; only where [Spec.Rest] asks.
	Rest   Part = "rest"
	RestKm Part = "way lost by rest" // extra distance before the release site of fish that depart late, km
)

// meaning is what a part means to the likelihood: the one table from which
// designs, links, screens and comparisons are made. A further part is a row
// here, one of [study.Parts], and a field of [Spec].
type meaning struct {
	part Part
	// terms and link are where a spec has them; nil where it has none.
	terms, link func(s *Spec) *string
	// fallback are the terms where none are given.
	fallback string
	// kinds are those of the links of [study.Part], in their order; of a part
	// without a choice, its one.
	kinds []likelihood.LinkKind
	// has tells whether slot a is of the part.
	has func(l *likelihood.Layout, a int) bool
	// places are the names of places it can differ by; wrongPlace says what is
	// to be done with another (PLACE), and there what an attribute of a site is needed for.
	places            []placeName
	wrongPlace, there string
	// categories are those it differs by.
	categories func(p *Problem) *[]string
}

// placeName is the name of a place with what it is as a factor.
type placeName struct {
	name string
	kind kind
}

// ofFish: what is of the fish adds up over reaches only if it does not change.
const ofFish = " is of the fish, the same in all reaches: only then do times over reaches add up; use the cohort or columns of the fish"

// ofTravel: a law of travel is of a stretch of river.
const ofTravel = " is about the fish and the reach; use reach, the cohort or columns of the fish"

func survivalCategories(p *Problem) *[]string  { return &p.SurvivalCategories }
func detectionCategories(p *Problem) *[]string { return &p.DetectionCategories }
func movementCategories(p *Problem) *[]string  { return &p.MovementCategories }

var meanings = []meaning{
	{part: Survival, fallback: "reach by cohort", kinds: []likelihood.LinkKind{likelihood.Logit, likelihood.Linear, likelihood.Rate, likelihood.Rate},
		terms: func(s *Spec) *string { return &s.Survival }, link: func(s *Spec) *string { return &s.SurvivalLink },
		has:    func(l *likelihood.Layout, a int) bool { return l.Reach(a) >= 0 },
		places: []placeName{{"reach", byReach}}, wrongPlace: "survival is about reaches; write reach instead of PLACE",
		there: "survival of the reach that ends there", categories: survivalCategories},
	{part: Detection, fallback: "row", kinds: []likelihood.LinkKind{likelihood.Logit, likelihood.Linear, likelihood.CLogLog},
		terms: func(s *Spec) *string { return &s.Detection }, link: func(s *Spec) *string { return &s.DetectionLink },
		has:    func(l *likelihood.Layout, a int) bool { return l.Row(a) >= 0 },
		places: []placeName{{"site", bySite}, {"row", byRow}}, wrongPlace: "detection is about sites and rows; write site or row instead of PLACE",
		there: "detection there", categories: detectionCategories},
	{part: Drift, fallback: "same", kinds: []likelihood.LinkKind{likelihood.Log},
		terms:  func(s *Spec) *string { return &s.Drift },
		has:    func(l *likelihood.Layout, a int) bool { _, drift, _ := l.Moves(a); return drift },
		places: []placeName{{"reach", byStretch}}, wrongPlace: "drift" + ofTravel, categories: movementCategories},
	{part: Spread, fallback: "same", kinds: []likelihood.LinkKind{likelihood.Log},
		terms:  func(s *Spec) *string { return &s.Spread },
		has:    func(l *likelihood.Layout, a int) bool { _, _, spread := l.Moves(a); return spread },
		places: []placeName{{"reach", byStretch}}, wrongPlace: "spread" + ofTravel, categories: movementCategories},
	{part: Rest, kinds: []likelihood.LinkKind{likelihood.Logit},
		terms: func(s *Spec) *string { return &s.Rest }, wrongPlace: "rest" + ofFish,
		has: func(l *likelihood.Layout, a int) bool { return a == l.Rest() }, categories: movementCategories},
	// One way lost by all that rest: it has no terms.
	{part: RestKm, kinds: []likelihood.LinkKind{likelihood.Log},
		has: func(l *likelihood.Layout, a int) bool { return a == l.RestKm() }, categories: movementCategories},
}

// of is the meaning of a part.
func (p Part) of() *meaning {
	for i := range meanings {
		if meanings[i].part == p {
			return &meanings[i]
		}
	}
	return &meaning{part: p}
}

// row is the part's row of [study.Parts]; without a key where it has none.
func (p Part) row() study.Part {
	for _, x := range study.Parts {
		if x.Key == string(p) {
			return x
		}
	}
	return study.Part{}
}

// Parts are the parts that have terms, in the order in which they are shown.
func Parts() []Part {
	out := make([]Part, len(study.Parts))
	for i := range study.Parts {
		out[i] = Part(study.Parts[i].Key)
	}
	return out
}

// Moves tells whether the part is of how fish move, not of where they are.
func (p Part) Moves() bool { return p != Survival && p != Detection }

// Terms are the terms of a part that the spec asks for; "" is the default.
func (s *Spec) Terms(p Part) string {
	if f := p.of().terms; f != nil {
		return *f(s)
	}
	return ""
}

// SetTerms asks for terms of a part that has some.
func (s *Spec) SetTerms(p Part, terms string) {
	if f := p.of().terms; f != nil {
		*f(s) = terms
	}
}

// Link is the link of a part, by its default where the spec asks for none; ""
// where the part has no choice.
func (s *Spec) Link(p Part) string {
	f := p.of().link
	if f == nil {
		return ""
	}
	return cmp.Or(*f(s), p.row().Links[0])
}

// SetLink asks for a link of a part that has a choice.
func (s *Spec) SetLink(p Part, link string) {
	if f := p.of().link; f != nil {
		*f(s) = link
	}
}

// kind is the kind of the part's link under the spec.
func (s *Spec) kind(p Part) (likelihood.LinkKind, error) {
	m := p.of()
	if len(m.kinds) == 0 {
		return 0, fmt.Errorf("a model has no part %q", p)
	}
	if m.link == nil {
		return m.kinds[0], nil
	}
	links := p.row().Links
	i := slices.Index(links, s.Link(p))
	if i < 0 {
		return 0, &Fault{p, fmt.Errorf("%s link %q: there are %s", p, s.Link(p), strings.Join(links, ", ")), true}
	}
	return m.kinds[i], nil
}

// Parts are the parts of the problem that have coefficients, in order.
func (p *Problem) Parts() []Part {
	var out []Part
	if p.Layout == nil {
		return nil
	}
	for i := range meanings {
		for a := range p.Layout.Slots() {
			if meanings[i].has(p.Layout, a) {
				out = append(out, meanings[i].part)
				break
			}
		}
	}
	return out
}

// PartOf is the part that slot a of the design belongs to.
func (p *Problem) PartOf(a int) Part {
	if p.Layout == nil || a < 0 || a >= p.Layout.Slots() {
		return ""
	}
	for i := range meanings {
		if meanings[i].has(p.Layout, a) {
			return meanings[i].part
		}
	}
	return ""
}

// TermsOf are the terms of a part.
func (p *Problem) TermsOf(part Part) Terms { return p.terms[part] }

// Kind is the kind of the links of a part.
func (p *Problem) Kind(part Part) likelihood.LinkKind {
	k, _ := p.Spec.kind(part) // refused when the problem was built
	return k
}

// readTerms reads the terms of the parts, with the defaults where none are given.
func (p *Problem) readTerms() error {
	p.terms = map[Part]Terms{}
	for _, part := range p.Parts() {
		m := part.of()
		if m.terms == nil {
			continue
		}
		words := m.terms(&p.Spec)
		*words = cmp.Or(*words, m.fallback)
		t, err := p.parse(*words)
		if err != nil {
			return &Fault{part, fmt.Errorf("%s: %w", part, err), true}
		}
		// Where no site is divided, site and row are the same.
		if part == Detection && p.Layout.RowCount() == p.Layout.Sites()-1 {
			t = t.renamed("row", "site")
		}
		p.terms[part] = t
	}
	return nil
}

// Canonical is the spec of the problem with its terms in canonical form; parts
// it does not have have none.
func (p *Problem) Canonical() Spec {
	s := p.Spec
	for _, part := range Parts() {
		s.SetTerms(part, "")
	}
	for part, t := range p.terms {
		s.SetTerms(part, t.String())
	}
	return s
}

// Flags are the spec as it is asked for on the command line, its terms and the
// links that are not the default: --survival "reach + cohort" --detection site.
func (s *Spec) Flags() string {
	var out []string
	add := func(flag, value string) {
		if strings.ContainsAny(value, ` "`) {
			value = `"` + strings.ReplaceAll(value, `"`, `\"`) + `"`
		}
		out = append(out, "--"+flag+" "+value)
	}
	for _, part := range Parts() {
		row := part.row()
		if terms := s.Terms(part); terms != "" {
			add(row.Key, terms)
		}
		if link := s.Link(part); link != "" && link != row.Links[0] {
			add(row.LinkFlag(), link)
		}
	}
	return strings.Join(out, " ")
}

// Words is the model as shown on screen.
func (p *Problem) Words() string { return p.words(func(Part) string { return "" }) }

// WordsWithLinks is the model as shown on screen, with the links that are not
// the default.
func (p *Problem) WordsWithLinks() string {
	return p.words(func(part Part) string {
		if l := p.Spec.Link(part); l != "" && l != part.row().Links[0] {
			return " (" + l + ")"
		}
		return ""
	})
}

func (p *Problem) words(after func(Part) string) string {
	var out []string
	for _, part := range p.Parts() {
		if part.of().terms != nil {
			out = append(out, fmt.Sprintf("%s: %s%s", part, p.terms[part], after(part)))
		}
	}
	return strings.Join(out, " · ")
}
