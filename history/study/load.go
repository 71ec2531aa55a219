package study

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"
)

// Load reads and checks the study file at path. All its faults are reported
// together, as *[history.Faults].
func Load(path string) (*Study, error) {
	data, err := ReadFile(path, LargestStudy)
	if err != nil {
		return nil, fmt.Errorf("the study file cannot be read: %w", err)
	}
	return Parse(path, data)
}

// Parse is [Load] of a file's bytes; name stands in messages, and its folder
// is where the study's tables are.
func Parse(name string, data []byte) (*Study, error) {
	sum := sha256.Sum256(data)
	root, err := parseTree(name, trimBOM(data))
	if err != nil {
		return nil, err
	}
	d := &decoder{}
	s := &Study{Path: name, SHA256: hex.EncodeToString(sum[:])}
	d.study(s, root)
	d.check(s)
	if err := d.faults.Err(); err != nil {
		return nil, err
	}
	return s, nil
}

// Today is as_of in a study that is read anew each day: the day on which the
// program runs.
const Today = "today"

// now is the time of day, but in tests.
var now = time.Now

// TodayEnds is the end of the day in loc, nil is UTC, on which the program runs.
func TodayEnds(loc *time.Location) time.Time {
	if loc == nil {
		loc = time.UTC
	}
	y, m, d := now().In(loc).Date()
	return dayStart(toml.LocalDate{Year: y, Month: int(m), Day: d + 1}, loc)
}

func (d *decoder) study(s *Study, t *table) {
	s.Title, _ = d.text(t, "title")
	s.Animal, s.Occasion = d.noun(t, "animal"), d.noun(t, "occasion")
	s.TimeZone, s.Location = d.zone(t, "time_zone", time.UTC)
	if n := d.get(t, "as_of"); n != nil {
		s.AsOfPos = n.pos
		switch v := n.value.(type) {
		case toml.LocalDate:
			s.AsOf = dayStart(toml.LocalDate{Year: v.Year, Month: v.Month, Day: v.Day + 1}, s.Location)
		case string:
			if s.AsOf = TodayEnds(s.Location); v != Today {
				d.wrong(n, "as_of", "a date or time without quotes, such as 2025-05-20T12:00:00, or \"today\"")
			}
		default:
			s.AsOf = d.moment(n, "as_of", s.Location)
		}
	}
	if n := d.get(t, "last_day"); n != nil {
		s.LastDayPos = n.pos
		if v, ok := n.value.(toml.LocalDate); ok {
			s.LastDay = dayStart(v, s.Location)
		} else {
			d.wrong(n, "last_day", "a date without a time and without quotes, such as 2025-05-20")
		}
	}
	s.DateOrder, s.DateOrderPos = d.oneOf(t, "date_order", "day first", "month first")
	if s.TagForm, _ = d.oneOf(t, "tag_form", "text", "iso 11784"); s.TagForm != "text" {
		s.TagForm = ""
	}
	s.Missing, _ = d.oneOf(t, "missing", "drop", "mean")
	s.Units, s.UnitsPos = d.textMap(t, "units", false)

	dir := filepath.Dir(s.Path)
	if x := d.sub(t, "fish"); x != nil {
		s.Fish = &FishTable{Table: *d.file(x, dir, true, "released")}
		s.Fish.TimeZone, s.Fish.Location = d.zone(x, "time_zone", s.Location)
		s.Fish.DateOrder, _ = d.oneOf(x, "date_order", "day first", "month first")
		s.Fish.AliasesPos = x.pos
		if n := x.nodes["aliases"]; n != nil {
			s.Fish.AliasesPos = n.pos
		}
		s.Fish.Aliases, _ = d.textMap(x, "aliases", false)
		s.Fish.SecondTag, s.Fish.SecondTagPos = d.text(x, "second_tag")
		s.Fish.ReleasedAt = d.timeOfDay(x, "released_at")
		d.done(x)
	}
	for _, x := range d.oneOrMore(t, "sightings") {
		s.Sightings = append(s.Sightings, d.sightings(x, dir, s.Location))
	}
	for _, f := range []struct {
		key  string
		into **Table
		fish bool
	}{
		{"histories", &s.Histories, true},
		{"next_seen", &s.NextSeen, true},
		{"conditions", &s.Conditions, false},
		{"recaptures", &s.Recaptures, false},
	} {
		if x := d.sub(t, f.key); x != nil {
			*f.into = d.file(x, dir, f.fish)
			d.done(x)
		}
	}
	for _, x := range d.tables(t, "site") {
		s.Sites = append(s.Sites, d.site(x, s.Location))
	}
	for _, x := range d.tables(t, "test_passes") {
		s.TestPasses = append(s.TestPasses, d.testPasses(x))
	}
	for _, x := range d.tables(t, "hold") {
		s.Holds = append(s.Holds, d.hold(x))
	}
	for _, x := range d.tables(t, "model") {
		s.Models = append(s.Models, d.model(x))
	}
	if x := d.sub(t, "retention"); x != nil {
		s.Retention = d.retention(x)
	}
	if x := d.sub(t, "rules"); x != nil {
		s.Rules = d.rules(x)
	}
	d.done(t)
}

// file is a table file; fish tells whether its records are fish, which have
// kinds and a cohort. joins are our columns that may be two in the file.
func (d *decoder) file(t *table, dir string, fish bool, joins ...string) *Table {
	out := &Table{Pos: t.pos, Title: t.title, Reading: d.reading(t)}
	d.columnTable(t, &out.Reading)
	out.Joins = d.joins(t)
	for _, ours := range joins {
		out.Joined = d.joined(t, ours)
	}
	out.Written, out.FilePos = d.text(t, "file")
	if t.nodes["file"] == nil {
		d.fault(t.pos, "%s needs file, the name of its table", t.title)
	}
	out.File = d.found(out.FilePos, dir, out.Written)
	out.Columns, out.ColumnPos = d.textMap(t, "columns", false)
	if fish {
		out.Kinds, out.KindPos = d.textMap(t, "kinds", false)
		for _, k := range slices.Sorted(keys(out.Kinds)) {
			if v := out.Kinds[k]; v != "number" && v != "category" {
				d.fault(out.KindPos[k], "kinds.%s is %q; a kind is \"number\" or \"category\"", k, v)
			}
		}
		out.Cohort, out.CohortPos = d.text(t, "cohort")
	}
	return out
}

// joined takes released = { join = ["Date", "Time"] } out of columns: the name of
// the second column, while the first takes its place there.
func (d *decoder) joined(t *table, key string) map[string]string {
	n := t.nodes["columns"]
	if n == nil {
		return nil
	}
	columns, ok := n.value.(*table)
	if !ok || columns.nodes[key] == nil {
		return nil
	}
	n = columns.nodes[key]
	first, second, ok := d.join(n, "columns."+key)
	if !ok {
		return nil
	}
	columns.nodes[key] = &node{pos: n.pos, value: first}
	return map[string]string{key: second}
}

// timeOfDay is a time such as "20:00", since midnight; nil when absent or refused.
func (d *decoder) timeOfDay(t *table, key string) *time.Duration {
	s, pos := d.text(t, key)
	if s == "" {
		return nil
	}
	at, err := time.Parse("15:04", s)
	if err != nil {
		d.fault(pos, "%s is %q; it must be a time of day in quotes, such as \"20:00\"", key, s)
		return nil
	}
	since := time.Duration(at.Hour())*time.Hour + time.Duration(at.Minute())*time.Minute
	return &since
}

func (d *decoder) site(t *table, zone *time.Location) Site {
	s := Site{Pos: t.pos}
	var pos Pos
	s.Name, pos = d.text(t, "name")
	if t.nodes["name"] == nil {
		d.fault(t.pos, "a [[site]] needs a name")
	} else {
		d.plainName(pos, "name", s.Name)
	}
	s.Aliases, s.AliasesPos = d.texts(t, "aliases")
	s.Km, s.KmPos = d.number(t, "km")
	s.TimeZone, s.Location = d.zone(t, "time_zone", zone)
	d.rows(&s, t)
	d.attributes(&s, t)
	d.working(&s, t)
	s.Clock = d.clock(t, s.Location)
	d.done(t)
	return s
}

// rows reads the rows of a site and its antennas: rows = { upper = ["north"] },
// or the rows' names alone where sightings are not read. One row is an
// undivided site.
func (d *decoder) rows(s *Site, t *table) {
	n := d.get(t, "rows")
	s.Antennas, _ = d.texts(t, "antennas")
	if n == nil {
		return
	}
	switch v := n.value.(type) {
	case *table:
		for _, k := range v.keys {
			s.Rows = append(s.Rows, Row{Name: strings.TrimSpace(k), Antennas: d.textList(v.nodes[k], "rows."+k)})
			d.plainName(v.nodes[k].pos, "row", k)
		}
	case []*node:
		for _, name := range d.textList(n, "rows") {
			s.Rows = append(s.Rows, Row{Name: name})
			d.plainName(n.pos, "row", name)
		}
	default:
		d.wrong(n, "rows", `a table of antennas by row, such as { upper = ["north"], lower = ["south"] }`)
		return
	}
	if len(s.Rows) == 0 {
		d.fault(n.pos, "rows is empty; leave it out for an undivided site")
	}
	seen := map[string]bool{}
	for _, r := range s.Rows {
		if r.Name == "" {
			d.fault(n.pos, "a row needs a name")
		}
		if seen[r.Name] {
			d.fault(n.pos, "row %q stands twice", r.Name)
		}
		seen[r.Name] = true
	}
	if len(s.Antennas) > 0 {
		d.fault(t.nodes["antennas"].pos, "a site with rows lists its antennas there; leave out antennas")
	}
	if len(s.Rows) == 1 {
		s.Antennas, s.Rows = s.Rows[0].Antennas, nil
	}
}

// attributes reads a site's values for models. The days of the reach that ends
// there are one of them, whether written among them or as a key of the site.
func (d *decoder) attributes(s *Site, t *table) {
	days, daysPos := d.positive(t, "days")
	sub := d.sub(t, "attributes")
	if sub != nil || days > 0 {
		s.Attributes = map[string]float64{}
	}
	if sub != nil {
		for _, k := range sub.keys {
			n := sub.nodes[k]
			if slices.Contains(Reserved, k) {
				d.fault(n.pos, "%q is a word of the model language; call the attribute something else", k)
			}
			if b, ok := n.value.(bool); ok {
				s.Attributes[k] = 0
				if b {
					s.Attributes[k] = 1
				}
				continue
			}
			s.Attributes[k] = d.numberOf(n, "attributes."+k)
		}
	}
	if v, ok := s.Attributes["days"]; ok {
		if v <= 0 {
			d.fault(sub.nodes["days"].pos, "attributes.days is %v; the length of a reach in days must be above 0", v)
		}
		if days > 0 && v != days {
			d.fault(daysPos, "days is %v here and %v among the attributes; give it once", days, v)
		}
		days = v
	}
	s.Days = math.NaN()
	if days > 0 {
		s.Days, s.Attributes["days"] = days, days
	}
}

func (d *decoder) working(s *Site, t *table) {
	n := d.get(t, "working")
	if n == nil {
		return
	}
	rows, ok := n.value.(*table)
	if !ok {
		s.Working = d.windows(n, "working", s.Location)
		return
	}
	for _, k := range rows.keys {
		i := slices.IndexFunc(s.Rows, func(r Row) bool { return r.Name == strings.TrimSpace(k) })
		if i < 0 {
			d.fault(rows.nodes[k].pos, "working: site %q has no row %q", s.Name, k)
			continue
		}
		s.Rows[i].Working = d.windows(rows.nodes[k], "working."+k, s.Location)
	}
}

// windows reads a list of windows.
func (d *decoder) windows(n *node, what string, zone *time.Location) (out []Window) {
	const want = "a list of windows, each [from, to]"
	list, ok := n.value.([]*node)
	if !ok {
		d.wrong(n, what, want)
		return nil
	}
	for _, x := range list {
		ends, ok := x.value.([]*node)
		if !ok || len(ends) != 2 {
			d.fault(x.pos, "%s must be %s", what, want)
			continue
		}
		w := Window{Pos: ends[0].pos, From: d.moment(ends[0], what, zone), To: d.moment(ends[1], what, zone)}
		d.forward(w, what)
		out = append(out, w)
	}
	d.apart(out, what)
	return out
}

// apart refuses windows that overlap: what was meant to lie between them is gone.
func (d *decoder) apart(windows []Window, what string) {
	list := slices.SortedStableFunc(slices.Values(windows), func(a, b Window) int { return a.From.Compare(b.From) })
	for i := 1; i < len(list); i++ {
		a, b := list[i-1], list[i]
		if b.From.Before(a.To) && a.From.Before(a.To) && b.From.Before(b.To) {
			d.fault(b.Pos, "%s: the window from %s to %s begins before that from %s to %s ends; windows may touch but not overlap", what,
				b.From.Format(time.RFC3339), b.To.Format(time.RFC3339), a.From.Format(time.RFC3339), a.To.Format(time.RFC3339))
		}
		if b.To.Before(a.To) {
			list[i] = a
		}
	}
}

func (d *decoder) testPasses(t *table) TestPasses {
	x := TestPasses{Pos: t.pos}
	x.Site, _ = d.text(t, "site")
	if t.nodes["site"] == nil {
		d.fault(t.pos, "[[test_passes]] needs site")
	}
	x.Row, _ = d.text(t, "row")
	var passes, read bool
	x.Passes, passes = d.count(t, "passes")
	x.Read, read = d.count(t, "read")
	if passes && x.Passes == 0 {
		d.fault(t.nodes["passes"].pos, "passes is 0; leave out test passes that were not made")
	} else if passes && read && x.Read > x.Passes {
		d.fault(t.nodes["read"].pos, "read is %d of %d passes; more cannot be read than passed", x.Read, x.Passes)
	}
	x.Where, x.WherePos = d.where(t)
	d.done(t)
	return x
}

// where narrows an entry to categories: where = { cohort = "early" }.
func (d *decoder) where(t *table) (map[string]string, Pos) {
	m, _ := d.textMap(t, "where", true)
	if n := t.nodes["where"]; n != nil {
		return m, n.pos
	}
	return m, t.pos
}

func (d *decoder) hold(t *table) Hold {
	h := Hold{Pos: t.pos}
	h.Reach, _ = d.text(t, "reach")
	h.Site, _ = d.text(t, "site")
	h.Row, _ = d.text(t, "row")
	h.Survival = d.share(t, "survival")
	h.Detection = d.share(t, "detection")
	h.Where, h.WherePos = d.where(t)
	survival, detection := t.nodes["survival"] != nil, t.nodes["detection"] != nil
	switch {
	case survival && detection:
		d.fault(t.pos, "[[hold]] holds survival or detection, not both; write two")
	case !survival && !detection:
		d.fault(t.pos, "[[hold]] needs survival (of a reach) or detection (at a site)")
	case survival && (t.nodes["reach"] == nil || t.nodes["site"] != nil || t.nodes["row"] != nil):
		d.fault(t.pos, "survival is held for a reach: reach = \"A to B\", without site or row")
	case detection && (t.nodes["site"] == nil || t.nodes["reach"] != nil):
		d.fault(t.pos, "detection is held at a site: site = \"A\", without reach")
	}
	d.done(t)
	return h
}

// share is a number from 0 to 1; NaN when absent or refused.
func (d *decoder) share(t *table, key string) float64 {
	v, pos := d.number(t, key)
	if v < 0 || v > 1 {
		d.fault(pos, "%s is %v; it must lie between 0 and 1", key, v)
		return math.NaN()
	}
	return v
}

func (d *decoder) model(t *table) Model {
	m := Model{Pos: t.pos, Terms: map[string]string{}, Links: map[string]string{}, At: map[string]Pos{}}
	m.Name, _ = d.text(t, "name")
	if t.nodes["name"] == nil {
		d.fault(t.pos, "a [[model]] needs a name")
	}
	for i := range Parts {
		p := &Parts[i]
		m.Terms[p.Key], m.At[p.Key] = d.text(t, p.Key)
		if p.Links != nil {
			m.Links[p.Key], m.At[p.LinkKey()] = d.oneOf(t, p.LinkKey(), p.Links...)
		}
	}
	d.done(t)
	return m
}

func (d *decoder) retention(t *table) *Retention {
	r := &Retention{Pos: t.pos}
	var held, kept bool
	r.Held, held = d.count(t, "held")
	r.Kept, kept = d.count(t, "kept")
	if held && r.Held == 0 {
		d.fault(t.nodes["held"].pos, "held is 0; leave out [retention] when no fish was held")
	} else if held && kept && r.Kept > r.Held {
		d.fault(t.nodes["kept"].pos, "kept is %d of %d held; more cannot keep their tag than were held", r.Kept, r.Held)
	}
	d.done(t)
	return r
}

func (d *decoder) rules(t *table) Rules {
	r := Rules{Pos: t.pos}
	r.TestTags, r.TestTagsPos = d.texts(t, "test_tags")
	r.GhostTags, r.GhostTagsPos = d.texts(t, "ghost_tags")
	r.FastestKmPerDay, _ = d.positive(t, "fastest_km_per_day")
	r.MinimumLengthMM, _ = d.positive(t, "minimum_length_mm")
	r.ParkedDays, _ = d.positive(t, "parked_days")
	r.Off, r.OffPos = d.texts(t, "off")
	d.done(t)
	return r
}
