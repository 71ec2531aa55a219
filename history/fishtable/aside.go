package fishtable

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/table"
	"example.org/unseen/history/tagindex"
)

// timeColumns are a table's columns of times, as far as their layouts are known.
type timeColumns struct{ released, removed, shed *table.Times }

// layout is where the columns of the tagging table stand; -1 where there is
// none.
type layout struct {
	river *history.River
	names []string // of the sites
	form  tagindex.Form

	tag, second, released, releasedAt, site, removed, removedSite, died, shed int
	cohort                                                                    int
	cohortName                                                                string
	columns                                                                   []*table.Column // one of each, empty
	at                                                                        []int           // theirs
	times                                                                     timeColumns
}

// aside are the lines of the table that are no tagged fish.
type aside struct {
	noTag, noFish, empty []int // line numbers
	odd                  error // why the first cell that was taken for none is no tag
}

func (a *aside) join(o aside) {
	a.odd = cmp.Or(a.odd, o.odd)
	a.noTag, a.noFish, a.empty = append(a.noTag, o.noTag...), append(a.noFish, o.noFish...), append(a.empty, o.empty...)
}

// totals begin a cell of a line that sums a spreadsheet up.
var totals = []string{"total", "sum", "gesamt", "insgesamt", "somme", "suma", "soma", "totaal", "i alt", "razem", "yhteensä", "mean", "average", "mittel", "moyenne", "media", "n =", "n=", "count"}

// setAside tells whether the record is no tagged fish, and notes its line: one
// without a tag, in whichever words; one that repeats the header; or one without a
// time of release that is a total, or tells the units of the columns.
func (l *layout) setAside(t *table.Table, a *aside) bool {
	tag, released := t.Field(l.tag), t.Field(l.released)
	none := noTag(tag) || !l.meant(tag, 4)
	switch {
	case tag == t.Header[l.tag] && released == t.Header[l.released]:
		a.noFish = append(a.noFish, t.Line())
	case !strings.ContainsAny(released, "0123456789") && (isTotal(t) || l.isUnits(tag, released) || none && !hasDigit(t) || !noTag(tag) && !l.meant(tag, 8)):
		a.noFish = append(a.noFish, t.Line())
	case none:
		if a.noTag = append(a.noTag, t.Line()); a.odd == nil && !noTag(tag) {
			_, a.odd = l.form.KeyOf(tag)
			a.odd = fmt.Errorf("%q: %w", tag, a.odd)
		}
	default:
		return false
	}
	return true
}

// hasDigit tells whether any field of the record has one: a fish has a number or
// a length, the units of the columns have none.
func hasDigit(t *table.Table) bool {
	for i := range t.Header {
		if strings.ContainsAny(t.Field(i), "0123456789") {
			return true
		}
	}
	return false
}

// noTag tells whether a cell says that there is no tag.
func noTag(cell string) bool {
	return table.IsMissing(cell) || strings.Trim(cell, "-–—?./* ") == "" || slices.Contains([]string{"none", "no tag", "untagged"}, strings.ToLower(cell))
}

// meant tells whether a cell was meant to be a tag, however spoilt: it has so many
// digits, which no word for none has, nor a count of fish, or it is a text, or long
// and of hexadecimal digits.
func (l *layout) meant(cell string, digits int) bool {
	n, hex := 0, 0
	for _, c := range strings.ToLower(cell) {
		switch {
		case c >= '0' && c <= '9':
			n++
			hex++
		case c >= 'a' && c <= 'f':
			hex++
		}
	}
	return l.form.Text || n >= digits || hex >= 10 && hex*2 > len(cell)
}

// isTotal tells whether a cell of the record begins with a word for a total.
func isTotal(t *table.Table) bool {
	for i := range t.Header {
		cell := strings.ToLower(t.Field(i))
		if slices.ContainsFunc(totals, func(w string) bool { return strings.HasPrefix(cell, w) }) {
			return true
		}
	}
	return false
}

// isUnits tells whether the record, without a time of release, is of units: its
// tag is no code and was not meant to be one.
func (l *layout) isUnits(tag, released string) bool {
	if noTag(tag) || l.form.Text {
		return released != ""
	}
	return !strings.ContainsAny(tag, "0123456789")
}

// passOver tells whether a line with another number of fields than the header
// is no fish, as a title or a remark, and notes it: no field of it is a tag, nor
// was meant to be one.
func (l *layout) passOver(a *aside) func(fields []string, line int) bool {
	return func(fields []string, line int) bool {
		for i, f := range fields {
			if _, err := l.form.KeyOf(f); err == nil && !l.form.Text || i == l.tag && longCode(f) || l.form.Text && i == l.tag && i > 0 {
				return false
			}
		}
		a.noFish = append(a.noFish, line)
		return true
	}
}

// longCode tells a cell that was meant to be a code, however spoilt: it is long
// and mostly digits.
func longCode(cell string) bool {
	digits := 0
	for _, c := range cell {
		if c >= '0' && c <= '9' {
			digits++
		}
	}
	return len(cell) >= 10 && digits*2 > len(cell)
}
