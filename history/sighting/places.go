package sighting

import (
	"maps"
	"math"
	"slices"
	"time"

	"golang.org/x/text/unicode/norm"

	"example.org/unseen/history/clock"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/study"
)

// Places that are none.
const (
	unknownSite    = -1
	unknownAntenna = -2
)

// Place is an antenna row, or the site where fish enter first.
type Place struct {
	Site int // index in the river's sites
	// Row is the numbered row; -1 at the first site.
	Row     int
	Windows []rule.Window // in which it worked; none: always

	zone  int // index into places.zones
	fixes []clockFix
}

type clockFix struct {
	rule.Window // in the reader's own, uncorrected time
	add         int64
}

func fixesOf(clock []study.ClockFix) (fixes []clockFix) {
	for _, c := range clock {
		fixes = append(fixes, clockFix{rule.WindowOf(c.Window), int64(math.Round(c.Seconds * 1000))})
	}
	return fixes
}

// correction is what must be added to a recorded moment.
func correction(fixes []clockFix, recorded int64) (ms int64) {
	for i := range fixes {
		if f := &fixes[i]; recorded >= f.From && recorded < f.To {
			ms += f.add
		}
	}
	return ms
}

// places finds the place of a record from its site and antenna.
type places struct {
	list  []Place
	zones []*clock.Zone
	// zoneAt are the zones by name.
	zoneAt map[string]int
	// site gives for a site's name its first place, and how many rows it has.
	site map[string]siteEntry
	// antenna gives the place of an antenna by its site and name, and by its
	// name alone where one site has it; several are the names two sites have.
	antenna map[antennaAt]int
	several map[string]bool
}

// antennaAt is an antenna; site is "" where its name alone must do.
type antennaAt struct{ site, antenna string }

type siteEntry struct {
	first, rows int
	listed      bool // the site lists its antennas
}

func newPlaces(st *study.Study) *places {
	p := &places{zoneAt: map[string]int{}, site: map[string]siteEntry{}, antenna: map[antennaAt]int{}, several: map[string]bool{}}
	p.zones = []*clock.Zone{clock.NewZone(st.Location)}
	row := -1
	for k := range st.Sites {
		x := &st.Sites[k]
		zone := 0
		if x.TimeZone != "" {
			zone = p.zone(x.TimeZone, x.Location)
		}
		base := Place{Site: k, Row: -1, zone: zone}
		for _, w := range x.Working {
			base.Windows = append(base.Windows, rule.WindowOf(w))
		}
		base.fixes = fixesOf(x.Clock)
		rows := x.Rows
		if len(rows) == 0 {
			rows = []study.Row{{Antennas: x.Antennas}}
		}
		entry := siteEntry{first: len(p.list), rows: len(rows)}
		names := siteSpellings(x)
		for _, r := range rows {
			if k > 0 {
				row++
				base.Row = row
			}
			for _, a := range r.Antennas {
				for _, site := range names {
					for _, antenna := range spellings(a) {
						p.antenna[antennaAt{site, antenna}] = len(p.list)
					}
				}
				for _, a := range spellings(a) {
					if at, ok := p.antenna[antennaAt{"", a}]; ok && p.list[at].Site != k {
						p.several[a] = true
					} else if !ok {
						p.antenna[antennaAt{"", a}] = len(p.list)
					}
				}
				entry.listed = true
			}
			if r.Name != "" {
				for _, site := range names {
					for _, name := range spellings(site + "/" + r.Name) {
						p.site[name] = siteEntry{first: len(p.list), rows: 1}
					}
				}
			}
			place := base
			place.Windows = slices.Clip(base.Windows)
			for _, w := range r.Working {
				place.Windows = append(place.Windows, rule.WindowOf(w))
			}
			p.list = append(p.list, place)
		}
		for _, name := range names {
			p.site[name] = entry
		}
	}
	return p
}

// spellings are a name as it may stand in files: an accent is part of its letter,
// or a sign of its own, as in what was taken from the name of a file on a Mac.
func spellings(name string) []string {
	return slices.Compact(slices.Sorted(slices.Values([]string{name, norm.NFC.String(name), norm.NFD.String(name)})))
}

// siteSpellings are the names of a site as they may stand in files.
func siteSpellings(s *study.Site) (out []string) {
	for _, name := range slices.Concat([]string{s.Name}, s.Aliases) {
		out = append(out, spellings(name)...)
	}
	return out
}

// usual keeps the names in which accents are part of their letters.
func usual(names []string) []string {
	return slices.DeleteFunc(names, func(n string) bool { return !norm.NFC.IsNormalString(n) })
}

// zone is the number of a zone by its name.
func (p *places) zone(name string, at *time.Location) int {
	zone, ok := p.zoneAt[name]
	if !ok {
		zone = len(p.zones)
		p.zoneAt[name] = zone
		p.zones = append(p.zones, clock.NewZone(at))
	}
	return zone
}

// find gives the place of a record, or unknownSite or unknownAntenna. A site
// that lists no antenna takes every one; a row's own label will do for a site,
// whatever the antenna.
func (p *places) find(site, antenna string, hasSite, hasAntenna bool) int {
	if !hasSite {
		if at, ok := p.antenna[antennaAt{"", antenna}]; ok {
			return at
		}
		if e, ok := p.site[antenna]; ok && e.rows == 1 && !e.listed {
			return e.first
		}
		return unknownAntenna
	}
	e, ok := p.site[site]
	switch {
	case !ok:
		return unknownSite
	case e.listed && hasAntenna:
		if at, ok := p.antenna[antennaAt{site, antenna}]; ok {
			return at
		}
		return unknownAntenna
	case e.rows > 1 && p.list[e.first].Row >= 0:
		return unknownAntenna // which row cannot be told
	}
	return e.first
}

// siteNames and antennaNames are for proposals.
func (p *places) siteNames() []string { return usual(slices.Sorted(maps.Keys(p.site))) }

func (p *places) antennaNames() []string {
	var names []string
	for a := range p.antenna {
		names = append(names, a.antenna)
	}
	slices.Sort(names)
	return usual(slices.Compact(names))
}
