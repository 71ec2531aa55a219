package propose

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"example.org/unseen/history/clock"
	"example.org/unseen/history/study"
)

// Kind is what a table is to a study.
type Kind string

const (
	Guessed    Kind = ""           // nobody said
	Fish       Kind = "fish"       // the tagging table
	Sightings  Kind = "sightings"  // records of readers
	Recaptures Kind = "recaptures" // later measurements of tagged fish
	Unused     Kind = "unused"     // no table of the study
)

// Roles are what columns of a table of each kind are for, the needed ones first.
// clock is the time of day, where that stands apart from the date.
var Roles = map[Kind][]string{
	Fish:       {"tag", "released", "clock", "site", "cohort", "removed", "second_tag"},
	Sightings:  {"tag", "time", "clock", "site", "antenna"},
	Recaptures: {"tag", "date", "length_mm", "weight_g", "site"},
}

// Said is what a user says of a table, so that it is not guessed. The zero value
// says nothing.
type Said struct {
	Kind Kind // what the table is; Guessed where nobody said
	// Columns are those that play [Roles], by their names in the table; "" is
	// none of them. A role that is not there is guessed.
	Columns map[string]string
	// Site is where all records of a table of sightings were made.
	Site string
	// TimeZone is of its times without an offset, "" where the table says nothing;
	// Order of day and month.
	TimeZone string
	Order    clock.Order
	// Reading is how the file is written: its zero fields are told from it.
	Reading study.Reading
}

// Taken is a table with what it was taken for.
type Taken struct {
	// Name is the table in messages, its sheet too; File the file, from the
	// folder of the study.
	Name, File string
	Path       string
	Kind       Kind
	// Columns are those that play [Roles], Site where all records were made.
	Columns map[string]string
	Site    string
	// TimeZone and Order are as [Said] has them.
	TimeZone string
	Order    clock.Order
	Header   []string
	Reading  study.Reading
	Records  int // looked at
	// Why says why it is not used, or cannot be read.
	Why string
}

// saidOf is what was said of a table by its name.
func (g *guess) saidOf(name string) *Said {
	if s, ok := g.said[name]; ok {
		return &s
	}
	return &Said{}
}

// told is the column that the user gave a role, -1 for none; ok tells whether a
// column that the table has, or none, was named.
func (t *sample) told(role string) (i int, ok bool) {
	if t.said == nil {
		return -1, false
	}
	name, ok := t.said.Columns[role]
	if !ok || name == "" {
		return -1, ok
	}
	i = slices.Index(t.header, name)
	return i, i >= 0
}

// kind is what the user said a table is.
func (t *sample) kind() Kind {
	if t.said == nil {
		return Guessed
	}
	return t.said.Kind
}

// sameSaid tells whether two tables were said to be read alike.
func sameSaid(a, b *sample) bool {
	x, y := a.said, b.said
	if x == nil || y == nil {
		return x == y
	}
	return x.Site == y.Site && x.TimeZone == y.TimeZone && x.Order == y.Order && maps.Equal(x.Columns, y.Columns)
}

// over puts what was said of how a file is written over what was found.
func (s *Said) over(r *study.Reading) (changed bool) {
	x := &s.Reading
	if x.HeaderLine != nil {
		r.HeaderLine, changed = x.HeaderLine, true
	}
	if x.Delimiter != "" {
		r.Delimiter, r.Widths, changed = x.Delimiter, nil, true
	}
	if x.Decimal != 0 {
		r.Decimal = x.Decimal
	}
	return changed
}

// needs says which column a table lacks that is said to be of fish or sightings;
// "" if none.
func (t *sample) needs() string {
	tag, told := t.told("tag")
	switch kind := t.kind(); {
	case kind != Fish && kind != Sightings:
		return ""
	case told && tag < 0:
		return fmt.Sprintf("%s: say which of its columns holds the tags: %s", t.name, strings.Join(t.header, ", "))
	case t.timeColumn() < 0 && t.releaseColumn() < 0:
		return fmt.Sprintf("%s: say which of its columns holds the times: %s", t.name, strings.Join(t.header, ", "))
	}
	return ""
}

// placesSaid puts what was said of places over what was guessed.
func (g *guess) placesSaid() {
	for _, t := range g.sightings {
		c := g.columns[t]
		if i, ok := t.told("antenna"); ok {
			c.antenna = i
		}
		if i, ok := t.told("site"); ok {
			if c.site = i; i >= 0 {
				delete(g.places, t)
			}
		}
		if t.said != nil && t.said.Site != "" {
			c.site, g.places[t] = -1, t.said.Site
		}
		g.columns[t] = c
	}
}

// taken are the tables with what they were taken for, as far as that is known.
func (g *guess) taken() []Taken {
	out := slices.Clone(g.failed)
	for _, t := range g.tables {
		x := Taken{Name: t.name, File: t.file.Name, Path: t.file.Path, Kind: Unused, Header: t.header, Reading: t.reading, Records: t.records,
			Columns: map[string]string{}}
		name := func(role string, i int) {
			if i >= 0 && i < len(t.header) {
				x.Columns[role] = t.header[i]
			}
		}
		switch {
		case t == g.fish:
			x.Kind, x.Order = Fish, g.fishDates.order
			released := t.releaseColumn()
			name("tag", g.tag(t))
			name("released", released)
			if released >= 0 {
				x.TimeZone, _ = t.zone(g.fishColumns())
				name("clock", t.clockOf(released, true))
			}
			name("site", t.named("site"))
			name("removed", t.named("removed"))
			name("second_tag", g.secondTag(g.tag(t)))
			if c, sure := g.cohortColumn(); sure {
				x.Columns["cohort"] = c
			}
		case slices.Contains(g.sightings, t):
			x.Kind = Sightings
			c, ok := g.columns[t]
			if !ok { // the proposal came not that far
				c = columns{tag: g.tag(t), time: t.timeColumn(), site: -1, antenna: -1, date: -1}
			}
			name("tag", c.tag)
			name("time", c.time)
			if c.date >= 0 {
				name("time", c.date)
				name("clock", c.time)
			}
			name("site", c.site)
			name("antenna", c.antenna)
			x.Site = g.places[t]
			x.TimeZone, _ = t.zone(c)
			x.Order = g.orders[t]
		case t.kind() == Recaptures:
			x.Kind = Recaptures
			for role, i := range t.recaptured() {
				name(role, i)
			}
		default:
			x.Why = t.whyNot()
			name("tag", t.tagColumn())
			name("time", t.timeColumn())
		}
		out = append(out, x)
	}
	order := []Kind{Fish, Sightings, Recaptures, Unused}
	slices.SortStableFunc(out, func(a, b Taken) int { return slices.Index(order, a.Kind) - slices.Index(order, b.Kind) })
	return out
}

// named is the column that the user gave a role of ours, or else the one that is
// called so; -1 where there is none.
func (t *sample) named(role string) int {
	if i, ok := t.told(role); ok {
		return i
	}
	return slices.Index(t.header, role)
}

// recaptured are the columns of a table of recaptures.
func (t *sample) recaptured() map[string]int {
	out := map[string]int{"tag": t.tagColumn(), "date": t.bestTime(false), "length_mm": -1, "weight_g": -1, "site": t.named("site")}
	for i := range t.columns {
		c := &t.columns[i]
		switch {
		case !c.mostly(c.numbers):
		case out["weight_g"] < 0 && hinted(c.name, weightWords):
			out["weight_g"] = i
		case out["length_mm"] < 0 && i != out["weight_g"] && hinted(c.name, lengthWords):
			out["length_mm"] = i
		}
	}
	for role := range out {
		if i, ok := t.told(role); ok {
			out[role] = i
		}
	}
	return out
}

var (
	weightWords = []string{"weight", "gewicht", "poids", "peso", "vekt", "vægt", "vikt", "paino", "masa", "waga", "масса", "вес", "体重", "mass"}
	lengthWords = []string{"length", "länge", "laenge", "longueur", "largo", "longitud", "lunghezza", "lengde", "længde", "längd", "pituus", "długo", "comprimento", "длина", "体長", "lengte", "fl", "tl"}
)

// renderRecaptures writes the table that was said to be of recaptures.
func (g *guess) renderRecaptures(b *text) {
	var all []*sample
	for _, t := range g.tables {
		if t.kind() == Recaptures {
			all = append(all, t)
		}
	}
	if len(all) == 0 {
		return
	}
	t := all[0]
	b.line("")
	b.line("[recaptures]")
	b.line("file = %s", quoted(t.file.Name))
	renderReading(b, &t.reading)
	at := t.recaptured()
	var pairs []string
	for _, role := range Roles[Recaptures] {
		if i := at[role]; i >= 0 && t.header[i] != role {
			pairs = append(pairs, role+" = "+t.called(i))
		}
	}
	if len(pairs) > 0 {
		b.line("columns = { %s }", strings.Join(pairs, ", "))
	}
	for _, t := range all[1:] {
		g.doubt("a study has one table of recaptures: %s is left out", t.name)
	}
}
