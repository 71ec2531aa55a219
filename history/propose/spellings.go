package propose

import (
	"cmp"
	"maps"
	"slices"

	"example.org/unseen/history"
)

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
