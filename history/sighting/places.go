package sighting

import (
	"fmt"
	"maps"
	"math"
	"slices"

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
	Site int
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

// fixed is a recorded moment by the right clock.
func (p *Place) fixed(recorded int64) int64 {
	ms := recorded
	for i := range p.fixes {
		if f := &p.fixes[i]; recorded >= f.From && recorded < f.To {
			ms += f.add
		}
	}
	return ms
}

// places finds the place of a record from its site and antenna.
type places struct {
	list  []Place
	zones []*clock.Zone
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
	p := &places{site: map[string]siteEntry{}, antenna: map[antennaAt]int{}, several: map[string]bool{}}
	p.zones = []*clock.Zone{clock.NewZone(st.Location)}
	zones := map[string]int{}
	row := -1
	for k := range st.Sites {
		x := &st.Sites[k]
		zone := 0
		if x.TimeZone != "" {
			var ok bool
			if zone, ok = zones[x.TimeZone]; !ok {
				zone = len(p.zones)
				zones[x.TimeZone] = zone
				p.zones = append(p.zones, clock.NewZone(x.Location))
			}
		}
		base := Place{Site: k, Row: -1, zone: zone}
		for _, w := range x.Working {
			base.Windows = append(base.Windows, rule.WindowOf(w))
		}
		for _, c := range x.Clock {
			base.fixes = append(base.fixes, clockFix{rule.WindowOf(c.Window), int64(math.Round(c.Seconds * 1000))})
		}
		rows := x.Rows
		if len(rows) == 0 {
			rows = []study.Row{{Antennas: x.Antennas}}
		}
		entry := siteEntry{first: len(p.list), rows: len(rows)}
		for _, r := range rows {
			if k > 0 {
				row++
				base.Row = row
			}
			for _, a := range r.Antennas {
				p.antenna[antennaAt{x.Name, a}] = len(p.list)
				if at, ok := p.antenna[antennaAt{"", a}]; ok && p.list[at].Site != k {
					p.several[a] = true
				} else if !ok {
					p.antenna[antennaAt{"", a}] = len(p.list)
				}
				entry.listed = true
			}
			if r.Name != "" {
				p.site[x.Name+"/"+r.Name] = siteEntry{first: len(p.list), rows: 1}
			}
			p.list = append(p.list, base)
		}
		p.site[x.Name] = entry
	}
	return p
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
func (p *places) siteNames() []string { return slices.Sorted(maps.Keys(p.site)) }

func (p *places) antennaNames() []string {
	var names []string
	for a := range p.antenna {
		names = append(names, a.antenna)
	}
	slices.Sort(names)
	return slices.Compact(names)
}

// check refuses a file that names the antenna alone where two sites have one of
// that name.
func (p *places) check(c columns) error {
	if c.site >= 0 || len(p.several) == 0 {
		return nil
	}
	return fmt.Errorf("the file names the antenna but not the site, and antenna %q stands at more than one site; add a column with the site", slices.Sorted(maps.Keys(p.several))[0])
}
