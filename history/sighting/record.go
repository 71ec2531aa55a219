package sighting

import (
	"example.org/unseen/history/clock"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/table"
)

// record is a record of a sightings file on its way through the rules.
type record struct {
	ms     int64
	tagKey uint64 // 0 where the tag cannot be read
	line   int
	// Where tag, site, antenna, time and date are as written, until the batch
	// is done: see [reader.field].
	parts
	fish  int32 // its number in the fish table; -1 where the tag is none
	place int32 // index into places.list; negative where unknown
	// recent is where its tag is kept among the recent ones, since is when it
	// came there; recent is -1 where it is not.
	recent int32
	since  uint32
	rule   rule.ID
	how    clock.How
	fault  clock.Fault
}

// parts are the fields of a record that are needed; empty where its file has
// none such, or it is unreadable.
type parts struct{ tag, site, antenna, time, date span }

// span is where a field stands in a text.
type span struct{ from, to int32 }

// between is field i of a line that ends at end; empty for -1.
func between(marks []uint32, i, end int) span {
	if i < 0 {
		return span{}
	}
	return span{int32(marks[i] + 1), int32(min(int(marks[i+1]), end))}
}

// take notes where the fields of a line stand that ends at end.
func (r *record) take(marks []uint32, end int, at *columns) {
	r.rule = rule.None
	r.tag, r.time = between(marks, at.tag, end), between(marks, at.time, end)
	r.site, r.antenna, r.date = between(marks, at.site, end), between(marks, at.antenna, end), between(marks, at.date, end)
}

// block is a block of one of the files.
type block struct {
	table.Block
	// file and number are the places of the file among the files, and of the
	// block among all blocks.
	file, number int
	layout       *layout
}
