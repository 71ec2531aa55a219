package propose

import (
	"context"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"example.org/unseen/history/internal/dialect"
	"example.org/unseen/history/table"
)

// siteLine is the line above the header that names the site, and its words up to
// the name; "" where there is none.
func (t *sample) siteLine(place string) (key string) {
	for _, line := range t.above {
		if i := strings.Index(line, place); i > 0 && hinted(line[:i], siteWords) && !hinted(line[:i], readerWords) {
			return line[:i]
		}
	}
	return ""
}

// laterSites tells of array files that name their site above the header, and
// another one further down, as those that were put together by hand: all records
// would be taken for the first site's.
func (g *guess) laterSites(ctx context.Context) error {
	for _, t := range g.sightings {
		place := g.places[t]
		if place == "" {
			continue
		}
		key := t.siteLine(place)
		if key == "" {
			if err := g.sections(ctx, t); err != nil {
				return err
			}
			continue
		}
		b, err := table.OpenBlocks(ctx, t.file, false)
		if err != nil {
			return err
		}
		err = b.Each(ctx, func(x table.Block) (stop bool, err error) {
			return x.Lines(func(line []byte, number int) bool {
				rest, again := strings.CutPrefix(string(line), key)
				rest = strings.Trim(rest, " \t\r;,\"")
				if !again || rest == "" || fold(rest) == fold(place) {
					return false
				}
				g.doubts = slices.Insert(g.doubts, 0, fmt.Sprintf("%s names %s%s in line %d, but all its records are taken for %s: put those of each site into a file of their own, and begin anew", t.name, strings.TrimLeft(key, "#\" "), rest, number, place))
				return true
			}), nil
		})
		b.Close()
		if err != nil {
			return err
		}
	}
	return nil
}

// sections tells of an array file, all of one place, that has a line of words alone
// above each part of its records, another one each time: they may be places.
func (g *guess) sections(ctx context.Context, t *sample) error {
	b, err := table.OpenBlocks(ctx, t.file, false)
	if err != nil {
		return err
	}
	defer b.Close()
	texts, first, firstLine, again := map[string]bool{}, "", 0, false
	split := dialect.Splitter{Delimiter: b.Delimiter}
	err = b.Each(ctx, func(x table.Block) (stop bool, err error) {
		return x.Lines(func(line []byte, number int) bool {
			cut, ok := split.Line(line)
			if !ok || cut.Count() >= len(b.Names) && b.Delimiter != ' ' {
				return false
			}
			text := strings.TrimFunc(string(line), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
			if strings.IndexFunc(text, unicode.IsLetter) < 0 || len(text) > 60 {
				return false
			}
			again = again || texts[text]
			if texts[text] = true; first == "" {
				first, firstLine = strings.TrimSpace(string(line)), number
			}
			return again || len(texts) > 50
		}), nil
	})
	if n := len(texts); err == nil && !again && n >= 2 && n <= 50 {
		g.doubts = slices.Insert(g.doubts, 0, fmt.Sprintf("%s has %d lines of words alone among its records, the first is line %d, %q; if each names the place of the records below it, put those of each place into a file of their own, and begin anew: now all are taken for %s", t.name, n, firstLine, first, g.places[t]))
	}
	return err
}

// utc is the zone as words tell it: UTC, UTC+2, GMT-03:00.
var utc = regexp.MustCompile(`\b(?:UTC|GMT)(?:\s*([+\-−–])\s*(\d{1,2})(?::?(\d\d))?)?(?:\b|$)`)

// zoneIn is the zone that words tell, under its IANA name; "" where they tell
// none, or none of whole hours. Those names count west of Greenwich.
func zoneIn(words string) string {
	m := utc.FindStringSubmatch(words)
	if m == nil || m[3] != "" && m[3] != "00" {
		return ""
	}
	hours := strings.TrimLeft(m[2], "0")
	var n int
	if _, err := fmt.Sscan(hours, &n); hours == "" || err != nil {
		return "UTC"
	}
	switch {
	case m[1] == "+" && n <= 14:
		return fmt.Sprintf("Etc/GMT-%d", n)
	case m[1] != "+" && n <= 12:
		return fmt.Sprintf("Etc/GMT+%d", n)
	}
	return ""
}

// zone is what the headings of a table's times, or a line above the header, say
// of its clock, with those words; "" where they say nothing, or the times their
// own offset.
func (t *sample) zone(c columns) (zone, words string) {
	if t.said != nil && t.said.TimeZone != "" {
		return t.said.TimeZone, "you said"
	}
	if x := t.dates(c); x.absolute*2 > x.times {
		return "", ""
	}
	for _, i := range []int{c.time, c.date} {
		if i >= 0 {
			if zone = zoneIn(t.columns[i].name); zone != "" {
				return zone, t.columns[i].name
			}
		}
	}
	for _, line := range t.above {
		if zone = zoneIn(line); zone != "" {
			return zone, strings.Trim(line, " #;,\t\"")
		}
	}
	return "", ""
}

// fishColumns are those of the fish table's tag and release.
func (g *guess) fishColumns() columns {
	c := columns{tag: g.tag(g.fish), site: -1, antenna: -1, time: g.fish.releaseColumn(), date: -1}
	if of := g.fish.clockOf(c.time, true); of >= 0 {
		c.date, c.time = c.time, of
	}
	return c
}

// renderZone writes the zone that a table tells itself, and asks whether that is
// right, once for the same words.
func (g *guess) renderZone(b *text, t *sample, c columns) {
	zone, words := t.zone(c)
	if zone == "" {
		return
	}
	if t.said != nil && t.said.TimeZone != "" {
		b.line("time_zone = %s", quoted(zone))
		return
	}
	b.line("time_zone = %s   # ? as %q says", quoted(zone), words)
	if ask := fmt.Sprintf("%q is taken to say which clock %s keeps (time_zone = %q): confirm it", words, t.name, zone); !slices.ContainsFunc(g.doubts, func(d string) bool { return strings.HasPrefix(d, fmt.Sprintf("%q is taken", words)) }) {
		g.doubts = append(g.doubts, ask)
	}
}

// allZones tells whether every table tells its zone.
func (g *guess) allZones() bool {
	for _, t := range g.sightings {
		if zone, _ := t.zone(g.columns[t]); zone == "" {
			return false
		}
	}
	zone, _ := g.fish.zone(g.fishColumns())
	return zone != ""
}
