package wire

import (
	"example.org/unseen/cmd/unseen/internal/session"
	"example.org/unseen/history"
	"example.org/unseen/history/sighting"
)

// Check is the document of `unseen check`.
type Check struct {
	Head
	Fish       int                 `json:"fish"`
	Accounting *history.Accounting `json:"accounting"`
	Findings   []history.Finding   `json:"findings"`
	// Activity is what the readers of each site recorded.
	Activity []SiteActivity `json:"activity"`
	// DuplicateRecords counts exact duplicates; null where nobody asked.
	DuplicateRecords *int64 `json:"duplicate_records"`
	// Settled are choices made without being asked, in words.
	Settled []string `json:"settled"`
}

// SiteActivity is what the readers of a site recorded, of whatever tag.
type SiteActivity struct {
	Site    string  `json:"site"`
	Records int64   `json:"records"`
	First   *string `json:"first"`
	Last    *string `json:"last"`
}

// NewCheck makes the document. duplicates may be nil.
func NewCheck(head Head, d *session.Data, duplicates *sighting.DuplicateCount) Check {
	doc := Check{Head: head, Fish: d.Histories.Fish(), Accounting: accounting(d), Findings: list(d.Findings),
		Activity: []SiteActivity{}, Settled: list(d.Notes)}
	if duplicates != nil {
		doc.DuplicateRecords = &duplicates.Duplicates
	}
	for _, s := range d.Sites {
		doc.Activity = append(doc.Activity, SiteActivity{s.Site, s.Records, optional(s.First), optional(s.Last)})
	}
	return doc
}
