package desk

import (
	"context"
	"fmt"
	"html/template"
	"slices"
	"strconv"
	"strings"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/page"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history/propose"
	"example.org/unseen/history/sighting"
	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
	"example.org/unseen/history/tagindex"
)

// card is a table with its first records as understood.
type card struct {
	ID       string
	Name     string
	Kind     string // of a study that is not written yet
	Sentence string
	Guessed  bool // nobody said yet that it is right
	First    template.HTML
	Fields   []field
	Layout   []field // of how it is written
}

// kindWords are what a table can be, in words.
var kindWords = map[propose.Kind]string{
	propose.Fish: "the tagged fish", propose.Sightings: "sightings", propose.Recaptures: "fish caught again, for growth", propose.Unused: "not used",
}

var kindsInOrder = []propose.Kind{propose.Fish, propose.Sightings, propose.Recaptures, propose.Unused}

// roleWords are what columns are for, in words.
var roleWords = map[string]string{
	"tag": "tag", "released": "time of release", "time": "time", "date": "date", "clock": "time of day, where it stands apart",
	"site": "site", "antenna": "antenna", "cohort": "release group (cohort)", "removed": "taken out at", "second_tag": "second tag",
	"length_mm": "length, mm", "weight_g": "weight, g",
}

func roleLabel(kind propose.Kind, role string) string {
	if kind == propose.Fish && role == "site" {
		return "place of release"
	}
	return "Column: " + roleWords[role]
}

// sayable is what can be said of a table, with what it is taken for.
func sayable(t *propose.Taken) (out []field) {
	choices := slices.Concat([]string{""}, slices.DeleteFunc(slices.Clone(t.Header), func(s string) bool { return s == "" }))
	for _, role := range propose.Roles[t.Kind] {
		out = append(out, field{"column-" + role, roleLabel(t.Kind, role), t.Columns[role], "", choices})
	}
	if t.Kind == propose.Sightings {
		out = append(out, field{"site", "Or all records are of the site", t.Site, "", nil})
	}
	return append(out, layoutOf(t)...)
}

// takes refuses what a field cannot be.
func (f *field) takes(value string) error {
	if f.Choices != nil && !slices.Contains(f.Choices, value) {
		return fmt.Errorf("%s cannot be %q; there are %s", f.Label, value, strings.Join(f.Choices[1:], ", "))
	}
	if f.Name == "header_line" {
		_, err := headerLines(value)
		return err
	}
	return nil
}

// layoutOf are how a table is written.
func layoutOf(t *propose.Taken) (out []field) {
	if t.Kind == propose.Fish || t.Kind == propose.Sightings {
		order := ""
		if t.Order != 0 {
			order = t.Order.String()
		}
		out = append(out, field{"time_zone", "Its clock keeps the zone", t.TimeZone, "as the whole study", nil},
			field{"date_order", "Day and month", order, "", []string{"", "day first", "month first"}})
	}
	decimal := ""
	if t.Reading.Decimal != 0 {
		decimal = string(t.Reading.Decimal)
	}
	return append(out, field{"header_line", "Line with the names of the columns", headerWords(t.Reading.HeaderLine), "the first; 0 is none", nil},
		field{"delimiter", "Fields are parted by", t.Reading.Delimiter, "", []string{"", ",", ";", "\t", "|", study.Blanks}},
		field{"decimal", "Decimal mark", decimal, "", []string{"", ".", ","}},
		field{"encoding", "Encoding", t.Reading.Encoding, "as windows-1252", nil})
}

func headerWords(lines []int) string {
	var out []string
	for _, n := range lines {
		out = append(out, strconv.Itoa(n))
	}
	return strings.Join(out, ", ")
}

// headerLines are the lines that a person names, as 7 or 2, 3.
func headerLines(words string) ([]int, error) {
	if words == "" {
		return nil, nil
	}
	var out []int
	for _, w := range strings.FieldsFunc(words, func(r rune) bool { return r == ',' || r == ' ' }) {
		n, err := strconv.Atoi(w)
		if err != nil || n < 0 || n > 1_000_000 || len(out) > 0 && n != out[len(out)-1]+1 {
			return nil, fmt.Errorf("the line with the names of the columns is %q; it is a number, 0 where no line names them, or lines that follow one another, as 2, 3", words)
		}
		out = append(out, n)
	}
	return out, nil
}

// sentence says in one sentence what a table is taken for.
func sentence(t *propose.Taken, st *study.Study) string {
	q := func(role string) string { return "“" + t.Columns[role] + "”" }
	in := func(words, role string) string {
		if t.Columns[role] == "" {
			return ""
		}
		return ", " + words + " in " + q(role)
	}
	times := func(words, role string) string {
		if t.Columns[role] == "" {
			return ""
		}
		s := ", " + words + " in " + q(role)
		if t.Columns["clock"] != "" {
			s += " and " + q("clock")
		}
		if t.Order != 0 {
			s += ", read " + t.Order.String()
		}
		switch {
		case t.TimeZone != "":
			s += ", in the zone " + t.TimeZone
		case st != nil && st.TimeZone != "":
			s += ", in the zone " + st.TimeZone
		default:
			s += ", in UTC"
		}
		return s
	}
	s := ""
	switch t.Kind {
	case propose.Fish:
		s = "The tagged fish" + in("tags", "tag") + times("released as", "released") + in("release groups", "cohort") + in("places of release", "site") + in("taken out", "removed") + in("second tags", "second_tag")
	case propose.Sightings:
		s = "Sightings"
		if t.Site != "" {
			s += " of " + t.Site
		}
		s += in("tags", "tag") + times("times", "time") + in("sites", "site") + in("antennas", "antenna")
	case propose.Recaptures:
		s = "Fish caught again" + in("tags", "tag") + in("dates", "date") + in("lengths", "length_mm") + in("weights", "weight_g") + in("sites", "site")
	default:
		s = "Not used"
		if t.Why != "" {
			s += ": " + t.Why
		}
	}
	return s + "."
}

// fileOf is a table to be opened as it is taken.
func fileOf(t *propose.Taken) table.File {
	wanted := slices.Collect(func(yield func(string) bool) {
		for _, name := range t.Columns {
			if name != "" && !yield(name) {
				return
			}
		}
	})
	return table.File{Path: t.Path, Name: t.File, Reading: t.Reading, Wants: func(header []string) bool {
		return !slices.ContainsFunc(wanted, func(s string) bool { return !slices.Contains(header, s) })
	}}
}

// cards are tables with their first records, as understood where they are.
func (l *looking) cards(tables []propose.Taken, st *study.Study, data *analysis.Data) ([]card, error) {
	var out []card
	for i := range tables {
		t := &tables[i]
		c := card{ID: fmt.Sprint("table-", i), Name: t.Name, Sentence: sentence(t, st)}
		_, raw, err := propose.FirstRecords(l.ctx, fileOf(t), shownFirst)
		if l.ctx.Err() != nil {
			return nil, l.ctx.Err()
		}
		if err != nil && t.Why == "" {
			c.Sentence += " It cannot be read: " + err.Error()
		}
		shown := asUnderstood(t, st, data, raw)
		if c.First, err = page.Fragment(page.Block{Section: view.Section{Tables: []view.Table{shown}}}); err != nil {
			return nil, err
		}
		if !l.opt.ReadOnly {
			typed := l.typed("table", t.Name)
			for _, f := range sayable(t) {
				f.Value = typed(f.Name, f.Value)
				if strings.HasPrefix(f.Name, "column-") || f.Name == "site" {
					c.Fields = append(c.Fields, f)
				} else {
					c.Layout = append(c.Layout, f)
				}
			}
		}
		out = append(out, c)
	}
	return out, nil
}

// asUnderstood shows records as the file has them, and beside what they are
// understood to be, as far as they are.
func asUnderstood(t *propose.Taken, st *study.Study, data *analysis.Data, raw []propose.Record) view.Table {
	out := view.Table{Title: "The first records of " + t.Name, Columns: []view.Column{{Title: "line", Key: true}, {Title: "as written"}}}
	for _, r := range raw {
		out.Rows = append(out.Rows, []view.Cell{view.T(strconv.Itoa(r.Line)), view.T(clipped(r.Text))})
	}
	switch {
	case data == nil || t.Kind != propose.Fish && t.Kind != propose.Sightings:
		// As it is taken apart.
		for k, name := range t.Header {
			if k >= 12 {
				break
			}
			out.Columns = append(out.Columns, view.Column{Title: name})
			for i := range raw {
				cell := ""
				if k < len(raw[i].Fields) {
					cell = raw[i].Fields[k]
				}
				out.Rows[i] = append(out.Rows[i], view.T(cell))
			}
		}
	case t.Kind == propose.Fish:
		at := slices.Index(t.Header, t.Columns["tag"])
		var fish []int
		for i := range raw {
			k := -1
			if at >= 0 && at < len(raw[i].Fields) {
				written := raw[i].Fields[at]
				if tag, _, err := (tagindex.Form{Text: st.TagForm == "text"}).Canonical(written); err == nil {
					written = tag
				}
				k = slices.Index(data.Histories.Tag, written)
			}
			fish = append(fish, k)
		}
		understood := view.FishTable(data, slices.DeleteFunc(slices.Clone(fish), func(k int) bool { return k < 0 }))
		out.Columns = append(out.Columns, understood.Columns...)
		n := 0
		for i, k := range fish {
			if k < 0 {
				out.Rows[i] = append(out.Rows[i], view.T("no fish"))
				for range understood.Columns[1:] {
					out.Rows[i] = append(out.Rows[i], view.T("–"))
				}
				continue
			}
			out.Rows[i] = append(out.Rows[i], understood.Rows[n]...)
			n++
		}
	default:
		understood := view.RecordsTable(data, nil)
		out.Columns = append(out.Columns, understood.Columns[2:]...)
		for i := range raw {
			k := slices.IndexFunc(data.First, func(j sighting.Judged) bool { return j.File == t.Name && j.Line == raw[i].Line })
			if k < 0 {
				for range understood.Columns[2:] {
					out.Rows[i] = append(out.Rows[i], view.T("–"))
				}
				continue
			}
			out.Rows[i] = append(out.Rows[i], view.RecordsTable(data, data.First[k:k+1]).Rows[0][2:]...)
		}
	}
	for i := range out.Columns[2:] {
		out.Columns[i+2].Key = false
	}
	return out
}

// clipped is a record of a length that can be looked at.
func clipped(s string) string {
	const most = 160
	if r := []rune(s); len(r) > most {
		return string(r[:most]) + "…"
	}
	return s
}

// takenOf are the tables of a study as it takes them.
func takenOf(ctx context.Context, st *study.Study) ([]propose.Taken, error) {
	var out []propose.Taken
	add := func(t propose.Taken) {
		header, _, err := propose.FirstRecords(ctx, fileOf(&t), 1)
		if err != nil {
			t.Why = err.Error()
		}
		t.Header = header
		for role, name := range t.Columns {
			if !slices.Contains(header, name) {
				delete(t.Columns, role) // one that the table may lack
			}
		}
		out = append(out, t)
	}
	if f := st.Fish; f != nil {
		t := propose.Taken{Name: f.Written, File: f.Written, Path: f.File, Kind: propose.Fish, Reading: f.Reading, TimeZone: f.TimeZone, Order: orderOf(f.DateOrder),
			Columns: map[string]string{"clock": f.Joined["released"], "cohort": f.Cohort, "second_tag": f.SecondTag}}
		for _, role := range []string{"tag", "released", "site", "removed"} {
			t.Columns[role] = f.Column(role)
		}
		add(t)
	}
	if st.Sightings != nil {
		files, _, _, err := table.Files(st)
		if err != nil {
			return nil, err
		}
		for _, file := range files {
			g := st.Sightings[file.Group]
			header, _, err := propose.FirstRecords(ctx, file, 1)
			t := propose.Taken{Name: file.Name, File: file.Name, Path: file.Path, Kind: propose.Sightings, Reading: file.Reading, Site: g.Site,
				TimeZone: g.TimeZone, Order: orderOf(g.DateOrder), Columns: map[string]string{}, Header: header}
			if err != nil {
				t.Why = err.Error()
			}
			name := func(role, ours string) {
				called := g.Columns[ours]
				if len(called) == 0 && ours != "date" {
					called = []string{ours}
				}
				if i := table.FindName(header, called); i >= 0 {
					t.Columns[role] = header[i]
				}
			}
			name("tag", "tag")
			name("time", "time")
			if name("clock", "date"); t.Columns["clock"] != "" { // the date is the first of the two
				t.Columns["time"], t.Columns["clock"] = t.Columns["clock"], t.Columns["time"]
			}
			name("site", "site")
			name("antenna", "antenna")
			out = append(out, t)
		}
	}
	if r := st.Recaptures; r != nil {
		t := propose.Taken{Name: r.Written, File: r.Written, Path: r.File, Kind: propose.Recaptures, Reading: r.Reading, Columns: map[string]string{}}
		for _, role := range propose.Roles[propose.Recaptures] {
			t.Columns[role] = r.Column(role)
		}
		add(t)
	}
	return out, nil
}
