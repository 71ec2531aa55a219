package propose

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/clock"
	"example.org/unseen/history/table"
	"example.org/unseen/history/tagindex"
)

const (
	// orderTags is how many tags the order of the sites is guessed from.
	orderTags = 20_000
	// maxNames bounds how many sites, and antennas of a site, are told apart.
	maxNames = 1 << 10
)

// visits are the sites as the array files show them, and when each fish came to
// each of them first.
type visits struct {
	sites map[string]*guessedSite
	first map[string]map[string]int64 // by tag and site
	form  tagindex.Form
	known func(tag string) bool // of the fish table
}

// read reads an array file.
func (v *visits) read(ctx context.Context, t *sample, col columns, site string, layout clock.Layout) error {
	place := col.site
	if place < 0 {
		place = col.antenna
	}
	if col.tag < 0 || place < 0 && site == "" {
		return nil
	}
	b, err := table.OpenBlocks(ctx, t.file, false)
	if err != nil {
		return err
	}
	defer b.Close()
	return eachRecord(ctx, b, func(fields []string, _ int) bool {
		ms, ok := col.when(fields, layout)
		name := site
		if name == "" {
			name = strings.TrimSpace(fields[place])
		}
		if !ok || name == "" {
			return true
		}
		s := v.sites[name]
		if s == nil {
			if len(v.sites) >= maxNames {
				return true
			}
			s = &guessedSite{name: name, first: ms, last: ms, antennas: map[string]int64{}}
			v.sites[name] = s
		}
		s.records++
		s.first, s.last = min(s.first, ms), max(s.last, ms)
		if (col.site >= 0 || site != "") && col.antenna >= 0 && len(s.antennas) < maxNames {
			s.antennas[strings.TrimSpace(fields[col.antenna])]++
		}
		v.came(fields[col.tag], name, ms)
		return true
	})
}

// came takes in that a fish was at a site.
func (v *visits) came(written, site string, ms int64) {
	tag, _, err := v.form.Canonical(written)
	if err != nil || !v.known(tag) {
		return
	}
	m := v.first[tag]
	if m == nil {
		if len(v.first) >= orderTags {
			return
		}
		m = map[string]int64{}
		v.first[tag] = m
	}
	if old, ok := m[site]; !ok || ms < old {
		m[site] = ms
	}
}

// near is how many fish came to both sites within half an hour.
func (v *visits) near(a, b string) (n int) {
	const halfHour = 30 * 60_000
	for _, m := range v.first {
		x, ok1 := m[a]
		if y, ok2 := m[b]; ok1 && ok2 && max(x-y, y-x) <= halfHour {
			n++
		}
	}
	return n
}

// count is how many fish came to site a before they came to b.
func (v *visits) count(a, b string) (n int) {
	for _, m := range v.first {
		x, ok1 := m[a]
		if y, ok2 := m[b]; ok1 && ok2 && x < y {
			n++
		}
	}
	return n
}

// spellings takes sites that are most likely one, written differently, for one:
// what the tables name, or else what is written more often, is its name, and the
// others its aliases. Names that differ by a slip are two sites where fish came to
// both.
func (g *guess) spellings(v *visits) {
	named := func(s *guessedSite) int {
		for _, names := range g.placeNames() {
			if _, ok := names[s.name]; ok {
				return 1
			}
		}
		return 0
	}
	sites := slices.SortedFunc(maps.Values(v.sites), func(a, b *guessedSite) int {
		return cmp.Or(cmp.Compare(named(b), named(a)), cmp.Compare(b.records, a.records), cmp.Compare(a.name, b.name))
	})
	for i, s := range sites {
		for _, main := range sites[:i] {
			if v.sites[main.name] != main || !history.Alike(main.name, s.name) {
				continue
			}
			if both := v.both(main.name, s.name); both > 0 && !history.SameSpelling(main.name, s.name) {
				g.ask("site", "%q and %q are written almost alike, but %d fish were detected at both: they are taken for two sites; if they are one, say aliases = [%s] at the first and take out the second", main.name, s.name, both, quoted(s.name))
				continue
			}
			g.ask("site", "%q (%d records) is taken for another spelling of %q, and stands in its aliases; if it is a site of its own, take it out there and give it a [[site]]", s.name, s.records, main.name)
			g.join(v, main, s)
			break
		}
	}
}

// join makes one site of two.
func (g *guess) join(v *visits, main, s *guessedSite) {
	main.aliases = append(append(main.aliases, s.name), s.aliases...)
	main.records += s.records
	main.first, main.last = min(main.first, s.first), max(main.last, s.last)
	for a, n := range s.antennas {
		main.antennas[a] += n
	}
	delete(v.sites, s.name)
	for _, m := range v.first {
		if at, ok := m[s.name]; ok {
			if old, ok := m[main.name]; !ok || at < old {
				m[main.name] = at
			}
			delete(m, s.name)
		}
	}
	for t, place := range g.places {
		if place == s.name {
			g.places[t] = main.name
		}
	}
}

// both is how many fish came to both sites.
func (v *visits) both(a, b string) (n int) {
	for _, m := range v.first {
		_, ok1 := m[a]
		if _, ok2 := m[b]; ok1 && ok2 {
			n++
		}
	}
	return n
}
