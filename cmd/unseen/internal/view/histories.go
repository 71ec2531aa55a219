package view

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"example.org/unseen/history"
)

// HistoriesAnswer says how many fish were detected at each site below the first, and
// how many different histories they have.
func HistoriesAnswer(h *history.Histories) string {
	masks := h.River.SiteMasks()
	detected := make([]int, len(masks))
	all, nowhere := 0, 0
	for i := range h.Entry {
		n := h.Weight(i)
		if h.New(i) {
			all += n
			if h.Seen[i] == 0 {
				nowhere += n
			}
		}
		for k := int(h.Entry[i]) + 1; k < len(masks); k++ {
			if h.Seen[i]&masks[k] != 0 {
				detected[k] += n
			}
		}
	}
	var parts []string
	for k := 1; k < len(masks); k++ {
		were := ""
		if k == 1 {
			were = " were detected"
		}
		parts = append(parts, Digits(float64(detected[k]), 0)+were+" at "+h.River.Sites[k].Name)
	}
	said := "Of " + Plural(all, "fish", "fish") + " " + And(parts) + "; " + Digits(float64(nowhere), 0) + " were not detected after release."
	if h.Again != nil {
		return said // pieces between captures: whole histories are not known
	}
	patterns := map[string]bool{}
	p := newPatterns(h)
	for _, d := range h.Distinct() {
		var key strings.Builder
		for _, c := range p.cells(d.Record) {
			key.WriteString(c.Text + Digits(c.Value, 0) + " ")
		}
		patterns[key.String()] = true
	}
	return said + " There are " + Plural(len(patterns), "different history", "different histories") + "."
}

// HistoriesTable shows one record a fish: what it is, where it was detected (1)
// and not (0), and where it was taken out; the first 1 is where it entered. In
// CSV the columns are those the study file's [histories] reads. flags, which may
// be nil, are what was noticed about each fish.
func HistoriesTable(h *history.Histories, flags []history.Flag) Table {
	t := Table{ID: "histories", Columns: []Column{{Name: "fish", Title: "fish", Key: true}}}
	if h.Released != nil {
		t.Columns = append(t.Columns, Column{Name: "released", Title: "released (UTC)", Key: true, Holds: Moments})
	}
	if h.CohortColumn != "" {
		t.Columns = append(t.Columns, Column{Name: h.CohortColumn, Title: h.CohortColumn})
	}
	for i := range h.Columns {
		holds := Numbers
		if h.Columns[i].IsCategory() {
			holds = Words
		}
		t.Columns = append(t.Columns, Column{Name: h.Columns[i].Name, Holds: holds})
	}
	t.Columns = append(t.Columns, patternColumns(h)...)
	if h.Count != nil {
		t.Columns = append(t.Columns, Column{Name: "count", Title: "fish alike", Kind: Count})
	}
	flagged := slices.ContainsFunc(flags, func(f history.Flag) bool { return f != 0 })
	if flagged {
		t.Columns = append(t.Columns, Column{Name: "noticed", Title: "noticed"})
	}
	p := newPatterns(h)
	for i := range h.Entry {
		tag := "record " + strconv.Itoa(i+1)
		if h.Tag != nil {
			tag = h.Tag[i]
		}
		row := []Cell{T(tag)}
		if h.Released != nil {
			row = append(row, moment(h.Released[i]))
		}
		if h.CohortColumn != "" {
			row = append(row, T(h.Cohorts[h.Cohort[i]]))
		}
		for k := range h.Columns {
			row = append(row, attribute(&h.Columns[k], i))
		}
		row = append(row, p.cells(i)...)
		if h.Count != nil {
			row = append(row, I(h.Count[i]))
		}
		if flagged {
			row = append(row, T(strings.Join(flags[i].Names(), "; ")))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// PassagesTable lists, for programs, when each fish was detected at each row.
func PassagesTable(h *history.Histories) Table {
	t := Table{ID: "passages", CSVOnly: true, Columns: []Column{
		{Name: "fish"}, {Name: "site"}, {Name: "row"}, {Name: "first", Holds: Moments}, {Name: "last", Holds: Moments}}}
	if h.First == nil {
		return t
	}
	siteOf, rows := h.River.SiteOfRow(), h.River.Rows()
	for i := range h.Entry {
		for b := range rows {
			if h.Seen[i]>>b&1 == 0 {
				continue
			}
			site, row := &h.River.Sites[siteOf[b]], ""
			if site.Divided() {
				row = site.Rows[b-h.River.FirstRow(siteOf[b])]
			}
			t.Rows = append(t.Rows, []Cell{T(h.Tag[i]), T(site.Name), T(row), moment(h.First[i*rows+b]), moment(h.Last[i*rows+b])})
		}
	}
	return t
}

// DistinctTable counts the fish by cohort and detection history.
func DistinctTable(h *history.Histories) Table {
	t := Table{ID: "counts"}
	if h.CohortColumn != "" {
		t.Columns = append(t.Columns, Column{Name: h.CohortColumn, Title: h.CohortColumn, Key: true})
	}
	t.Columns = append(t.Columns, patternColumns(h)...)
	t.Columns = append(t.Columns, Column{Name: "count", Title: "fish", Kind: Count})
	p := newPatterns(h)
	for _, d := range h.Distinct() {
		var row []Cell
		if h.CohortColumn != "" {
			row = append(row, T(h.Cohorts[h.Cohort[d.Record]]))
		}
		row = append(row, p.cells(d.Record)...)
		t.Rows = append(t.Rows, append(row, I(d.Fish)))
	}
	return t
}

// NextSeenTable shows the next-seen table; in CSV its columns are those the
// study file's [next_seen] reads.
func NextSeenTable(h *history.Histories) Table {
	t := Table{ID: "next_seen", Title: "Of the fish released (or released again) at a site, how many were next detected at each site below, or never again:"}
	if h.CohortColumn != "" {
		t.Columns = append(t.Columns, Column{Name: "cohort", Title: h.CohortColumn, Key: true})
	}
	t.Columns = append(t.Columns,
		Column{Name: "release_site", Title: "released at", Key: true},
		Column{Name: "released", Title: "released", Kind: Count})
	for _, s := range h.River.Sites[min(1, len(h.River.Sites)):] {
		t.Columns = append(t.Columns, Column{Name: s.Name, Title: s.Name, Kind: Count})
	}
	t.Columns = append(t.Columns, Column{Title: "never again", Kind: Count})
	for _, n := range h.NextSeen() {
		var row []Cell
		if h.CohortColumn != "" {
			row = append(row, T(h.Cohorts[n.Cohort]))
		}
		row = append(row, T(h.River.Sites[n.Site].Name), I(n.Released))
		for k := 1; k < len(n.Next); k++ {
			if k <= n.Site {
				row = append(row, None())
			} else {
				row = append(row, I(n.Next[k]))
			}
		}
		t.Rows = append(t.Rows, append(row, I(n.Never())))
	}
	return t
}

// patterns turns detection histories into cells, a column a row of antennas.
type patterns struct {
	*history.Histories
	masks  []uint64
	siteOf []int
}

func newPatterns(h *history.Histories) patterns {
	return patterns{h, h.River.SiteMasks(), h.River.SiteOfRow()}
}

// patternColumns: the release site, every row below it, and where the fish was
// taken out.
func patternColumns(h *history.Histories) []Column {
	r := &h.River
	if len(r.Sites) == 0 {
		return nil
	}
	cols := []Column{{Name: r.Sites[0].Name, Title: r.Sites[0].Name, Kind: Count}}
	for b := range r.Rows() {
		cols = append(cols, Column{Name: r.RowLabel(b), Title: breakable(r.RowLabel(b)), Kind: Count})
	}
	removed := Column{Name: "removed"}
	for _, e := range h.End {
		if e == history.Removed {
			removed.Title = "removed at"
			break
		}
	}
	return append(cols, removed)
}

// breakable lets the header of a site's row break before the row.
func breakable(label string) string {
	for i := range label {
		if label[i] == '/' {
			return label[:i+1] + " " + label[i+1:]
		}
	}
	return label
}

func (p patterns) cells(i int) []Cell {
	entry := int(p.Entry[i])
	bit := func(site int, seen bool) Cell {
		if site == entry || site > entry && seen {
			return N(1)
		}
		return N(0)
	}
	out := append(make([]Cell, 0, len(p.siteOf)+2), bit(0, false))
	for b, k := range p.siteOf {
		out = append(out, bit(k, p.Seen[i]>>b&1 == 1))
	}
	removed := ""
	if p.End[i] == history.Removed {
		removed = p.River.Sites[p.LastSite(i, p.masks)].Name
	}
	return append(out, T(removed))
}

func attribute(c *history.Column, i int) Cell {
	if c.IsCategory() {
		if c.Level[i] < 0 {
			return T("")
		}
		return T(c.Levels[c.Level[i]])
	}
	if c.Value[i] != c.Value[i] {
		return T("")
	}
	return T(strconv.FormatFloat(c.Value[i], 'g', -1, 64))
}

func moment(ms int64) Cell {
	if ms == history.NoTime {
		return T("")
	}
	return T(time.UnixMilli(ms).UTC().Format("2006-01-02T15:04:05.999Z07:00"))
}
