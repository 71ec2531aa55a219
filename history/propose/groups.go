package propose

import (
	"fmt"
	"slices"
	"strings"

	"example.org/unseen/history/clock"
	"example.org/unseen/history/internal/dialect"
	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
)

// renderSightings writes the array files: all together where one reading holds
// for them, else group by group.
func (g *guess) renderSightings(b *text) {
	if g.oneReading() {
		b.line("")
		b.line("[sightings]")
		b.line("files = [%s]", g.fileList(g.sightings))
		b.line("%s", g.commonColumns())
		renderDelimiters(b, g.sightings)
		return
	}
	groups := g.groups()
	for _, files := range groups {
		b.line("")
		if len(groups) == 1 {
			b.line("[sightings]")
		} else {
			b.line("[[sightings]]")
		}
		t := files[0]
		b.line("files = [%s]", g.fileList(files))
		if place := g.places[t]; place != "" {
			b.line("site = %s   # ? as %s says", quoted(place), t.origin(place))
		}
		renderReading(b, &t.reading)
		g.renderZone(b, t, g.columns[t])
		if g.datesOf[t].open && g.commonOrder() == clock.Unsettled {
			b.line("date_order = %s   # ?", quoted(g.orders[t].String()))
		}
		if pairs := t.pairs(g.columns[t]); len(pairs) > 0 {
			b.line("columns = { %s }   # ?", strings.Join(pairs, ", "))
		}
		renderDelimiters(b, files)
	}
}

func renderDelimiters(b *text, files []*sample) {
	for _, t := range files {
		if x := t.label(); x != "" {
			b.line("# %s: fields are parted by %s", t.name, x)
		}
	}
}

// origin says which of a file's names tells a place.
func (t *sample) origin(place string) string {
	for i, name := range t.levels(true) {
		if name != "" && (strings.Contains(fold(name), fold(place)) || strings.Contains(fold(place), fold(name))) {
			return []string{"a line above the header", "the name of the sheet", "the name of the file", "the name of the folder", "the name of the folder"}[i]
		}
	}
	return "a name"
}

// groups are the array files that one group of the study reads: laid out alike,
// and of one place where the study must say it.
func (g *guess) groups() (out [][]*sample) {
	for _, t := range g.sightings {
		zone, _ := t.zone(g.columns[t])
		i := slices.IndexFunc(out, func(files []*sample) bool {
			u := files[0]
			of, _ := u.zone(g.columns[u])
			return of == zone && sameReading(&u.reading, &t.reading) && g.places[u] == g.places[t] && g.orders[u] == g.orders[t] && slices.Equal(u.pairs(g.columns[u]), t.pairs(g.columns[t]))
		})
		if i < 0 {
			i = len(out)
			out = append(out, nil)
		}
		out[i] = append(out[i], t)
	}
	return out
}

// commonOrder is the order that the whole study may say: that of every table
// that leaves it open, if no table shows another.
func (g *guess) commonOrder() clock.Order {
	all := []dated{g.fishDates}
	for _, t := range g.sightings {
		all = append(all, *g.datesOf[t])
	}
	var order clock.Order
	for _, d := range all {
		if d.open && order == clock.Unsettled {
			order = d.order
		}
	}
	if order != clock.Unsettled && slices.ContainsFunc(all, func(d dated) bool { return d.order != clock.Unsettled && d.order != order }) {
		return clock.Unsettled
	}
	return order
}

// renderReading writes how a file is written, where it does not tell itself.
func renderReading(b *text, r *study.Reading) {
	list := func(n []int) string { return strings.ReplaceAll(strings.Trim(fmt.Sprint(n), "[]"), " ", ", ") }
	if r.Sheet != "" {
		b.line("sheet = %s", quoted(r.Sheet))
	}
	if r.Encoding != "" {
		b.line("encoding = %s", quoted(r.Encoding))
	}
	switch {
	case r.NoHeader():
		b.line("header_line = 0   # ? no line names the columns")
	case len(r.HeaderLine) == 1:
		b.line("header_line = %d", r.HeaderLine[0])
	case len(r.HeaderLine) > 1:
		b.line("header_line = [%s]", list(r.HeaderLine))
	}
	if r.FillDown != nil {
		b.line("fill_down = [%s]   # ? empty cells repeat the one above", quotedList(r.FillDown))
	}
	if r.Widths != nil {
		b.line("widths = [%s]", list(r.Widths))
	}
	if r.Delimiter != "" {
		b.line("delimiter = %s", quoted(r.Delimiter))
	}
}

// pairs are our names and those of an array file, where they differ.
func (t *sample) pairs(c columns) (pairs []string) {
	for _, r := range columnRoles {
		i := *r.at(&c)
		switch {
		case i < 0 || r.ours == "date":
		case r.ours == "time" && c.date >= 0:
			pairs = append(pairs, "time = "+t.called(c.date, i))
		case t.called(i) != quoted(r.ours):
			pairs = append(pairs, r.ours+" = "+t.called(i))
		}
	}
	return pairs
}

// oneReading tells whether the usual reading, with the names of all files taken
// together, finds in each file the columns that are its own.
func (g *guess) oneReading() bool {
	for _, t := range g.sightings {
		if zone, _ := t.zone(g.columns[t]); zone != "" || g.places[t] != "" || !sameReading(&t.reading, &study.Reading{}) || g.datesOf[t].open && g.commonOrder() == clock.Unsettled {
			return false
		}
	}
	for _, r := range columnRoles {
		names := g.namesOf(r)
		if len(names) == 0 {
			continue
		}
		for _, t := range g.sightings {
			c := g.columns[t]
			if i := table.FindName(t.header, names); i != *r.at(&c) && (i >= 0 || *r.at(&c) >= 0) {
				return false
			}
		}
	}
	return true
}

// namesOf are the names of one of our columns in all array files, but for those
// that differ in capitals only.
func (g *guess) namesOf(r role) (called []string) {
	for _, t := range g.sightings {
		c := g.columns[t]
		i := *r.at(&c)
		if i >= 0 && !slices.ContainsFunc(called, func(s string) bool { return strings.EqualFold(s, t.header[i]) }) {
			called = append(called, t.header[i])
		}
	}
	return called
}

// commonColumns is the mapping of our names to those of all array files.
func (g *guess) commonColumns() string {
	var pairs []string
	for _, r := range columnRoles {
		var called []string
		for _, name := range g.namesOf(r) {
			called = append(called, quoted(name))
		}
		switch {
		case len(called) > 1:
			pairs = append(pairs, r.ours+" = ["+strings.Join(called, ", ")+"]")
		// A column called date is taken for one only where the study says so.
		case len(called) == 1 && (called[0] != quoted(r.ours) || r.ours == "date"):
			pairs = append(pairs, r.ours+" = "+called[0])
		}
	}
	if len(pairs) == 0 {
		return "# the columns are called as unseen calls them: " + strings.Join(g.sightings[0].header, ", ")
	}
	return "columns = { " + strings.Join(pairs, ", ") + " }   # ?"
}

// label is the name of a table's delimiter for a comment.
func (t *sample) label() string {
	if t.reading.Delimiter != "" {
		return ""
	}
	return dialect.DelimiterNames[t.delim]
}
