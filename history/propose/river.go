package propose

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"example.org/unseen/history/clock"
	"example.org/unseen/history/tagindex"
)

const (
	// orderTags is how many tags the order of the sites is guessed from.
	orderTags = 20_000
	// maxNames bounds how many sites, and antennas of a site, are told apart.
	maxNames = 1 << 10
)

// river reads the array files through and orders the sites by who sees a tag
// first.
func (g *guess) river(ctx context.Context) error {
	bySite := map[string]*guessedSite{}
	firsts := map[string]map[string]int64{}
	fishTags := g.fish.columns[g.tag(g.fish)].values
	form := tagindex.Form{Text: g.text}
	known := map[string]bool{}
	for v := range fishTags {
		if tag, _, err := form.Canonical(v); err == nil {
			known[tag] = true
		}
	}
	for _, t := range g.sightings {
		col := g.columns[t]
		layout, _, _ := t.dates(col).survey.Settle(g.order)
		if col.date >= 0 {
			layout.Kind = clock.Calendar // as AppendJoined writes it
		}
		err := eachRecord(ctx, t.path, func([]string, byte) {}, func(fields []string, _ int) bool {
			place := max(col.site, col.antenna)
			if col.site >= 0 {
				place = col.site
			}
			if col.tag < 0 || place < 0 || ctx.Err() != nil {
				return false
			}
			when := fields[col.time]
			if col.date >= 0 {
				when = string(clock.AppendJoined(nil, []byte(fields[col.date]), []byte(when)))
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
			tag, _, err := form.Canonical(fields[col.tag])
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
	names := slices.DeleteFunc(slices.Sorted(maps.Keys(bySite)), func(name string) bool {
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
