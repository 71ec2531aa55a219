package wire

import (
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/history"
	"example.org/unseen/history/propose"
)

// New is the document of `unseen new`.
type New struct {
	Head
	Study string `json:"study"` // the study file that was written
	// what each table was taken for
	Tables []FoundTable `json:"tables"`
	// what is to be confirmed, in words
	Doubts []string `json:"doubts" schema:"words"`
	// why the tables cannot be read by the study file yet; null where they can
	Fault *string `json:"fault" schema:"words"`
	// fish read by it; null where the tables cannot be read
	Fish *int `json:"fish"`
	// where every record ended, as of check
	Accounting *history.Accounting `json:"accounting"`
	// as of check
	Findings []history.Finding `json:"findings"`
}

// FoundTable is a table that was looked at.
type FoundTable struct {
	File string `json:"file"`
	As   string `json:"as" schema:"enum=fish|sightings|unused"`
}

// NewNew makes the document; d is nil where fault says why.
func NewNew(head Head, path string, p *propose.Proposal, d *analysis.Data, fault error) New {
	doc := New{Head: head, Study: path, Tables: []FoundTable{}, Doubts: list(p.Doubts), Findings: []history.Finding{}}
	if p.Fish != "" {
		doc.Tables = append(doc.Tables, FoundTable{p.Fish, "fish"})
	}
	for _, s := range p.Sightings {
		doc.Tables = append(doc.Tables, FoundTable{s, "sightings"})
	}
	for _, o := range p.Other {
		doc.Tables = append(doc.Tables, FoundTable{o, "unused"})
	}
	if fault != nil {
		why := fault.Error()
		doc.Fault = &why
		return doc
	}
	n := d.Histories.Fish()
	doc.Fish, doc.Accounting, doc.Findings = &n, accounting(d), list(d.Findings)
	return doc
}
