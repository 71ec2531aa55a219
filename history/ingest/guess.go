package ingest

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"example.org/unseen/history"
	"example.org/unseen/history/clock"
	"example.org/unseen/history/read"
	"example.org/unseen/history/study"
	"example.org/unseen/history/tagcode"
)

// Proposal is a study file made by looking at a user's tables.
type Proposal struct {
	// Study is the text of the study file, with what is not sure as comments.
	Study string
	// Doubts are what the user should confirm, a sentence each.
	Doubts []string
	// Fish is the tagging table and Sightings the array files, from the folder
	// of the study file; Other are tables that seem to be neither.
	Fish      string
	Sightings []string
	Other     []string
}

// Guess looks at the tables under the paths (files, or folders with all that
// is in them) and proposes a study file that will stand in the folder base.
// Columns are told by what they hold, not by what they are called. The error
// says what is missing where no study can be proposed.
func Guess(ctx context.Context, paths []string, base string) (*Proposal, error) {
	g := &guess{base: base}
	if err := g.gather(ctx, paths); err != nil {
		return nil, err
	}
	if err := g.roles(); err != nil {
		return nil, err
	}
	if err := g.mapSightings(); err != nil {
		return nil, err
	}
	if err := g.river(ctx); err != nil {
		return nil, err
	}
	return g.render(), nil
}

type guess struct {
	base   string
	tables []*glimpse
	doubts []string

	text      bool // tags are plain text
	fish      *glimpse
	sightings []*glimpse
	other     []string
	columns   map[*glimpse]columns // of the array files
	release   string               // name of the release site
	sites     []*guessedSite
	rare      []*guessedSite // with so few records that they may be none
	order     clock.Order
	orderSaid string
	offsets   bool // times say their instant
}

// glimpse is what the first records of a table show.
type glimpse struct {
	path, name string
	header     []string
	delim      byte
	records    int
	columns    []glimpseColumn
	textTag    int // the column of tags in plain text
}

// glimpseColumn is a column's first values.
type glimpseColumn struct {
	name                string
	filled, tags, times int
	numbers             int
	values              map[string]int
	absolute            int
	dateOnly            int
	clocks              int // times of day without a date
	survey              clock.Survey
	commas              int
}

// glimpseRecords is how many records of a table are looked at.
const glimpseRecords = 5000

func (g *guess) doubt(format string, args ...any) {
	g.doubts = append(g.doubts, fmt.Sprintf(format, args...))
}

func (g *guess) gather(ctx context.Context, paths []string) error {
	st := &study.Study{Path: filepath.Join(g.base, "study.toml"), Sightings: &study.SightingFiles{Files: paths, Written: paths}}
	files, _, err := expand(st)
	if err != nil {
		return errors.New(strings.TrimPrefix(err.Error(), ": [sightings] files: "))
	}
	for _, f := range files {
		if err := ctx.Err(); err != nil {
			return err
		}
		if !isTableFile(f.path) {
			continue
		}
		t, err := look(f)
		if err != nil {
			g.doubt("%s cannot be read and is left out: %v", f.name, err)
			continue
		}
		g.tables = append(g.tables, t)
	}
	if len(g.tables) == 0 {
		return fmt.Errorf("no table (%s) among %s", strings.Join(tableEndings, " "), strings.Join(paths, ", "))
	}
	return nil
}

func look(f arrayFile) (*glimpse, error) {
	t := &glimpse{path: f.path, name: f.name}
	err := eachFields(f.path, func(names []string, delim byte) {
		t.header, t.delim = names, delim
		t.columns = make([]glimpseColumn, len(names))
		for i := range t.columns {
			t.columns[i] = glimpseColumn{name: names[i], values: map[string]int{}}
		}
	}, func(fields []string, line int) bool {
		t.records++
		for i := range t.columns {
			t.columns[i].add(strings.TrimSpace(fields[i]), line)
		}
		return t.records < glimpseRecords
	})
	return t, err
}

// eachFields gives the header and then each sound record of a table, until f
// says enough.
func eachFields(path string, head func(names []string, delim byte), f func(fields []string, line int) bool) error {
	if strings.HasSuffix(strings.ToLower(path), ".xlsx") {
		t, err := read.Open(path)
		if err != nil {
			return err
		}
		defer t.Close()
		head(t.Header, ',')
		fields := make([]string, len(t.Header))
		for t.Next() {
			for i := range fields {
				fields[i] = t.Field(i)
			}
			if !f(fields, t.Line()) {
				return nil
			}
		}
		return nil
	}
	s, err := openSource(path, false)
	if err != nil {
		return err
	}
	defer s.shut()
	b := newBlocks(s)
	var buf []byte
	var x splitter
	var fields []string
	for {
		data, line, tooLong, err := b.next(context.Background(), buf)
		if errors.Is(err, io.EOF) {
			if fields == nil {
				return errors.New("the file is empty")
			}
			return nil
		}
		if err != nil {
			return err
		}
		if tooLong {
			continue
		}
		buf = data
		if fields == nil {
			first, rest, lines := header(data)
			if first == nil {
				continue
			}
			x.delim = delimiterOf(first)
			names, err := splitHeader(first, x.delim)
			if err != nil {
				return err
			}
			head(names, x.delim)
			fields = make([]string, len(names))
			data, line = rest, line+lines
		}
		for ; len(data) > 0; line++ {
			var record []byte
			record, data = cutLine(data)
			if isBlank(record) {
				continue
			}
			cut, ok := x.any(record)
			if !ok || cut.count() != len(fields) {
				continue
			}
			for i := range fields {
				fields[i] = string(cut.at(i))
			}
			if !f(fields, line) {
				return nil
			}
		}
	}
}

var timeOfDay = regexp.MustCompile(`^\d{1,2}:\d\d(:\d\d(\.\d+)?)?$`)

func (c *glimpseColumn) add(cell string, line int) {
	if read.IsMissing(cell) {
		return
	}
	c.filled++
	c.values[cell]++
	if _, err := tagcode.Parse(cell); err == nil {
		c.tags++
	}
	if v, fault := (clock.Layout{Order: clock.DayFirst}).Parse([]byte(cell)); fault == clock.OK || fault == clock.WrongOrder {
		c.times++
		if v.Absolute {
			c.absolute++
		}
		if v.DateOnly {
			c.dateOnly++
		}
		c.survey.Add([]byte(cell), line)
	}
	if timeOfDay.MatchString(cell) {
		c.clocks++
	} else if _, ok := dayFraction(cell); ok && named(c.name, "time", "hour", "clock") {
		c.clocks++ // as a spreadsheet keeps it
	}
	if _, ok := read.ParseNumber(cell); ok {
		c.numbers++
	} else if _, ok := read.ParseNumber(strings.Replace(cell, ",", ".", 1)); ok {
		c.numbers++
		c.commas++
	}
}

// mostly tells whether nearly all filled cells are of a kind.
func (c *glimpseColumn) mostly(n int) bool {
	return c.filled > 0 && float64(n) >= 0.8*float64(c.filled)
}

// isTime: calendar times, or numbers that are days or seconds throughout. A
// column of plain numbers of five digits is no column of times unless it has
// fractions of days, or is called one.
func (c *glimpseColumn) isTime() bool {
	if !c.mostly(c.times) || c.mostly(c.tags) {
		return false
	}
	return !c.mostly(c.numbers) || c.dateOnly < c.times/2 || named(c.name, "date", "time", "released", "release")
}

// named tells whether a column's name holds one of the words.
func named(name string, words ...string) bool {
	name = strings.ToLower(name)
	return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(name, w) })
}

// tagColumn is the column of tags; -1 where there is none.
func (t *glimpse) tagColumn() int {
	best := -1
	for i := range t.columns {
		if c := &t.columns[i]; c.mostly(c.tags) && (best < 0 || c.tags > t.columns[best].tags) {
			best = i
		}
	}
	return best
}

// timeColumn is the likeliest column of times.
func (t *glimpse) timeColumn(words ...string) int {
	best, most := -1, -1
	for i := range t.columns {
		c := &t.columns[i]
		if !c.isTime() {
			continue
		}
		score := c.times
		if c.dateOnly < c.times {
			score += glimpseRecords // a time of day tells more than a date
		}
		if named(c.name, words...) {
			score += 2 * glimpseRecords
		}
		if score > most {
			best, most = i, score
		}
	}
	return best
}

// roles tells the fish table from the array files.
func (g *guess) roles() error {
	var tagged []*glimpse
	for _, t := range g.tables {
		if t.tagColumn() >= 0 && t.timeColumn() >= 0 {
			tagged = append(tagged, t)
		}
	}
	if len(tagged) < 2 {
		if text := g.textTags(); len(text) >= 2 {
			tagged, g.text = text, true
			g.doubt("no column holds ISO 11784 codes; %q looks like the tag, as plain text", tagged[0].columns[g.tag(tagged[0])].name)
		}
	}
	if len(tagged) < 2 {
		var names []string
		for _, t := range g.tables {
			names = append(names, t.name)
		}
		return fmt.Errorf("a study needs a fish table and at least one table of sightings, each with a column of tags and one of times; found %d such among %s", len(tagged), strings.Join(names, ", "))
	}
	score := func(t *glimpse) float64 {
		tags := &t.columns[g.tag(t)]
		s := 3 * (2*float64(len(tags.values))/float64(max(1, tags.filled)) - 1) // each fish once
		for i := range t.columns {
			c := &t.columns[i]
			if i != g.tag(t) && c.mostly(c.numbers) && !c.isTime() && len(c.values) > 10 {
				s++
			}
			if named(c.name, "length", "weight", "species", "released", "cohort", "removed") {
				s++
			}
			if named(c.name, "antenna", "reader", "array") {
				s -= 2
			}
		}
		return s
	}
	slices.SortStableFunc(tagged, func(a, b *glimpse) int { return cmp.Compare(score(b), score(a)) })
	g.fish, g.sightings = tagged[0], tagged[1:]
	if score(tagged[0])-score(tagged[1]) < 1 {
		g.doubt("%s is taken for the fish table, but %s looks much the same", tagged[0].name, tagged[1].name)
	}
	slices.SortFunc(g.sightings, func(a, b *glimpse) int { return history.NaturalCompare(a.name, b.name) })
	for _, t := range g.tables {
		if t != g.fish && !slices.Contains(g.sightings, t) {
			g.other = append(g.other, t.name)
		}
	}
	return nil
}

func (g *guess) tag(t *glimpse) int {
	if g.text {
		return t.textTag
	}
	return t.tagColumn()
}

// textTags are the tables that share the values of a column, which could be a
// tag in plain text: of all pairs of columns of two tables that of most shared
// values.
func (g *guess) textTags() []*glimpse {
	var out []*glimpse
	for _, t := range g.tables {
		t.textTag = -1
		most := 1
		for _, u := range g.tables {
			if u == t || t.timeColumn() < 0 || u.timeColumn() < 0 {
				continue
			}
			for i := range t.columns {
				for k := range u.columns {
					if n := shared(&t.columns[i], &u.columns[k]); n > most {
						t.textTag, most = i, n
					}
				}
			}
		}
		if t.textTag >= 0 {
			out = append(out, t)
		}
	}
	return out
}

// shared is how many values two columns share, where both could be tags: not
// times, nor numbers unless called a tag.
func shared(a, b *glimpseColumn) int {
	for _, c := range []*glimpseColumn{a, b} {
		if c.isTime() || c.mostly(c.numbers) && !named(c.name, "tag", "code") {
			return 0
		}
	}
	n := 0
	for v := range a.values {
		if b.values[v] > 0 {
			n++
		}
	}
	return n
}

// mapTable tells the columns of an array file.
func (g *guess) mapTable(t *glimpse) (columns, error) {
	c := columns{tag: g.tag(t), site: -1, antenna: -1, time: t.timeColumn("time", "date"), date: -1}
	if x := &t.columns[c.time]; x.dateOnly == x.times {
		if i := slices.IndexFunc(t.columns, func(x glimpseColumn) bool { return x.mostly(x.clocks) }); i >= 0 {
			c.date, c.time = c.time, i
		}
	}
	// Places are few and come back often.
	var places []int
	for i := range t.columns {
		x := &t.columns[i]
		if i != c.tag && i != c.time && i != c.date && x.filled > 0 && len(x.values) <= 200 && len(x.values)*3 <= x.filled+6 && !x.isTime() && float64(x.filled) > 0.8*float64(t.records) {
			places = append(places, i)
		}
	}
	slices.SortStableFunc(places, func(a, b int) int { return cmp.Compare(placeScore(&t.columns[b]), placeScore(&t.columns[a])) })
	switch len(places) {
	case 0:
		return c, fmt.Errorf("%s: no column looks like the site or antenna of a sighting; its columns are %s", t.name, strings.Join(t.header, ", "))
	case 1:
		c.site = places[0]
		if named(t.header[c.site], "antenna") {
			c.antenna, c.site = c.site, -1
		}
	default:
		// Of a site and its antennas the site has fewer names.
		c.site, c.antenna = places[0], places[1]
		if a, s := &t.columns[c.antenna], &t.columns[c.site]; named(s.name, "antenna") || !named(s.name, "site") && len(a.values) < len(s.values) {
			c.site, c.antenna = c.antenna, c.site
		}
		if len(places) > 2 {
			g.doubt("%s: %q is taken for the site and %q for the antenna; other columns could be", t.name, t.header[c.site], t.header[c.antenna])
		}
	}
	return c, nil
}

// role is one of our columns of an array file.
type role struct {
	ours string
	at   func(*columns) *int
}

var roles = []role{
	{"tag", func(c *columns) *int { return &c.tag }},
	{"site", func(c *columns) *int { return &c.site }},
	{"antenna", func(c *columns) *int { return &c.antenna }},
	{"date", func(c *columns) *int { return &c.date }},
	{"time", func(c *columns) *int { return &c.time }},
}

// mapSightings tells the columns of all array files: those called as in the
// first file are the same, others are told by what they hold.
func (g *guess) mapSightings() error {
	g.columns = map[*glimpse]columns{}
	t := g.sightings[0]
	first, err := g.mapTable(t)
	if err != nil {
		return err
	}
	g.columns[t] = first
	for _, u := range g.sightings[1:] {
		own, err := g.mapTable(u)
		for _, r := range roles {
			if i := *r.at(&first); i >= 0 {
				if k := slices.Index(u.header, t.header[i]); k >= 0 {
					*r.at(&own) = k
				}
			}
		}
		if err != nil && own.site < 0 && own.antenna < 0 {
			return err
		}
		for _, r := range roles {
			a, b := *r.at(&first), *r.at(&own)
			if a >= 0 && b >= 0 && !strings.EqualFold(t.header[a], u.header[b]) {
				g.doubt("%s: %q is taken for what %s calls %q", u.name, u.header[b], t.name, t.header[a])
			}
		}
		g.columns[u] = own
	}
	g.offsets = true
	for _, u := range g.sightings {
		x := u.dates(g.columns[u])
		g.offsets = g.offsets && x.absolute == x.times
		if l, _, err := x.survey.Settle(clock.Unsettled); err != nil {
			g.orderSaid = err.Error()
			g.order = clock.DayFirst
		} else if l.Order != clock.Unsettled && g.order == clock.Unsettled {
			g.order = l.Order
		}
	}
	if i := g.fish.timeColumn("released", "release", "time", "date"); i >= 0 && g.orderSaid == "" {
		if _, _, err := g.fish.columns[i].survey.Settle(clock.Unsettled); err != nil {
			g.orderSaid = err.Error()
			if g.order == clock.Unsettled {
				g.order = clock.DayFirst
			}
		}
	}
	return nil
}

// dates is the column that holds the dates.
func (t *glimpse) dates(c columns) *glimpseColumn {
	if c.date >= 0 {
		return &t.columns[c.date]
	}
	return &t.columns[c.time]
}

// placeScore says how much a column looks like a place.
func placeScore(c *glimpseColumn) float64 {
	s := 0.0
	if named(c.name, "site", "station", "location", "array") {
		s += 3
	}
	if named(c.name, "antenna", "reader") {
		s += 2
	}
	if !c.mostly(c.numbers) {
		s++
	}
	if len(c.values) > 1 {
		s++
	}
	return s
}

// guessedSite is a site as the sightings show it.
type guessedSite struct {
	name        string
	records     int64
	first, last int64
	antennas    map[string]int64
	wins        int // over other sites
}

// orderTags is how many tags the order of the sites is guessed from.
const orderTags = 20_000

// river reads the array files through and orders the sites by who sees a tag
// first.
func (g *guess) river(ctx context.Context) error {
	bySite := map[string]*guessedSite{}
	firsts := map[string]map[string]int64{}
	fishTags := g.fish.columns[g.tag(g.fish)].values
	form := tagReader{text: g.text}
	known := map[string]bool{}
	for v := range fishTags {
		if tag, _, err := form.canonical(v); err == nil {
			known[tag] = true
		}
	}
	for _, t := range g.sightings {
		col := g.columns[t]
		layout, _, _ := t.dates(col).survey.Settle(g.order)
		if col.date >= 0 {
			layout.Kind = clock.Calendar // as joinDate writes it
		}
		err := eachFields(t.path, func([]string, byte) {}, func(fields []string, _ int) bool {
			place := max(col.site, col.antenna)
			if col.site >= 0 {
				place = col.site
			}
			if col.tag < 0 || place < 0 || ctx.Err() != nil {
				return false
			}
			when := fields[col.time]
			if col.date >= 0 {
				when = string(joinDate(nil, []byte(fields[col.date]), []byte(when)))
			}
			v, fault := layout.Parse([]byte(when))
			if fault != clock.OK {
				return true
			}
			name := strings.TrimSpace(fields[place])
			if name == "" {
				return true
			}
			s := bySite[name]
			if s == nil {
				if len(bySite) >= maxNames {
					return true
				}
				s = &guessedSite{name: name, first: v.Ms, last: v.Ms, antennas: map[string]int64{}}
				bySite[name] = s
			}
			s.records++
			s.first, s.last = min(s.first, v.Ms), max(s.last, v.Ms)
			if col.site >= 0 && col.antenna >= 0 && len(s.antennas) < maxNames {
				s.antennas[strings.TrimSpace(fields[col.antenna])]++
			}
			tag, _, err := form.canonical(fields[col.tag])
			if err != nil || !known[tag] {
				return true
			}
			m := firsts[tag]
			if m == nil {
				if len(firsts) >= orderTags {
					return true
				}
				m = map[string]int64{}
				firsts[strings.Clone(tag)] = m
			}
			if old, ok := m[name]; !ok || v.Ms < old {
				m[name] = v.Ms
			}
			return true
		})
		if err = cmp.Or(ctx.Err(), err); err != nil {
			return err
		}
	}
	total := int64(0)
	for _, s := range bySite {
		total += s.records
	}
	names := slices.DeleteFunc(sortedKeys(bySite), func(name string) bool {
		s := bySite[name]
		// A handful of records among thousands: a workbench, more likely.
		if few := s.records*200 < total && s.records < 20; few {
			g.rare = append(g.rare, s)
			return true
		}
		return false
	})
	for i, a := range names {
		for _, b := range names[i+1:] {
			ab, ba := 0, 0
			for _, m := range firsts {
				x, ok1 := m[a]
				y, ok2 := m[b]
				if ok1 && ok2 && x < y {
					ab++
				} else if ok1 && ok2 && x > y {
					ba++
				}
			}
			if ab > ba {
				bySite[a].wins++
			} else if ba > ab {
				bySite[b].wins++
			}
			if n := ab + ba; n > 0 && float64(min(ab, ba)) > 0.2*float64(n) {
				g.doubt("of %d fish sighted at both %q and %q, %d came to the first earlier: their order is not sure", n, a, b, ab)
			} else if n == 0 {
				g.doubt("no fish was sighted at both %q and %q: their order is not sure", a, b)
			}
		}
	}
	for _, name := range names {
		g.sites = append(g.sites, bySite[name])
		if strings.Contains(name, "/") {
			g.doubt("%q cannot be the name of a site, for its \"/\": call it otherwise in the array files, or name its antennas and leave out the site column", name)
		}
	}
	slices.SortStableFunc(g.sites, func(a, b *guessedSite) int { return cmp.Compare(b.wins, a.wins) })
	if len(g.sites) == 0 {
		return fmt.Errorf("%s: no record has a time that can be read", g.sightings[0].name)
	}
	return nil
}

// quoted writes a TOML string.
func quoted(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == unicode.ReplacementChar || unicode.IsControl(r):
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

func (g *guess) render() *Proposal {
	var b strings.Builder
	line := func(format string, args ...any) {
		// In quotes control characters are escaped; comments cannot hold any.
		b.WriteString(strings.Map(func(r rune) rune {
			if unicode.IsControl(r) {
				return ' '
			}
			return r
		}, fmt.Sprintf(format, args...)))
		b.WriteByte('\n')
	}
	line("# A study proposed by looking at your tables. Lines marked ? are guesses:")
	line("# confirm or correct them, then run: unseen check STUDY")
	line("")
	line("title = %s", quoted(filepath.Base(absolute(g.base))))
	if g.offsets {
		line("# time_zone = \"Europe/Dublin\"   # the sightings write their offset; this is for other times without one")
	} else {
		line("time_zone = \"UTC\"   # ? the sightings have no offset: name the zone the readers' clocks keep, as \"Europe/Dublin\"")
		g.doubt("the times have no offset; they are taken as UTC. Set time_zone to what the readers' clocks keep")
	}
	if g.orderSaid != "" {
		line("date_order = %s   # ? every date could also be %s", quoted(clock.DayFirst.String()), clock.MonthFirst)
		g.doubt("dates can be read day first or month first; day first is proposed")
	}
	if g.text {
		line("tag_form = \"text\"   # ? the tags are no ISO 11784 codes")
	}
	g.renderFish(line)
	line("")
	line("[sightings]")
	var names []string
	for _, s := range g.sightings {
		names = append(names, quoted(s.name))
	}
	line("files = [%s]", strings.Join(names, ", "))
	line("%s", g.sightingColumns())
	for _, t := range g.sightings {
		if x := delimiterNames[t.delim]; x != "" {
			line("# %s: fields are parted by %s", t.name, x)
		}
	}
	line("")
	line("# Sites in downstream order, the release site first. km is the distance along")
	line("# the river, falling or rising throughout; give it at all sites or at none.")
	released := g.release
	if i := slices.IndexFunc(g.sites, func(s *guessedSite) bool { return s.name == released }); i >= 0 {
		first := g.sites[i]
		g.sites = slices.Insert(slices.Delete(g.sites, i, i+1), 0, first)
	} else {
		if released == "" {
			released = "Release site"
			g.doubt("the tables do not name the place of release; it is called \"Release site\"")
		}
		line("[[site]]")
		line("name = %s   # ? where the fish were released", quoted(released))
		line("# km = ")
	}
	zone := clock.UTC
	for _, s := range g.sites {
		line("")
		line("[[site]]   # %d records from %s to %s", s.records, zone.Format(s.first)[:16], zone.Format(s.last)[:16])
		line("name = %s", quoted(s.name))
		line("# km = ")
		if len(s.antennas) > 0 {
			var counts, list []string
			for _, a := range slices.SortedFunc(maps.Keys(s.antennas), history.NaturalCompare) {
				counts = append(counts, fmt.Sprintf("%s (%d)", quoted(a), s.antennas[a]))
				list = append(list, quoted(a))
			}
			line("# antennas: %s", strings.Join(counts, ", "))
			if n := len(list); n > 1 {
				line("# if they stand in rows across the river, in whichever order: rows = { upper = [%s], lower = [%s] }",
					strings.Join(list[:n/2], ", "), strings.Join(list[n/2:], ", "))
			}
		}
	}
	for _, s := range g.rare {
		line("")
		line("# ? %s has only %d records: a place on the river, or a workbench? As a site it would be", quoted(s.name), s.records)
		line("# [[site]]")
		line("# name = %s", quoted(s.name))
		g.doubt("%q has only %d records and is left out", s.name, s.records)
	}
	if len(g.sites) > 1 {
		g.doubt("the order of the sites is guessed from which of them sees a fish first: %s", siteList(g.sites))
	}
	if len(g.other) > 0 {
		g.doubt("not used: %s", strings.Join(g.other, ", "))
	}
	if len(g.doubts) > 0 {
		line("")
		line("# Not sure:")
		for _, d := range g.doubts {
			line("# - %s", strings.ReplaceAll(d, "\n", " "))
		}
	}
	p := &Proposal{Study: b.String(), Doubts: g.doubts, Fish: g.fish.name, Other: g.other}
	for _, s := range g.sightings {
		p.Sightings = append(p.Sightings, s.name)
	}
	return p
}

func siteList(sites []*guessedSite) string {
	var names []string
	for _, s := range sites {
		names = append(names, s.name)
	}
	return strings.Join(names, ", ")
}

func absolute(dir string) string {
	if a, err := filepath.Abs(dir); err == nil {
		return a
	}
	return dir
}

// columnsLine is the mapping of our names to a table's, or a comment where
// they are the same.
func columnsLine(ours []string, at []int, header []string) string {
	var pairs []string
	for i, name := range ours {
		if at[i] >= 0 && header[at[i]] != name {
			pairs = append(pairs, name+" = "+quoted(header[at[i]]))
		}
	}
	if len(pairs) == 0 {
		return "# the columns are called as unseen calls them: " + strings.Join(header, ", ")
	}
	return "columns = { " + strings.Join(pairs, ", ") + " }   # ?"
}

// sightingColumns is the mapping of our names to those of the array files.
func (g *guess) sightingColumns() string {
	var pairs []string
	for _, r := range roles {
		var called []string
		for _, t := range g.sightings {
			c := g.columns[t]
			same := func(s string) bool { return strings.EqualFold(s, quoted(t.header[*r.at(&c)])) }
			if i := *r.at(&c); i >= 0 && !slices.ContainsFunc(called, same) {
				called = append(called, quoted(t.header[i]))
			}
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

func (g *guess) renderFish(line func(string, ...any)) {
	t := g.fish
	tag, released := g.tag(t), t.timeColumn("released", "release", "time", "date")
	line("")
	line("[fish]   # %d records looked at", t.records)
	line("file = %s", quoted(t.name))
	if x := delimiterNames[t.delim]; x != "" {
		commas := slices.ContainsFunc(t.columns, func(c glimpseColumn) bool { return c.commas > 0 && c.mostly(c.numbers) })
		if commas {
			x += ", numbers have a decimal comma"
		}
		line("# fields are parted by %s", x)
	}
	ours, at := []string{"tag", "released"}, []int{tag, released}
	var kinds, cohorts, attributes []string
	for i := range t.columns {
		c := &t.columns[i]
		if i == tag || i == released || c.name == "" {
			continue
		}
		if slices.Contains(study.Reserved, c.name) && c.name != "cohort" && c.name != "site" {
			ours, at = append(ours, c.name+"_name"), append(at, i)
		}
		switch {
		case c.filled > 0 && c.numbers > 0 && c.numbers < c.filled && !slices.Contains([]string{"removed", "removed_site", "died", "shed", "site"}, c.name):
			kinds = append(kinds, quoted(c.name)+` = "category"`)
			g.doubt("%s: the column %q holds text and numbers; it is taken as a category", t.name, c.name)
		case named(c.name, "release site", "release_site", "trap") && len(c.values) == 1:
			for v := range c.values {
				g.release = v
			}
		}
		attributes = append(attributes, quoted(c.name))
		if n := len(c.values); n >= 2 && n <= 50 && c.filled == t.records && n*5 <= c.filled && !c.isTime() && c.name != "removed" && c.name != "died" && c.name != "shed" {
			cohorts = append(cohorts, c.name)
		}
	}
	line("%s", columnsLine(ours, at, t.header))
	if len(kinds) > 0 {
		line("kinds = { %s }   # ?", strings.Join(kinds, ", "))
	}
	if i := slices.IndexFunc(cohorts, func(s string) bool { return named(s, "cohort", "week", "group") }); i >= 0 {
		line("cohort = %s   # ?", quoted(cohorts[i]))
	} else if len(cohorts) > 0 {
		other := ""
		if len(cohorts) > 1 {
			other = " or " + strings.Join(cohorts[1:], ", ")
		}
		line("# cohort = %s   # ? take the # away if that is the release group%s", quoted(cohorts[0]), other)
	}
	if len(attributes) > 0 {
		line("# also read, for models and growth: %s", strings.Join(attributes, ", "))
	}
	if t.columns[released].filled < t.records {
		g.doubt("%s: some fish have no release time", t.name)
	}
}
