// Package fishtable reads the tagging table: which fish were released, with
// their attributes, and what each tag of the study stands for.
//
// Begin with [Read]; ExampleRead shows it. Moments are Unix milliseconds;
// attributes keep the unit of the table.
package fishtable

import (
	"errors"

	"example.org/unseen/history"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/tagindex"
)

// Table is the tagging table and what its tags stand for.
type Table struct {
	Input history.Input // the file that was read
	Notes []string      // choices made without being asked, in words
	// Histories are the fish that were released, with their attributes;
	// sightings are still to come.
	Histories *history.Histories
	// Flags are what was noticed about each of them.
	Flags []history.Flag
	// Index tells what each tag stands for: a fish by its number. Known is how
	// many numbers there are; the first are those of Histories.
	Index *tagindex.Index
	Known int
	// Special are the fish, by number, with more to know than a release.
	Special map[int32]*rule.Fish
	// Findings are what the table itself gave to notice.
	Findings []history.Finding
	// Total is how many fish the table has, left out or not.
	Total int

	removals []removal
}

// Check refuses a table that nobody read.
func (f *Table) Check() error {
	if f == nil || f.Histories == nil || f.Index == nil {
		return errors.New("there is no tagging table; Read reads a study's")
	}
	if n := f.Histories.Len(); len(f.Flags) != n || len(f.Histories.Released) != n || len(f.Histories.Tag) != n {
		return errors.New("the tagging table has no tag, release and flags for each of its fish; Read reads a study's")
	}
	return nil
}

// removal is a fish taken out, whose history must end at a site.
type removal struct {
	fish int32 // its number
	line int
	site int // -1 where only the time is known
}

// EndHistories says of each fish that was taken out that its history ends so,
// once the sightings are in. The file is that of the table, for messages.
func (f *Table) EndHistories(file string, season rule.Season) error {
	if err := f.Check(); err != nil {
		return err
	}
	h := f.Histories
	faults := history.Faults{Keep: 20}
	masks := h.River.SiteMasks()
	for _, x := range f.removals {
		last := h.LastSite(int(x.fish), masks)
		if x.site >= 0 && last != x.site {
			if !season.Over() {
				continue // it may be taken out later than the time that counts
			}
			faults.Add(history.Pos{File: file, Line: x.line},
				"fish %s was removed at %q, but is not detected there; its last detection is at %q. Correct the place, add the record of its removal to the sightings, or, where it lies outside the working windows of the site, correct these",
				h.Tag[x.fish], h.River.Sites[x.site].Name, h.River.Sites[last].Name)
			continue
		}
		h.End[x.fish] = history.Removed
	}
	return faults.Err()
}
