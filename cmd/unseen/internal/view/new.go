package view

import (
	"fmt"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/argv"
	"example.org/unseen/history/propose"
)

// shownFiles is of how many files the first records are shown.
const shownFiles = 4

// NewPage says what a proposed study file rests on and what to confirm in it, and
// what is read by it; fault is why nothing can be.
func NewPage(path string, p *propose.Proposal, d *analysis.Data, fault error) Page {
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
			s.Paragraphs = append(s.Paragraphs, fmt.Sprintf("%d. %s", i+1, Sentence(d)))
		}
		page.Sections = append(page.Sections, s)
	}
	if fault != nil {
		page.Sections = append(page.Sections, Section{Heading: "It cannot be read yet", Paragraphs: []string{fault.Error()}})
	} else {
		page.Sections = append(page.Sections, readSection(d))
	}
	page.Sections = append(page.Sections, Section{Paragraphs: []string{"Next: unseen check " + argv.Quoted(path)}})
	return page
}

// readSection says what a proposal makes of the tables.
func readSection(d *analysis.Data) Section {
	a := &d.Accounting
	counted := a.Kept + a.Repeats
	s := Section{Heading: "Read by it", Paragraphs: []string{fmt.Sprintf("%s, and %s, of which %s. The first of each table are shown below as understood.",
		Plural(d.Histories.Len(), "fish", "fish"), Plural(a.Read, "record", "records"), Plural(counted, "is a sighting of them", "are sightings of them"))}}
	for _, b := range a.SetAside {
		if b.Records*20 > a.Read {
			s.Paragraphs = append(s.Paragraphs, fmt.Sprintf("%s set aside: %s, the first %s.", Plural(b.Records, "record is", "records are"), b.Name, b.Example))
		}
	}
	s.Tables = append(s.Tables, firstFish(d, 3))
	first := firstSightings(d)
	s.Tables = append(s.Tables, first[:min(len(first), shownFiles)]...)
	if n := len(first) - shownFiles; n > 0 {
		s.Notes = append(s.Notes, fmt.Sprintf("%s more: unseen new --show FILE shows them.", Plural(n, "file", "files")))
	}
	return s
}
