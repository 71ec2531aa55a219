package view

import (
	"fmt"
	"time"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/history"
	"example.org/unseen/history/sighting"
)

// FirstPage shows the first records of the tables that wanted takes, as they
// are understood: at most n fish, and the sightings that were kept of each file.
// It has no section where none is wanted.
func FirstPage(d *analysis.Data, n int, wanted func(file string) bool) Page {
	p := newPage(d)
	if f := d.Study.Fish; f != nil && wanted(f.Written) {
		p.Sections = append(p.Sections, Section{Tables: []Table{firstFish(d, n)}})
	}
	for _, t := range firstSightings(d) {
		if wanted(t.Title) {
			p.Sections = append(p.Sections, Section{Tables: []Table{t}})
		}
	}
	return p
}

// firstFish are the first fish of the tagging table.
func firstFish(d *analysis.Data, n int) Table {
	fish := make([]int, min(n, d.Histories.Len()))
	for i := range fish {
		fish[i] = i
	}
	return FishTable(d, fish)
}

// FishTable shows fish of the tagging table as they are understood.
func FishTable(d *analysis.Data, fish []int) Table {
	h := d.Histories
	t := Table{Title: d.Study.Fish.Written, Columns: []Column{{Title: "tag", Key: true}, {Title: "released"}, {Title: "at"}}}
	if h.CohortColumn != "" {
		t.Columns = append(t.Columns, Column{Title: h.CohortColumn})
	}
	shown := h.Columns[:min(len(h.Columns), 4)]
	for _, c := range shown {
		t.Columns = append(t.Columns, Column{Title: c.Name})
	}
	for _, i := range fish {
		row := []Cell{T(h.Tag[i]), T(LocalTime(d, h.Released[i])), T(h.River.Sites[h.Entry[i]].Name)}
		if h.CohortColumn != "" {
			row = append(row, T(h.Cohorts[h.Cohort[i]]))
		}
		for _, c := range shown {
			row = append(row, T(valueOf(c, i)))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// valueOf is a fish's value of an attribute, as it is understood.
func valueOf(c history.Column, i int) string {
	switch {
	case !c.IsCategory():
		if v := c.Value[i]; v == v {
			return fmt.Sprint(v)
		}
	case c.Level[i] >= 0:
		return c.Levels[c.Level[i]]
	}
	return "–"
}

// firstSightings are the first records of each array file.
func firstSightings(d *analysis.Data) []Table {
	var out []Table
	for i, r := range d.First {
		if i == 0 || d.First[i-1].File != r.File {
			t := RecordsTable(d, nil)
			t.Title = r.File
			t.Columns = t.Columns[1:] // the title says it
			out = append(out, t)
		}
		t := &out[len(out)-1]
		t.Rows = append(t.Rows, recordCells(d, r)[1:])
	}
	return out
}

// RecordsTable shows records as they are understood.
func RecordsTable(d *analysis.Data, records []sighting.Judged) Table {
	t := Table{Columns: []Column{{Title: "file", Key: true}, {Title: "line", Key: true}, {Title: "tag"}, {Title: "where"}, {Title: "when"}, {Title: "taken as"}}}
	for _, r := range records {
		t.Rows = append(t.Rows, recordCells(d, r))
	}
	return t
}

func recordCells(d *analysis.Data, r sighting.Judged) []Cell {
	when, taken := LocalTime(d, r.Ms), "a sighting"
	if r.Ms == history.NoTime {
		when = fmt.Sprintf("%q", r.Time)
	}
	if r.Rule != "" {
		taken = "set aside: " + r.Name
	}
	return []Cell{T(r.File), T(fmt.Sprint(r.Line)), T(r.Tag), T(r.Place), T(when), T(taken)}
}

// LocalTime shows a moment in the study's zone, to the second.
func LocalTime(d *analysis.Data, ms int64) string {
	if ms == history.NoTime {
		return "–"
	}
	return time.UnixMilli(ms).In(d.Study.Location).Format("2006-01-02 15:04:05 MST")
}
