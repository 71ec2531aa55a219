package view

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"example.org/unseen/cjs/analysis"
)

// Stamp says what the data are and through which day.
func Stamp(d *analysis.Data) string {
	h := d.Histories
	var parts []string
	switch t := d.Through(); {
	case d.Running():
		parts = append(parts, "preliminary: data through "+through(d.Source()))
	case !t.IsZero():
		parts = append(parts, "data through "+day(t))
	}
	fish := Plural(h.Fish(), "tagged fish", "tagged fish")
	if n := len(h.Cohorts); n > 1 {
		fish += fmt.Sprintf(" in %d cohorts", n)
	}
	parts = append(parts, fish, Plural(len(h.River.Sites), "site"))
	s := strings.Join(parts, " · ")
	return strings.ToUpper(s[:1]) + s[1:]
}

// newPage begins the page of an answer from a study.
func newPage(d *analysis.Data) Page { return Page{Title: d.Source().Name(), Stamp: Stamp(d)} }

func day(t time.Time) string { return t.Format(longDay) }

// through says up to when data count: a day where it is the day's end, else
// with the time of day.
func through(s analysis.Source) string {
	return s.UpTo(s.AsOf, longDay, longDay+" 15:04 MST")
}

const longDay = "2 January 2006"

// Stamped puts the day the data go through on every table of a page while the
// season runs.
func Stamped(from analysis.Source, p Page) Page {
	p.Sections = slices.Clone(p.Sections)
	for i, s := range p.Sections {
		p.Sections[i] = StampedSection(from, s)
	}
	return p
}

// StampedSection is s with the day the data go through, while the season runs:
// for people in the heading, or where there is none in the tables' titles; for
// programs in a column.
func StampedSection(from analysis.Source, s Section) Section {
	if !from.Running {
		return s
	}
	stamp := "data through " + through(from)
	when := from.AsOf.UTC().Format(time.RFC3339)
	s.Tables = slices.Clone(s.Tables)
	seen := false
	for j := range s.Tables {
		t := &s.Tables[j]
		// A table of words alone, such as the assumptions, has no date.
		if !t.CSVOnly && slices.ContainsFunc(t.Columns, func(c Column) bool { return c.Kind != Text }) {
			seen = true
			if s.Heading == "" {
				t.Title = joined(t.Title, stamp)
			}
		}
		if t.ID == "" {
			continue
		}
		t.Columns = append(slices.Clip(t.Columns), Column{Name: "data_through"})
		t.Rows = slices.Clone(t.Rows)
		for r := range t.Rows {
			t.Rows[r] = append(slices.Clip(t.Rows[r]), T(when))
		}
	}
	if seen && s.Heading != "" {
		s.Heading = joined(s.Heading, stamp)
	}
	return s
}

func joined(a, b string) string {
	if a == "" {
		return strings.ToUpper(b[:1]) + b[1:]
	}
	return a + " · " + b
}
