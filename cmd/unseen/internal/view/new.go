package view

import (
	"fmt"

	"example.org/unseen/history/propose"
)

// NewPage says what a proposed study file rests on and what to confirm in it.
func NewPage(path string, p *propose.Proposal) Page {
	found := Table{Columns: []Column{{Title: "table", Key: true}, {Title: "taken as"}}}
	add := func(name, role string) { found.Rows = append(found.Rows, []Cell{T(name), T(role)}) }
	if p.Fish != "" {
		add(p.Fish, "the fish")
	}
	for _, s := range p.Sightings {
		add(s, "sightings")
	}
	for _, o := range p.Other {
		add(o, "neither; left out")
	}
	page := Page{Title: "Study file written: " + path, Sections: []Section{{Tables: []Table{found}}}}
	if len(p.Doubts) > 0 {
		s := Section{Heading: "To confirm in it"}
		for i, d := range p.Doubts {
			s.Paragraphs = append(s.Paragraphs, fmt.Sprintf("%d. %s", i+1, sentence(d)))
		}
		page.Sections = append(page.Sections, s)
	}
	page.Sections = append(page.Sections, Section{Paragraphs: []string{"Next: unseen check " + path}})
	return page
}
