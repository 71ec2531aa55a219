package view

import (
	"math"
	"slices"

	"example.org/unseen/cjs"
	"example.org/unseen/history"
)

// mostGroups is how many cohorts, or other groups of fish, stand on the one screen
// of a fit.
const mostGroups = 10

// briefPassed shows how many of all fish passed each site and, where there are few
// groups, how many of each passed the site that the answer is about.
func briefPassed(river *history.River, passed []cjs.Passed, level float64) []Table {
	site := answered(passed)
	kind := func(p cjs.Passed) string { return groupsOf([][]cjs.Category{p.Of}).title() }
	groups := map[string]int{}
	for _, p := range passed {
		if p.Site == site {
			groups[kind(p)]++
		}
	}
	list := slices.DeleteFunc(slices.Clone(passed), func(p cjs.Passed) bool {
		return len(p.Of) > 0 && (p.Site != site || groups[kind(p)] > mostGroups)
	})
	var out []Table
	for _, t := range PassedTables(river, list, level) {
		if t.CSVOnly {
			continue
		}
		t.Columns = slices.Clone(t.Columns)
		for i := range t.Columns {
			c := &t.Columns[i]
			if c.Detail || c.Name == "site" && len(out) > 0 {
				c.Title = ""
			}
		}
		if len(out) > 0 {
			t.Title += ", " + river.Sites[site].Name
			first := &out[len(out)-1]
			first.Notes = slices.DeleteFunc(first.Notes, func(n Note) bool { return slices.Contains(t.Notes, n) })
		}
		out = append(out, t)
	}
	return out
}

// answered is the last site of which it is known how many of all fish passed; the
// last of all where none is, or where it is known of some cohorts alone.
func answered(passed []cjs.Passed) int {
	known, last := -1, 0
	running := running(passed)
	for _, p := range passed {
		if len(p.Of) > 0 {
			continue
		}
		last = p.Site
		share := p.PassedShare
		if running {
			share = p.SoFar
		}
		if !math.IsNaN(share.Value) && share.Status != cjs.Borrowed {
			known = p.Site
		}
	}
	if known < 0 || tooEarly(passed, last) != "" {
		return last
	}
	return known
}

// briefNote says what more there is.
func briefNote(more string, warned bool) string {
	if warned {
		return "More with --full. What a warning means: unseen explain ID."
	}
	return "More with --full: " + more + "."
}

func withBriefNote(p Page, more string) Page {
	p.Sections = append(p.Sections, Section{Notes: []string{briefNote(more, false)}})
	return p
}

// Shortened is a page with the first lines of each of its tables, most of them, and
// how many more there are.
func Shortened(p Page, most int) Page {
	cut := false
	p.Sections = mapped(p.Sections, func(s Section) Section {
		s.Tables = mapped(s.Tables, func(t Table) Table {
			cut = cut || !t.CSVOnly && len(t.Rows) > most
			return shortened(t, most)[0]
		})
		return s
	})
	if !cut {
		return p
	}
	return withBriefNote(p, "all lines")
}

// only are the elements that keep wants.
func only[T any](list []T, keep func(T) bool) []T {
	return slices.DeleteFunc(slices.Clone(list), func(x T) bool { return !keep(x) })
}

// shortened shows the first records of a long table to a person, and says how
// many more the CSV file has. A column in which they have nothing is not shown.
func shortened(t Table, most int) []Table {
	if len(t.Rows) <= most {
		return []Table{t}
	}
	short := t
	short.ID, short.Rows, short.Columns = "", t.Rows[:most], slices.Clone(t.Columns)
	for j := range short.Columns {
		if short.Columns[j].Kind == Text && !slices.ContainsFunc(short.Rows, func(r []Cell) bool { return r[j].Text != "" }) {
			short.Columns[j].Title = ""
		}
	}
	short.Notes = append(short.Notes, Note{Text: "and " + Plural(len(t.Rows)-most, "more", "more") + ": --csv writes them all"})
	t.CSVOnly = true
	return []Table{short, t}
}
