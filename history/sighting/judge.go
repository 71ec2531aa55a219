package sighting

import (
	"example.org/unseen/history/fishtable"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/tagindex"
)

// judge knows all that is needed to say what becomes of a record. It is read
// by many workers at once.
type judge struct {
	form   tagindex.Form
	fish   *fishtable.Table
	places *places
	season rule.Season
	rows   int // numbered rows of the river

	offWorking bool
	// Known when all records were merged: tags that turned out to be test
	// tags, and passages that a passage rule sets aside, by fish*rows+row.
	testTags      map[uint64]bool
	asidePassages map[int]rule.ID
}

// quickPlace is what most records of a place need of it, in little room.
type quickPlace struct {
	// open is a time in which a fish with nothing special to it, released
	// farther up and before, is detected as it should be.
	open      rule.Window
	site, row int
}
