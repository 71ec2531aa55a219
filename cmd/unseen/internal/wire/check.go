package wire

import "example.org/unseen/history"

// Check is the document of `unseen check`.
type Check struct {
	Head
	Fish       int                 `json:"fish"`
	Accounting *history.Accounting `json:"accounting"`
	Findings   []history.Finding   `json:"findings"`
	// DuplicateRecords counts exact duplicates, where that was asked for.
	DuplicateRecords *int64 `json:"duplicate_records"`
}
