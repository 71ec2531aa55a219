package desk

import (
	"context"
	"fmt"
	"html/template"
	"maps"
	"slices"
	"strconv"
	"strings"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/page"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history/clock"
	"example.org/unseen/history/propose"
	"example.org/unseen/history/sighting"
	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
	"example.org/unseen/history/tagindex"
)

// field is a value that a person gives.
type field struct {
	Name, Label, Value, Hint string
	Choices                  []string
}

// card is a table with its first records as understood.
type card struct {
	ID       string
	Name     string
	Kind     propose.Kind // of a study that is not written yet
	Sentence string
	Guessed  bool // nobody said yet that it is right
	First    template.HTML
	Fields   []field
	Layout   []field // of how it is written
}

// kindChoice is what a table can be.
type kindChoice struct {
	Key   propose.Kind
	Words string
}

// tableKinds are what a table can be, in words.
var tableKinds = []kindChoice{
	{propose.Fish, "the tagged fish"}, {propose.Sightings, "sightings"}, {propose.Recaptures, "fish caught again, for growth"}, {propose.Unused, "not used"},
}

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
func sayable(t *propose.Taken) []field { return append(columnsOf(t), layoutOf(t)...) }

// columnsOf are what the columns of a table are for.
func columnsOf(t *propose.Taken) (out []field) {
	choices := slices.Concat([]string{""}, slices.DeleteFunc(slices.Clone(t.Header), func(s string) bool { return s == "" }))
	for _, role := range propose.Roles[t.Kind] {
		out = append(out, field{"column-" + role, roleLabel(t.Kind, role), t.Columns[role], "", choices})
	}
	if t.Kind == propose.Sightings {
		out = append(out, field{"site", "Or all records are of the site", t.Site, "", nil})
	}
	return out
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
	return strings.ReplaceAll(strings.Trim(fmt.Sprint(lines), "[]"), " ", ", ")
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
		s := in(words, role)
		if s == "" {
			return ""
		}
		if t.Columns["clock"] != "" {
			s += " and " + q("clock")
		}
		if t.Order != 0 {
			s += ", read " + t.Order.String()
		}
		zone := t.TimeZone
		if zone == "" && st != nil {
			zone = st.TimeZone
		}
		if zone == "" {
			return s + ", in UTC"
		}
		return s + ", in the zone " + zone
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
	return table.File{Path: t.Path, Name: t.File, Reading: t.Reading, Wants: func(header []string) bool {
		for _, name := range t.Columns {
			if name != "" && !slices.Contains(header, name) {
				return false
			}
		}
		return true
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
			c.Fields, c.Layout = columnsOf(t), layoutOf(t)
			for _, fields := range [][]field{c.Fields, c.Layout} {
				for i := range fields {
					fields[i].Value = typed(fields[i].Name, fields[i].Value)
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
	columns, of := takenApart(t.Header)
	switch {
	case data == nil:
	case t.Kind == propose.Fish:
		columns, of = asFish(t, st, data)
	case t.Kind == propose.Sightings:
		columns, of = asSightings(t, data)
	}
	out := view.Table{Title: "The first records of " + t.Name, Columns: []view.Column{{Title: "line", Key: true}, {Title: "as written"}}}
	for _, c := range columns {
		c.Key = false
		out.Columns = append(out.Columns, c)
	}
	for _, r := range raw {
		row := append([]view.Cell{view.T(strconv.Itoa(r.Line)), view.T(clipped(r.Text))}, of(r)...)
		for len(row) < len(out.Columns) {
			row = append(row, view.T("–"))
		}
		out.Rows = append(out.Rows, row)
	}
	return out
}

// takenApart has the first fields of each record.
func takenApart(header []string) (columns []view.Column, of func(propose.Record) []view.Cell) {
	header = header[:min(len(header), 12)]
	for _, name := range header {
		columns = append(columns, view.Column{Title: name})
	}
	return columns, func(r propose.Record) (out []view.Cell) {
		for k := range header {
			cell := ""
			if k < len(r.Fields) {
				cell = r.Fields[k]
			}
			out = append(out, view.T(cell))
		}
		return out
	}
}

// asFish has the fish that each record of the tagging table became.
func asFish(t *propose.Taken, st *study.Study, data *analysis.Data) (columns []view.Column, of func(propose.Record) []view.Cell) {
	at, form := slices.Index(t.Header, t.Columns["tag"]), tagindex.Form{Text: st.TagForm == "text"}
	return view.FishTable(data, nil).Columns, func(r propose.Record) []view.Cell {
		if at >= 0 && at < len(r.Fields) {
			tag := r.Fields[at]
			if canonical, _, err := form.Canonical(tag); err == nil {
				tag = canonical
			}
			if k := slices.Index(data.Histories.Tag, tag); k >= 0 {
				return view.FishTable(data, []int{k}).Rows[0]
			}
		}
		return []view.Cell{view.T("no fish")}
	}
}

// asSightings has what each record was taken as, without file and line.
func asSightings(t *propose.Taken, data *analysis.Data) (columns []view.Column, of func(propose.Record) []view.Cell) {
	return view.RecordsTable(data, nil).Columns[2:], func(r propose.Record) []view.Cell {
		k := slices.IndexFunc(data.First, func(j sighting.Judged) bool { return j.File == t.Name && j.Line == r.Line })
		if k < 0 {
			return nil
		}
		return view.RecordsTable(data, data.First[k:k+1]).Rows[0][2:]
	}
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
	add := func(t propose.Taken, file table.File, columns func(header []string) map[string]string) {
		header, _, err := propose.FirstRecords(ctx, file, 1)
		if err != nil {
			t.Why = err.Error()
		}
		t.Header, t.Columns = header, columns(header)
		out = append(out, t)
	}
	single := func(t propose.Taken) {
		add(t, fileOf(&t), func(header []string) map[string]string {
			there := maps.Clone(t.Columns) // but for those that the table may lack
			maps.DeleteFunc(there, func(_, name string) bool { return !slices.Contains(header, name) })
			return there
		})
	}
	if f := st.Fish; f != nil {
		t := propose.Taken{Name: f.Written, File: f.Written, Path: f.File, Kind: propose.Fish, Reading: f.Reading, TimeZone: f.TimeZone, Order: orderOf(f.DateOrder),
			Columns: map[string]string{"clock": f.Joined["released"], "cohort": f.Cohort, "second_tag": f.SecondTag}}
		for _, role := range []string{"tag", "released", "site", "removed"} {
			t.Columns[role] = f.Column(role)
		}
		single(t)
	}
	if st.Sightings != nil {
		files, _, _, err := table.Files(st)
		if err != nil {
			return nil, err
		}
		for _, file := range files {
			g := st.Sightings[file.Group]
			add(propose.Taken{Name: file.Name, File: file.Name, Path: file.Path, Kind: propose.Sightings, Reading: file.Reading, Site: g.Site,
				TimeZone: g.TimeZone, Order: orderOf(g.DateOrder)}, file, func(header []string) map[string]string { return sightingColumns(g.Columns, header) })
		}
	}
	if r := st.Recaptures; r != nil {
		t := propose.Taken{Name: r.Written, File: r.Written, Path: r.File, Kind: propose.Recaptures, Reading: r.Reading, Columns: map[string]string{}}
		for _, role := range propose.Roles[propose.Recaptures] {
			t.Columns[role] = r.Column(role)
		}
		single(t)
	}
	return out, nil
}

// sightingColumns are the columns of a table of sightings that are there, by their
// roles; called has the names that the study gives them.
func sightingColumns(called map[string][]string, header []string) map[string]string {
	out := map[string]string{}
	name := func(role string, called []string) {
		if i := table.FindName(header, called); i >= 0 {
			out[role] = header[i]
		}
	}
	for _, role := range []string{"tag", "time", "site", "antenna"} {
		if len(called[role]) == 0 {
			name(role, []string{role})
		} else {
			name(role, called[role])
		}
	}
	// Where there is a date it is the first of the two.
	if name("date", called["date"]); out["date"] != "" {
		out["clock"], out["time"] = out["time"], out["date"]
		delete(out, "date")
	}
	return out
}

func orderOf(words string) clock.Order {
	for _, o := range []clock.Order{clock.DayFirst, clock.MonthFirst} {
		if o.String() == words {
			return o
		}
	}
	return clock.Unsettled
}
