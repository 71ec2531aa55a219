package history

import (
	"fmt"
	"math"
	"math/bits"
)

// Check returns an error when the histories break what every user of them
// relies on: the river is sound, every column has a value for each record, and
// every index is of something that is there. The error names the record and
// says what would be right.
func (h *Histories) Check() error {
	if h == nil {
		return fmt.Errorf("there are no detection histories; make them with NewHistories, or read a study's")
	}
	for _, check := range []func() error{h.River.Check, h.checkLengths, h.checkCohorts, h.checkRecords, h.checkColumns, h.checkTimes} {
		if err := check(); err != nil {
			return err
		}
	}
	return nil
}

// record names record i in messages.
func (h *Histories) record(i int) string {
	if len(h.Tag) > i && h.Tag[i] != "" {
		return fmt.Sprintf("record %d (%s)", i+1, h.Tag[i])
	}
	return fmt.Sprintf("record %d", i+1)
}

// checkLengths: one value a record, one time a record and row.
func (h *Histories) checkLengths() error {
	n := h.Len()
	for _, c := range []struct {
		name      string
		have, per int
		needed    bool
	}{
		{"Seen", len(h.Seen), 1, true}, {"End", len(h.End), 1, true}, {"Cohort", len(h.Cohort), 1, true},
		{"Tag", len(h.Tag), 1, h.Tag != nil}, {"Again", len(h.Again), 1, h.Again != nil}, {"Count", len(h.Count), 1, h.Count != nil},
		{"Released", len(h.Released), 1, h.Released != nil},
		{"First", len(h.First), h.River.Rows(), h.First != nil}, {"Last", len(h.Last), h.River.Rows(), h.Last != nil},
	} {
		if c.needed && c.have != n*c.per {
			return fmt.Errorf("%s has %d values for %d records; it needs %d", c.name, c.have, n, n*c.per)
		}
	}
	return nil
}

func (h *Histories) checkCohorts() error {
	if len(h.Cohorts) == 0 {
		return fmt.Errorf("the histories have no cohort; fish that are all alike are of one, such as \"all\"")
	}
	if twice := repeated(h.Cohorts); twice >= 0 {
		return fmt.Errorf("cohort %q stands twice in Cohorts; a name is of one cohort", h.Cohorts[twice])
	}
	for i, c := range h.Cohort {
		if c < 0 || int(c) >= len(h.Cohorts) {
			return fmt.Errorf("%s is of cohort number %d; there are 0 to %d", h.record(i), c, len(h.Cohorts)-1)
		}
	}
	return nil
}

// checkRecords: fish enter at a site and are detected at rows below it.
func (h *Histories) checkRecords() error {
	sites := len(h.River.Sites)
	// below[k] are the bits of the rows below site k.
	below := make([]uint64, sites)
	masks := h.River.SiteMasks()
	for k := sites - 2; k >= 0; k-- {
		below[k] = below[k+1] | masks[k+1]
	}
	for i, entry := range h.Entry {
		if int(entry) >= sites {
			return fmt.Errorf("%s enters at site number %d; there are 0 to %d", h.record(i), entry, sites-1)
		}
		if stray := h.Seen[i] &^ below[entry]; stray != 0 {
			return h.stray(i, bits.TrailingZeros64(stray))
		}
		if h.End[i] > Continued {
			return fmt.Errorf("%s ends in the way %d; there are Open, Removed and Continued", h.record(i), h.End[i])
		}
		if h.Count != nil && h.Count[i] < 0 {
			return fmt.Errorf("%s stands for %d fish; it cannot be fewer than none", h.record(i), h.Count[i])
		}
	}
	return nil
}

// stray is the error of a record seen at numbered row b, where no row is or
// none below its entry.
func (h *Histories) stray(i, b int) error {
	if rows := h.River.Rows(); b >= rows {
		return fmt.Errorf("%s has bit %d of Seen set, but the sites below the first have %d rows, so bits 0 to %d; a bit is of a row, not of a site (see River.FirstRow)", h.record(i), b, rows, rows-1)
	}
	return fmt.Errorf("%s is detected at %s, which is not below %s, where it enters", h.record(i), h.River.RowLabel(b), h.River.Sites[h.Entry[i]].Name)
}

func (h *Histories) checkColumns() error {
	names := make([]string, len(h.Columns))
	for i := range h.Columns {
		names[i] = h.Columns[i].Name
		if err := h.checkColumn(&h.Columns[i]); err != nil {
			return err
		}
	}
	if twice := repeated(names); twice >= 0 {
		return fmt.Errorf("the column %q stands twice", names[twice])
	}
	return nil
}

func (h *Histories) checkColumn(c *Column) error {
	have := len(c.Value)
	if c.IsCategory() {
		have = len(c.Level)
	}
	switch {
	case c.Name == "":
		return fmt.Errorf("a column of the fish has no name")
	case c.Value != nil && c.Level != nil:
		return fmt.Errorf("the column %q has both levels and values; it is a category or a number", c.Name)
	case have != h.Len():
		return fmt.Errorf("the column %q has %d values for %d records; it needs one each", c.Name, have, h.Len())
	}
	if twice := repeated(c.Levels); twice >= 0 {
		return fmt.Errorf("the level %q of the column %q stands twice", c.Levels[twice], c.Name)
	}
	for i, l := range c.Level {
		if l < -1 || int(l) >= len(c.Levels) {
			return fmt.Errorf("%s has level number %d of the column %q; there are 0 to %d, and -1 for a missing one", h.record(i), l, c.Name, len(c.Levels)-1)
		}
	}
	for i, v := range c.Value {
		if math.IsInf(v, 0) {
			return fmt.Errorf("%s has %v in the column %q; a missing number is NaN", h.record(i), v, c.Name)
		}
	}
	return nil
}

// checkTimes: sightings have times where they are, in order.
func (h *Histories) checkTimes() error {
	rows := h.River.Rows()
	if h.First == nil && h.Last == nil || rows == 0 {
		return nil
	}
	if h.First == nil || h.Last == nil {
		return fmt.Errorf("there are times of first or of last sightings alone; both are needed, or none")
	}
	for at, first := range h.First {
		last := h.Last[at]
		i, b := at/rows, at%rows
		switch {
		case first == NoTime && last == NoTime:
		case h.Seen[i]>>b&1 == 0:
			return fmt.Errorf("%s has a time at %s, where it was not detected", h.record(i), h.River.RowLabel(b))
		case first == NoTime || last < first:
			return fmt.Errorf("%s has its last sighting at %s before its first", h.record(i), h.River.RowLabel(b))
		}
	}
	return nil
}
