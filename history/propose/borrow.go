package propose

import (
	"context"
	"slices"
)

// enoughRecords is from how many records on a table tells its layout by itself.
const enoughRecords = 10

// borrow lays out tables with few records, and those of fixed width, whose
// columns seem to begin where their own records have blanks, as a fuller table
// is laid out, where that fits.
func (g *guess) borrow(ctx context.Context) error {
	full := slices.Clone(g.tables)
	full = slices.DeleteFunc(full, func(t *sample) bool {
		return t.records < enoughRecords || t.tagColumn() < 0 || t.timeColumn() < 0
	})
	slices.SortStableFunc(full, func(a, b *sample) int { return b.records - a.records })
	for i, t := range g.tables {
		if t.records >= enoughRecords && t.reading.Widths == nil || t.said != nil {
			continue
		}
		for _, o := range full {
			if o == t || t.reading.Sheet != o.reading.Sheet || o.like(t) {
				continue
			}
			u, err := t.laidOutAs(ctx, o)
			if ctx.Err() != nil {
				return ctx.Err()
			}
			if err == nil && u != nil {
				g.tables[i] = u
				break
			}
		}
	}
	return nil
}

// like tells whether two tables are laid out alike.
func (t *sample) like(o *sample) bool {
	return sameReading(&t.reading, &o.reading) && slices.Equal(t.header, o.header) && t.delim == o.delim
}

// laidOutAs looks at a table as if it were laid out as another; nil where its
// records are then none, or fewer.
func (t *sample) laidOutAs(ctx context.Context, o *sample) (*sample, error) {
	file := t.file
	file.Reading = o.reading
	if !o.reading.NoHeader() && o.reading.Widths == nil && !slices.Equal(t.header, o.header) {
		return nil, nil
	}
	u, err := takeSample(ctx, file)
	if err != nil || !slices.Equal(u.header, o.header) || u.delim != o.delim || u.records < t.records {
		return nil, err
	}
	if x := &u.columns[o.tagColumn()]; x.filled == 0 || !x.mostly(x.tags) {
		return nil, nil
	}
	if x := &u.columns[o.timeColumn()]; x.filled == 0 || !x.mostly(x.times) {
		return nil, nil
	}
	u.found, u.name, u.said = o.found, t.name, t.said
	u.above = t.above
	return u, nil
}

// addSiblings takes tables for array files that are laid out as one is, though
// their few records do not tell.
func (g *guess) addSiblings() {
	for _, t := range g.tables {
		alike := func(s *sample) bool { return s != t && s.like(t) }
		if t != g.fish && t.mayBe() && t.records > 0 && !slices.Contains(g.sightings, t) && slices.ContainsFunc(g.sightings, alike) {
			t.textTag = g.sightings[slices.IndexFunc(g.sightings, alike)].textTag
			g.sightings = append(g.sightings, t)
		}
	}
}
