package sighting

import (
	"slices"

	"example.org/unseen/history"
	"example.org/unseen/history/table"
)

// optional are the columns that an array file can do without.
var optional = []string{"site", "antenna"}

// lookAtFile notes what a file itself gives to notice. Columns that the study
// names are found by name, or their file is refused.
func (r *run) lookAtFile(file table.File, b *table.Blocks) {
	group := r.st.Sightings[file.Group]
	mapped := func(ours string) bool {
		return group.Columns[ours] != nil || group.Site != "" || ours == "antenna" && group.Antenna != ""
	}
	r.near = append(r.near, table.NearNames(b.Names, slices.DeleteFunc(slices.Clone(optional), mapped), file.Name)...)
	if b.Unsummed() {
		r.unsummed = append(r.unsummed, file.Name)
	}
}

// unsummedFinding tells of compressed files that cannot tell whether they are
// damaged.
func (r *run) unsummedFinding() []history.Finding {
	if len(r.unsummed) == 0 {
		return nil
	}
	files := history.Say("%d files", len(r.unsummed))
	if len(r.unsummed) == 1 {
		files = "1 file"
	}
	return []history.Finding{{ID: "no_checksum", Count: int64(len(r.unsummed)), About: r.unsummed[0],
		Message: files + " compressed without a checksum: damage cannot be noticed",
		Advice:  "compress them again with one, as zstd does by default"}}
}

// midnightFinding tells of array files whose times are all at midnight: their
// dates stand alone, or a table program dropped the time of day.
func (r *run) midnightFinding() []history.Finding {
	return r.ofFiles("no_time_of_day", r.midnights, "every detection at 00:00:00, as a date without a time of day is read",
		"detections on the day of release count as before it, and travel times are wrong by up to a day: name the column of the time of day, columns = { date = \"…\", time = \"…\" }")
}

// twelveFinding tells of array files that cannot tell the morning from the
// afternoon.
func (r *run) twelveFinding() []history.Finding {
	return r.ofFiles("twelve_hours", r.twelves, "every detection between 1:00 and 12:59, as of a clock that goes to twelve, without AM and PM",
		"those of afternoon and evening are then twelve hours early, and detections may count as before release: export with AM and PM, or on a clock of 24 hours")
}

// ofFiles is a finding on the times of whole array files; none where there are none.
func (r *run) ofFiles(id string, names []string, have, advice string) []history.Finding {
	n := len(names)
	if n == 0 {
		return nil
	}
	files := history.Say("%d files have ", n)
	if n == 1 {
		files = "1 file has "
	}
	return []history.Finding{{ID: id, Count: int64(n), About: names[0], Impact: float64(n) / float64(len(r.files)), Message: files + have, Advice: advice}}
}
