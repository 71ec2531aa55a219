package wire

import (
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/history"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/sighting"
)

// Check is the document of `unseen check`.
type Check struct {
	Head
	// in the fish table
	Fish int `json:"fish"`
	// where every record ended; null without sightings
	Accounting *history.Accounting `json:"accounting"`
	// what was noticed, most serious first
	Findings []history.Finding `json:"findings"`
	Activity []SiteActivity    `json:"activity"` // what the readers of each site recorded, of whatever tag
	// records that say exactly the same as an earlier one; null without --duplicates
	DuplicateRecords *int64   `json:"duplicate_records"`
	Settled          []string `json:"settled" schema:"words"` // choices made without being asked, in words
	// clocks set right, working times, test passes, values held, … of the study file
	Declared []Declaration `json:"declared"`
}

// SiteActivity is what the readers of a site recorded, of whatever tag.
type SiteActivity struct {
	Site    string  `json:"site"`
	Records int64   `json:"records"`
	First   *string `json:"first"`
	Last    *string `json:"last"`
}

// NewCheck makes the document. duplicates may be nil.
func NewCheck(head Head, d *analysis.Data, duplicates *sighting.DuplicateCount) Check {
	doc := Check{Head: head, Fish: d.Histories.Fish(), Accounting: accounting(d), Findings: list(d.Findings), Settled: list(d.Notes),
		Activity: ActivityOf(d), Declared: DeclarationsOf(d.Study)}
	if duplicates != nil {
		doc.DuplicateRecords = &duplicates.Duplicates
	}
	return doc
}

// ActivityOf is what the readers of each site recorded.
func ActivityOf(d *analysis.Data) []SiteActivity {
	return each(d.Sites, func(s ingest.SiteActivity) SiteActivity {
		return SiteActivity{s.Site, s.Records, optional(s.First), optional(s.Last)}
	})
}
