package study

import (
	"slices"
	"time"
)

// oneOrMore is a table, [key] in the file, or a list of them, [[key]].
func (d *decoder) oneOrMore(t *table, key string) []*table {
	if n := t.nodes[key]; n != nil {
		if _, list := n.value.([]*node); list {
			return d.tables(t, key)
		}
	}
	if x := d.sub(t, key); x != nil {
		return []*table{x}
	}
	return nil
}

// sightings reads a group of array files. zone is the study's.
func (d *decoder) sightings(t *table, dir string, zone *time.Location) *SightingFiles {
	s := &SightingFiles{Pos: t.pos, Title: t.title, Reading: d.reading(t)}
	s.Written, s.FilesPos = d.texts(t, "files")
	if t.nodes["files"] == nil {
		d.fault(t.pos, "%s needs files, a list of the array files", t.title)
	} else if list, ok := t.nodes["files"].value.([]*node); ok && len(list) == 0 {
		d.fault(s.FilesPos, "files names no file")
	}
	s.Files = d.foundAll(s.FilesPos, dir, s.Written)
	s.Site, s.SitePos = d.text(t, "site")
	s.Row, s.RowPos = d.text(t, "row")
	s.Antenna, s.AntennaPos = d.text(t, "antenna")
	if s.TimeZone, s.Location = d.zone(t, "time_zone", nil); s.Location != nil {
		zone = s.Location
	}
	s.DateOrder, _ = d.oneOf(t, "date_order", "day first", "month first")
	d.columnTable(t, &s.Reading)
	s.Joins = d.joins(t)
	d.sightingColumns(t, s)
	if n := d.get(t, "bit_reversed"); n != nil {
		if v, ok := n.value.(bool); ok {
			s.BitReversed = v
		} else {
			s.BitReversedFiles = d.foundAll(n.pos, dir, d.textList(n, "bit_reversed (true, or a list of files)"))
		}
	}
	s.Clock = d.clock(t, zone)
	d.done(t)
	return s
}

// sightingColumns reads what the columns of array files are called.
func (d *decoder) sightingColumns(t *table, s *SightingFiles) {
	sub := d.sub(t, "columns")
	if sub == nil {
		return
	}
	s.Columns, s.ColumnPos = map[string][]string{}, map[string]Pos{}
	for _, k := range sub.keys {
		if date, time, ok := d.join(sub.nodes[k], "columns."+k); ok {
			if k != "time" || sub.nodes["date"] != nil {
				d.fault(sub.nodes[k].pos, "columns.%s: join is for time, without date", k)
			}
			s.Columns["date"], s.Columns["time"] = []string{date}, []string{time}
			s.ColumnPos["date"], s.ColumnPos["time"] = sub.nodes[k].pos, sub.nodes[k].pos
			continue
		}
		if names := d.textList(sub.nodes[k], "columns."+k); len(names) > 0 {
			s.Columns[k], s.ColumnPos[k] = names, sub.nodes[k].pos
		}
	}
}

// checkSightings holds the places that groups of files name to the sites.
func (d *decoder) checkSightings(s *Study) {
	var names []string
	for i := range s.Sites {
		names = append(names, s.Sites[i].Name)
	}
	for _, x := range s.Sightings {
		for _, c := range []struct {
			key, value string
		}{{"site", x.Site}, {"antenna", x.Antenna}} {
			if pos, twice := x.ColumnPos[c.key]; twice && c.value != "" {
				d.fault(pos, "%s: all records are of the %s %q, so there is no column for it; leave out one of the two", x.Title, c.key, c.value)
			}
		}
		switch k := slices.Index(names, x.Site); {
		case x.Site == "" && x.Row != "":
			d.fault(x.RowPos, "%s: row needs the site it is at", x.Title)
		case x.Site == "":
		case k < 0:
			d.fault(x.SitePos, "%s: the study has no site %q%s", x.Title, x.Site, hint(x.Site, names))
		case x.Row == "":
		case !slices.Contains(s.Sites[k].rowNames(), x.Row):
			d.fault(x.RowPos, "%s: site %q has no row %q%s", x.Title, x.Site, x.Row, hint(x.Row, s.Sites[k].rowNames()))
		case x.Antenna != "":
			d.fault(x.AntennaPos, "%s: the row says where the records were made; leave out row or antenna", x.Title)
		}
	}
}

// forward refuses a window that ends before it starts.
func (d *decoder) forward(w Window, what string) {
	if !w.From.IsZero() && !w.To.IsZero() && !w.From.Before(w.To) {
		d.fault(w.Pos, "%s: the window from %s to %s is empty", what, w.From.Format(time.RFC3339), w.To.Format(time.RFC3339))
	}
}

// clock reads corrections of a clock that keeps a zone.
func (d *decoder) clock(t *table, zone *time.Location) (fixes []ClockFix) {
	for _, x := range d.tables(t, "clock") {
		x.title = "clock"
		c := ClockFix{Window: Window{Pos: x.pos}}
		if n := d.get(x, "from"); n != nil {
			c.From = d.moment(n, "clock.from", zone)
		}
		if n := d.get(x, "to"); n != nil {
			c.To = d.moment(n, "clock.to", zone)
		}
		d.forward(c.Window, "clock")
		if x.nodes["seconds"] == nil {
			d.fault(x.pos, "clock needs seconds, to be added to the site's times")
		}
		c.Seconds, _ = d.number(x, "seconds")
		fixes = append(fixes, c)
		d.done(x)
	}
	return fixes
}
