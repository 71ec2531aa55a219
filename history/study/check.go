package study

import (
	"iter"
	"maps"
	"math"
	"slices"
	"strings"

	"example.org/unseen/history"
)

// Reserved are the words of the model language; no column or attribute can be
// called one, but the cohort's column "cohort".
var Reserved = []string{"by", "same", "reach", "site", "row", "cohort"}

func keys[V any](m map[string]V) iter.Seq[string] { return maps.Keys(m) }

// check is what concerns more than one entry of the file.
func (d *decoder) check(s *Study) {
	top := Pos{File: s.Path, Line: 1, Column: 1}
	d.waysIn(s, top)
	d.columns(s)
	d.checkSites(s, top)
	d.checkKm(s)
	d.antennas(s)
	d.checkSightings(s)
	for i := range s.TestPasses {
		x := &s.TestPasses[i]
		d.checkPlace(s, x.Pos, "test_passes", x.Site, x.Row, false)
	}
	d.checkHolds(s)
	d.checkModels(s)
	if s.Rules.FastestKmPerDay > 0 && len(s.Sites) > 0 && math.IsNaN(s.Sites[0].Km) {
		d.fault(s.Rules.Pos, "fastest_km_per_day needs the km of the sites")
	}
}

// waysIn holds the study to one of the three ways to give its data.
func (d *decoder) waysIn(s *Study, top Pos) {
	var ways []string
	var last Pos
	if s.Fish != nil || s.Sightings != nil {
		ways = append(ways, "[fish] with [sightings]")
		switch {
		case s.Sightings == nil:
			d.fault(s.Fish.Pos, "[fish] needs [sightings] beside it")
		case s.Fish == nil:
			d.fault(s.Sightings[0].Pos, "[sightings] needs [fish] beside it")
		}
	}
	if s.Histories != nil {
		ways, last = append(ways, "[histories]"), s.Histories.Pos
	}
	if s.NextSeen != nil {
		ways, last = append(ways, "[next_seen]"), s.NextSeen.Pos
	}
	switch {
	case len(ways) == 0:
		d.fault(top, "the study has no data; give [fish] with [sightings], or [histories], or [next_seen]")
	case len(ways) > 1:
		d.fault(last, "the study gives its data in more than one way: %s; keep one", strings.Join(ways, " and "))
	}
}

// columns checks the column mappings: known names where the set is fixed, and
// no word of the model language as the name of a fish's attribute.
func (d *decoder) columns(s *Study) {
	fixed := func(pos map[string]Pos, title string, known ...string) {
		for _, k := range slices.Sorted(keys(pos)) {
			if !slices.Contains(known, k) {
				d.fault(pos[k], "%s has no column %q%s", title, k, hint(k, known))
			}
		}
	}
	for _, x := range s.Sightings {
		fixed(x.ColumnPos, x.Title, "tag", "site", "antenna", "time", "date")
	}
	if x := s.NextSeen; x != nil {
		known := []string{"cohort", "release_site", "released"}
		for i := range s.Sites {
			known = append(known, s.Sites[i].Name)
		}
		fixed(x.ColumnPos, "[next_seen]", known...)
	}
	if x := s.Recaptures; x != nil {
		fixed(x.ColumnPos, "[recaptures]", "tag", "date", "site", "fork_length_mm", "total_length_mm", "length_mm", "weight_g")
	}
	words := func(t *Table, roles ...string) {
		for _, k := range slices.Sorted(keys(t.Columns)) {
			if slices.Contains(Reserved, k) && !slices.Contains(roles, k) {
				d.fault(t.ColumnPos[k], "%q is a word of the model language; call the column something else", k)
			}
		}
	}
	if s.Fish != nil {
		words(&s.Fish.Table, "cohort", "site")
	}
	if s.Histories != nil {
		words(s.Histories, "cohort")
	}
}

func (d *decoder) checkSites(s *Study, top Pos) {
	switch len(s.Sites) {
	case 0:
		d.fault(top, "the study has no site; write [[site]] for the release site and for each site below")
	case 1:
		d.fault(s.Sites[0].Pos, "%q is the only site; the first is where fish are released, so at least one more is needed", s.Sites[0].Name)
	}
	first := map[string]Pos{}
	for i := range s.Sites {
		x := &s.Sites[i]
		if p, ok := first[x.Name]; ok && x.Name != "" {
			d.fault(x.Pos, "site %q stands twice; first on line %d", x.Name, p.Line)
			continue
		}
		first[x.Name] = x.Pos
	}
	for i := range s.Sites {
		x := &s.Sites[i]
		for _, name := range x.Aliases {
			d.plainName(x.AliasesPos, "the alias", name)
			if p, ok := first[name]; ok {
				d.fault(x.AliasesPos, "the alias %q is the name of a site, or another alias, on line %d", name, p.Line)
				continue
			}
			first[name] = x.AliasesPos
		}
	}
	river := s.River()
	if n := river.Rows(); len(s.Sites) > 1 && n > history.MaxRows {
		d.fault(s.Sites[len(s.Sites)-1].Pos, "%d antenna rows below the first site; at most %d can be handled", n, history.MaxRows)
	}
}

func (d *decoder) checkKm(s *Study) {
	var with, without *Site
	for i := range s.Sites {
		x := &s.Sites[i]
		if math.IsNaN(x.Km) {
			without = cmpOr(without, x)
		} else {
			with = cmpOr(with, x)
		}
	}
	if with == nil {
		return
	}
	if without != nil {
		d.fault(without.Pos, "site %q has no km while site %q has; give km at every site or at none", without.Name, with.Name)
		return
	}
	down := 0.0
	for i := 1; i < len(s.Sites); i++ {
		a, b := &s.Sites[i-1], &s.Sites[i]
		step := b.Km - a.Km
		if down == 0 {
			down = step
		}
		if step == 0 || step > 0 != (down > 0) {
			d.fault(b.KmPos, "km goes from %v at %q to %v at %q; downstream it must rise throughout or fall throughout", a.Km, a.Name, b.Km, b.Name)
			return
		}
	}
}

func cmpOr(a, b *Site) *Site {
	if a != nil {
		return a
	}
	return b
}

// antennas refuses an antenna that stands twice at a site, and, where sightings
// are read, a row without antennas. Two sites may each have an antenna "1".
func (d *decoder) antennas(s *Study) {
	var at map[string]string
	place := func(pos Pos, where string, names []string) {
		for _, a := range names {
			if w, ok := at[a]; ok {
				d.fault(pos, "antenna %q stands at %s and at %s; an antenna is at one place", a, w, where)
				continue
			}
			at[a] = where
		}
	}
	for i := range s.Sites {
		x := &s.Sites[i]
		at = map[string]string{}
		place(x.Pos, x.Name, x.Antennas)
		for _, r := range x.Rows {
			place(x.Pos, x.Name+"/"+r.Name, r.Antennas)
			if s.Sightings != nil && len(r.Antennas) == 0 {
				d.fault(x.Pos, "row %q of site %q lists no antenna; write rows = { %s = [\"…\"] }", r.Name, x.Name, r.Name)
			}
		}
	}
}

// checkPlace holds a detection to a row that exists; whole allows all rows of
// a divided site together, as where nothing could be read there.
func (d *decoder) checkPlace(s *Study, pos Pos, what, site, row string, whole bool) {
	if site == "" {
		return
	}
	var names []string
	for i := range s.Sites {
		x := &s.Sites[i]
		names = append(names, x.Name)
		if x.Name != site {
			continue
		}
		switch {
		case i == 0:
			d.fault(pos, "[[%s]] at %q: fish are released there, so it has no detection", what, site)
		case len(x.Rows) == 0 && row != "":
			d.fault(pos, "[[%s]]: site %q is undivided; leave out row", what, site)
		case len(x.Rows) > 0:
			rows := x.rowNames()
			if row == "" && whole {
				return
			}
			if row == "" {
				d.fault(pos, "[[%s]]: site %q has rows; say which with row = … (%s)", what, site, strings.Join(rows, ", "))
			} else if !slices.Contains(rows, row) {
				d.fault(pos, "[[%s]]: site %q has no row %q%s", what, site, row, hint(row, rows))
			}
		}
		return
	}
	d.fault(pos, "[[%s]]: the study has no site %q%s", what, site, hint(site, names))
}

func (d *decoder) checkHolds(s *Study) {
	river := s.River()
	var reaches []string
	for i := 0; i+1 < len(s.Sites); i++ {
		reaches = append(reaches, river.Reach(i))
	}
	for i, h := range s.Holds {
		if h.Reach != "" && !slices.Contains(reaches, h.Reach) {
			d.fault(h.Pos, "[[hold]]: the study has no reach %q%s", h.Reach, hint(h.Reach, reaches))
		}
		if h.Site != "" {
			d.checkPlace(s, h.Pos, "hold", h.Site, h.Row, h.Detection == 0)
		}
		for _, g := range s.Holds[:i] {
			if g.sound() && h.sound() && g.Reach == h.Reach && g.Site == h.Site && g.Row == h.Row && maps.Equal(g.Where, h.Where) {
				d.fault(h.Pos, "[[hold]]: the same value is held on line %d", g.Pos.Line)
				break
			}
		}
	}
}

// sound tells whether one value is held at one place.
func (h *Hold) sound() bool {
	return (h.Reach != "") == !math.IsNaN(h.Survival) && (h.Site != "") == !math.IsNaN(h.Detection) && (h.Reach != "") != (h.Site != "")
}

func (d *decoder) checkModels(s *Study) {
	first := map[string]Pos{}
	for i := range s.Models {
		m := &s.Models[i]
		if p, ok := first[m.Name]; ok && m.Name != "" {
			d.fault(m.Pos, "model %q stands twice; first on line %d", m.Name, p.Line)
		} else {
			first[m.Name] = m.Pos
		}
		for k := range s.Sites {
			x := &s.Sites[k]
			if m.Links["survival"] == "per km" && math.IsNaN(x.Km) {
				d.fault(m.At["survival_link"], "survival_link \"per km\" needs km at every site; %q has none", x.Name)
				break
			}
			if m.Links["survival"] == "per day" && k > 0 && math.IsNaN(x.Days) {
				d.fault(m.At["survival_link"], "survival_link \"per day\" needs days at every site below the first, the length of the reach that ends there; %q has none", x.Name)
				break
			}
		}
	}
}
