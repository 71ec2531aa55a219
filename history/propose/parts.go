package propose

import (
	"context"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"example.org/unseen/history/clock"
	"example.org/unseen/history/study"
)

// partsOf are the names of the columns that column i is put together of.
func (t *sample) partsOf(i int) []string {
	if i < len(t.reading.Joins) {
		return t.reading.Joins[i].Columns
	}
	return []string{t.header[i]}
}

// called is what the study calls a column of a table, or several that it joins.
func (t *sample) called(at ...int) string {
	var names []string
	for _, i := range at {
		for _, name := range t.partsOf(i) {
			if !t.reading.NoHeader() { // else its number
				name = quoted(name)
			}
			names = append(names, name)
		}
	}
	if len(names) == 1 {
		return names[0]
	}
	return "{ join = [" + strings.Join(names, ", ") + "] }"
}

// isPart tells whether a column is a part of a joined one.
func (t *sample) isPart(name string) bool {
	return slices.ContainsFunc(t.reading.Joins, func(j study.Join) bool { return slices.Contains(j.Columns, name) })
}

// joined looks at a table again with columns joined.
func (t *sample) joined(ctx context.Context, joins []study.Join) (*sample, error) {
	file := t.file
	file.Reading.Joins = joins
	u, err := takeSample(ctx, file)
	if err != nil {
		return nil, err
	}
	u.is(t)
	u.textTag = t.textTag + len(joins) - len(t.reading.Joins)
	return u, nil
}

// is takes over what is known of the same table, looked at before.
func (t *sample) is(old *sample) {
	t.found, t.name, t.said = old.found, old.name, old.said
	t.reading.Joins = t.file.Reading.Joins
	for i := range t.columns {
		t.columns[i].part = t.isPart(t.columns[i].name)
	}
}

// joinAll joins columns in tables of one header.
func joinAll(ctx context.Context, files []*sample, joins []study.Join) error {
	for _, t := range files {
		u, err := t.joined(ctx, joins)
		if err != nil {
			return err
		}
		*t = *u
	}
	return nil
}

// alikeHeaders are the tables by their headers and how they are read.
func (g *guess) alikeHeaders() (out []*alike) {
	for _, t := range g.tables {
		i := slices.IndexFunc(out, func(a *alike) bool { return a.files[0].like(t) })
		if i < 0 {
			i = len(out)
			out = append(out, &alike{})
		}
		out[i].files = append(out[i].files, t)
	}
	return out
}

// joinParts joins what stands in several columns: a date in three, and a tag of
// two where its codes are those of another table.
func (g *guess) joinParts(ctx context.Context) error {
	groups := g.alikeHeaders()
	if err := g.fillDown(ctx, groups); err != nil {
		return err
	}
	if err := g.joinTags(ctx, groups); err != nil {
		return err
	}
	for _, a := range groups {
		t := a.fullest()
		if t.timeColumn() >= 0 {
			continue
		}
		names, sure := t.dateParts()
		if names == nil {
			continue
		}
		joins := append(slices.Clone(t.reading.Joins), study.JoinColumns(false, names...))
		if u, err := t.joined(ctx, joins); err != nil || !u.columns[len(joins)-1].isTime() {
			continue
		}
		if err := joinAll(ctx, a.files, joins); err != nil {
			return err
		}
		if !sure {
			g.doubt("%s: %q is taken for the month and %q for the day", t.name, names[1], names[2])
		}
	}
	return nil
}

// fillDown fills the cells below a date, or a place, that stands once above the
// records that it is of.
func (g *guess) fillDown(ctx context.Context, groups []*alike) error {
	for _, a := range groups {
		t := a.fullest()
		var names []string
		dated := slices.ContainsFunc(t.columns, func(c sampleColumn) bool { return c.isTime() && c.filled*2 > t.records })
		for i := range t.columns {
			c := &t.columns[i]
			if c.name == "" || c.filled == 0 || c.filled*2 > t.records || t.said != nil {
				continue
			}
			date := !dated && c.isTime() && c.dateOnly*2 > c.times
			site := hinted(c.name, siteWords) && !hinted(c.name, readerWords) && c.numbers == 0 && len(c.values) <= 50 && t.tagColumn() >= 0 && t.columns[t.tagColumn()].spread() < once
			if date || site {
				names = append(names, c.name)
			}
		}
		if names == nil {
			continue
		}
		t.file.Reading.FillDown = names
		u, err := t.joined(ctx, nil)
		t.file.Reading.FillDown = nil
		if err != nil || slices.ContainsFunc(u.columns, func(c sampleColumn) bool { return slices.Contains(names, c.name) && c.filled < u.records }) {
			continue // the first record has none
		}
		for _, t := range a.files {
			t.file.Reading.FillDown, t.reading.FillDown = names, names
		}
		was := t.records - t.columns[slices.Index(t.header, names[0])].filled
		if err := joinAll(ctx, a.files, nil); err != nil {
			return err
		}
		g.doubt("%s: on %d of %d lines cells of %s are empty; they are taken to repeat the cell above (fill_down)", t.name, was, t.records, quotedList(names))
	}
	return nil
}

// joinTags joins the columns of country and number.
func (g *guess) joinTags(ctx context.Context, groups []*alike) error {
	type choice struct {
		of    *alike
		joins []study.Join
		codes map[string]bool
		met   int
	}
	var all []choice
	for _, a := range groups {
		t := a.fullest()
		if i := t.tagColumn(); i >= 0 {
			all = append(all, choice{of: a, codes: g.codes(&t.columns[i])})
			continue
		}
		for _, names := range t.tagParts() {
			joins := []study.Join{study.JoinColumns(true, names...)}
			if u, err := t.joined(ctx, joins); err == nil && u.columns[0].mostly(u.columns[0].tags) {
				all = append(all, choice{of: a, joins: joins, codes: g.codes(&u.columns[0])})
			}
		}
	}
	best := map[*alike]choice{}
	for _, x := range all {
		for _, y := range all {
			if n := 0; x.of != y.of {
				for code := range x.codes {
					if y.codes[code] {
						n++
					}
				}
				x.met = max(x.met, n)
			}
		}
		if x.joins != nil && x.met > max(1, best[x.of].met) {
			best[x.of] = x
		}
	}
	for a, x := range best {
		if err := joinAll(ctx, a.files, x.joins); err != nil {
			return err
		}
	}
	return nil
}

var (
	countryPart = regexp.MustCompile(`^[0-9A-Fa-f]{2,3}(\.0)?$`)
	numberPart  = regexp.MustCompile(`^[0-9A-Fa-f]{4,12}(\.0)?$`)
)

// tagParts are pairs of columns that may be the country or manufacturer of tags
// and their number.
func (t *sample) tagParts() (out [][]string) {
	var countries, numbers []int
	for i := range t.columns {
		c := &t.columns[i]
		switch {
		case c.name == "":
		case len(c.values) <= 30 && c.all(countryPart.MatchString):
			countries = append(countries, i)
		case len(c.values) > 1 && c.all(numberPart.MatchString):
			numbers = append(numbers, i)
		}
	}
	for _, i := range countries {
		for _, k := range numbers {
			out = append(out, []string{t.header[i], t.header[k]})
		}
	}
	return out
}

// all tells whether nearly all filled cells of a column are so: a file may repeat
// its header.
func (c *sampleColumn) all(is func(string) bool) bool {
	n := 0
	for v, times := range c.values {
		if is(v) {
			n += times
		}
	}
	return c.filled > 0 && n*20 >= c.filled*19
}

// within tells whether a column holds whole numbers from lo to hi.
func (c *sampleColumn) within(lo, hi int) bool {
	return c.all(func(v string) bool {
		n, err := strconv.Atoi(v)
		return err == nil && n >= lo && n <= hi
	})
}

var (
	dayWords   = []string{"day", "tag", "jour", "dia", "día", "dag", "päivä", "dzień", "dzien", "giorno", "den", "dan", "день", "日", "dd", "d"}
	monthWords = []string{"month", "monat", "mois", "mes", "mês", "mese", "måned", "månad", "maand", "kuukausi", "miesiąc", "miesiac", "měsíc", "mjesec", "месяц", "月", "mm", "m"}
	zoneWords  = []string{"zone", "timezone", "tz", "utc", "gmt", "offset", "zeitzone", "fuseau", "zona", "huso", "tidssone", "tidszon", "tijdzone", "strefa"}
)

// dateParts are the columns of year, month and day, and of hours, minutes and
// seconds behind them, where the table has those; sure is false where month and
// day could be the other way round.
func (t *sample) dateParts() (names []string, sure bool) {
	best := -1
	for y := range t.columns {
		if !t.columns[y].within(1950, 2099) || len(t.columns[y].values) > 5 {
			continue
		}
		for _, md := range [][2]int{{y - 1, y - 2}, {y + 1, y + 2}, {y - 2, y - 1}, {y + 2, y + 1}} {
			if min(md[0], md[1]) < 0 || max(md[0], md[1]) >= len(t.columns) {
				continue
			}
			m, d := &t.columns[md[0]], &t.columns[md[1]]
			worded := m.all(func(v string) bool {
				_, ok := readTime("1 " + v + " 2025")
				return ok && strings.Trim(v, "0123456789") != ""
			})
			if !d.within(1, 31) || !worded && !m.within(1, 12) {
				continue
			}
			told := worded || !d.within(1, 12) || hinted(m.name, monthWords) && hinted(d.name, dayWords)
			s := 1
			if told {
				s += 4
			}
			if len(m.values) <= len(d.values) {
				s++
			}
			for _, c := range []*sampleColumn{m, d, &t.columns[y]} {
				if hinted(c.name, releaseWords) {
					s++
				}
			}
			if s > best {
				best, sure = s, told
				names = append([]string{t.header[y], m.name, d.name}, t.clockParts(max(y, md[0], md[1])+1)...)
			}
		}
	}
	return names, sure
}

// clockParts are the columns of hours, minutes and perhaps seconds from column i
// on.
func (t *sample) clockParts(i int) (names []string) {
	for k, most := range []int{23, 59, 59} {
		if i+k >= len(t.columns) || !t.columns[i+k].within(0, most) {
			break
		}
		names = append(names, t.header[i+k])
	}
	if len(names) < 2 {
		return nil
	}
	return names
}

// joinHalvesAndZones joins the half of the day, and the zone, that stand in columns
// of their own, to the times of the fish and of the array files.
func (g *guess) joinHalvesAndZones(ctx context.Context) error {
	groups := append(g.likes(), &alike{files: []*sample{g.fish}})
	for n, a := range groups {
		t, release := a.fullest(), n == len(groups)-1
		at := t.bestTime(release)
		if at < 0 || t.columns[at].absolute*2 > t.columns[at].times {
			continue
		}
		names, last := t.partsOf(at), at
		if k := t.clockOf(at, release); k >= 0 {
			names, last = append(slices.Clone(names), t.header[k]), k
		}
		whole := len(names)
		for _, is := range []func(*sampleColumn) bool{(*sampleColumn).isHalfDay, (*sampleColumn).isZone} {
			if i := t.nearest(last, is); i >= 0 {
				names = append(slices.Clone(names), t.header[i])
			}
		}
		if len(names) == whole {
			g.askZone(t)
			continue
		}
		joins := slices.DeleteFunc(slices.Clone(t.reading.Joins), func(j study.Join) bool { return !j.Tag })
		joins = append(joins, study.JoinColumns(false, names...))
		if err := joinAll(ctx, a.files, joins); err != nil {
			return err
		}
	}
	return nil
}

// nearest is the column nearest to another that is so; -1 where none is.
func (t *sample) nearest(to int, is func(*sampleColumn) bool) int {
	best := -1
	for i := range t.columns {
		if c := &t.columns[i]; c.name != "" && i >= len(t.reading.Joins) && !t.isPart(c.name) && is(c) && (best < 0 || max(i-to, to-i) < max(best-to, to-best)) {
			best = i
		}
	}
	return best
}

var halfDay = regexp.MustCompile(`(?i)^[ap]\.? ?m\.?$`)

func (c *sampleColumn) isHalfDay() bool { return c.all(halfDay.MatchString) }

// isZone tells a column of zones or offsets that times understand.
func (c *sampleColumn) isZone() bool {
	return !c.isTime() && c.all(func(v string) bool {
		return slices.ContainsFunc([]string{"2025-01-15", "2025-07-15"}, func(day string) bool {
			r, fault := (clock.Layout{}).Parse([]byte(day + " 12:00:00 " + v))
			return fault == clock.OK && r.Absolute
		})
	})
}

// askZone asks about a column that seems to name the clock of the times.
func (g *guess) askZone(t *sample) {
	for i := range t.columns {
		if c := &t.columns[i]; c.filled*2 > t.records && !c.isTime() && len(c.values) <= 5 && hinted(c.name, zoneWords) {
			g.ask("time_zone", "%s: the column %q may say which clock the times are of, as %q; it is not read, so give time_zone", t.name, c.name, c.example())
		}
	}
}
