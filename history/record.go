package history

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
)

// Record is what is known of one fish, or of Count fish alike in everything.
// Sites and rows go by their names.
type Record struct {
	// Tag may be "".
	Tag string
	// Cohort is the release group; "" throughout where all fish are one.
	Cohort string
	// Entry is the site where the fish enters the study; "" is the first.
	Entry string
	// Seen are the rows below where it was detected, in any order; see [At].
	Seen []Sighting
	// End says what became of it after its last sighting.
	End End
	// Again marks a fish put back that another record counts as released.
	Again bool
	// Count is the number of fish; 0 means 1.
	Count int
	// Released is the time of release; zero where not known.
	Released time.Time
	// Levels and Values are its categories and numbers by the name of the
	// column; what is left out is missing.
	Levels map[string]string
	Values map[string]float64
}

// Sighting is a fish's passage over one row.
type Sighting struct {
	// Row is the site's name or, where the site is divided, "Site/row", as
	// [River.RowLabel] has it.
	Row string
	// First and Last are the times of the first and last sighting there; zero
	// where not known. Last zero is First.
	First, Last time.Time
}

// At are sightings at rows, without times.
func At(rows ...string) []Sighting {
	out := make([]Sighting, len(rows))
	for i, r := range rows {
		out[i].Row = r
	}
	return out
}

// NewHistories makes histories of records, in their order. Cohorts and levels
// stand in natural order (see [NaturalCompare]). The error names the record
// and what would be right: a site that is not there, a row not below the
// entry, a column that is a category here and a number there.
func NewHistories(river River, records []Record) (*Histories, error) {
	if err := river.Check(); err != nil {
		return nil, err
	}
	b := newBuilder(river, records)
	for i := range records {
		if err := b.add(i, &records[i]); err != nil {
			return nil, err
		}
	}
	return b.h, b.h.Check()
}

// builder puts records into columns.
type builder struct {
	h       *Histories
	rows    map[string]int
	labels  []string
	cohorts map[string]int32
	levels  map[string]map[string]int32 // column → level → index
}

func newBuilder(river River, records []Record) *builder {
	b := &builder{h: &Histories{River: river}, rows: map[string]int{}, cohorts: map[string]int32{}, levels: map[string]map[string]int32{}}
	for r := range river.Rows() {
		label := river.RowLabel(r)
		b.rows[label], b.labels = r, append(b.labels, label)
	}
	var tags, again, counts, released, seen bool
	cohorts, levels, values := map[string]bool{}, map[string]map[string]bool{}, map[string]bool{}
	for i := range records {
		r := &records[i]
		cohorts[r.Cohort] = true
		tags, again, counts = tags || r.Tag != "", again || r.Again, counts || r.Count != 0
		released = released || !r.Released.IsZero()
		seen = seen || slices.ContainsFunc(r.Seen, func(s Sighting) bool { return !s.First.IsZero() })
		for name, level := range r.Levels {
			if levels[name] == nil {
				levels[name] = map[string]bool{}
			}
			levels[name][level] = true
		}
		for name := range r.Values {
			values[name] = true
		}
	}
	b.nameCohorts(cohorts)
	b.nameColumns(levels, values)
	b.allot(len(records), tags, again, counts, released, seen)
	return b
}

func (b *builder) nameCohorts(names map[string]bool) {
	h := b.h
	h.Cohorts = inOrder(names)
	for i, name := range h.Cohorts {
		b.cohorts[name] = int32(i)
	}
	switch {
	case len(h.Cohorts) > 1 || len(h.Cohorts) == 1 && h.Cohorts[0] != "":
		h.CohortColumn = "cohort"
	default:
		h.Cohorts = []string{"all"}
	}
}

func (b *builder) nameColumns(levels map[string]map[string]bool, values map[string]bool) {
	names := map[string]bool{}
	for name := range levels {
		names[name] = true
	}
	for name := range values {
		names[name] = true
	}
	for _, name := range inOrder(names) {
		c := Column{Name: name}
		if set := levels[name]; set != nil {
			c.Levels = inOrder(set)
			b.levels[name] = map[string]int32{}
			for i, level := range c.Levels {
				b.levels[name][level] = int32(i)
			}
		}
		b.h.Columns = append(b.h.Columns, c)
	}
}

func inOrder(set map[string]bool) []string {
	var out []string
	for name := range set {
		out = append(out, name)
	}
	slices.SortFunc(out, func(x, y string) int {
		if c := NaturalCompare(x, y); c != 0 {
			return c
		}
		return strings.Compare(x, y)
	})
	return out
}

// allot makes the columns, with everything missing.
func (b *builder) allot(n int, tags, again, counts, released, seen bool) {
	h := b.h
	h.Entry, h.Seen, h.End, h.Cohort = make([]uint8, n), make([]uint64, n), make([]End, n), make([]int32, n)
	if tags {
		h.Tag = make([]string, n)
	}
	if again {
		h.Again = make([]bool, n)
	}
	if counts {
		h.Count = slices.Repeat([]int32{1}, n)
	}
	if released {
		h.Released = slices.Repeat([]int64{NoTime}, n)
	}
	if seen {
		h.First = slices.Repeat([]int64{NoTime}, n*h.River.Rows())
		h.Last = slices.Clone(h.First)
	}
	for i := range h.Columns {
		if c := &h.Columns[i]; c.Levels != nil {
			c.Level = slices.Repeat([]int32{-1}, n)
		} else {
			c.Value = slices.Repeat([]float64{math.NaN()}, n)
		}
	}
}

// add writes record i.
func (b *builder) add(i int, r *Record) error {
	h := b.h
	fail := func(format string, args ...any) error {
		if r.Tag != "" {
			return fmt.Errorf("record %d (%s): %s", i+1, r.Tag, fmt.Sprintf(format, args...))
		}
		return fmt.Errorf("record %d: %s", i+1, fmt.Sprintf(format, args...))
	}
	entry := 0
	if r.Entry != "" {
		if entry = h.River.SiteIndex(r.Entry); entry < 0 {
			return fail("the river has no site %q%s", r.Entry, Propose(r.Entry, h.River.SiteNames()))
		}
	}
	if r.Count < 0 || r.Count > math.MaxInt32 {
		return fail("it stands for %d fish; from 1 to %d can be", r.Count, math.MaxInt32)
	}
	h.Entry[i], h.End[i], h.Cohort[i] = uint8(entry), r.End, b.cohorts[r.Cohort]
	if r.Tag != "" {
		h.Tag[i] = r.Tag
	}
	if r.Again {
		h.Again[i] = true
	}
	if r.Count > 0 {
		h.Count[i] = int32(r.Count)
	}
	if !r.Released.IsZero() {
		h.Released[i] = r.Released.UnixMilli()
	}
	for _, s := range r.Seen {
		row, ok := b.rows[s.Row]
		if !ok {
			return fail("no row %q lies below the first site; there are %s", s.Row, strings.Join(b.labels, ", "))
		}
		if h.Seen[i]>>row&1 == 1 {
			return fail("it is detected at %s twice; a passage is one detection", s.Row)
		}
		h.Seen[i] |= 1 << row
		if !s.First.IsZero() {
			at := i*len(b.labels) + row
			h.First[at], h.Last[at] = s.First.UnixMilli(), s.First.UnixMilli()
			if !s.Last.IsZero() {
				h.Last[at] = s.Last.UnixMilli()
			}
		}
	}
	return b.attributes(i, r, fail)
}

// attributes writes the categories and numbers of record i.
func (b *builder) attributes(i int, r *Record, fail func(string, ...any) error) error {
	for k := range b.h.Columns {
		c := &b.h.Columns[k]
		level, isLevel := r.Levels[c.Name]
		value, isValue := r.Values[c.Name]
		switch {
		case isValue && c.Value == nil:
			return fail("%s is a number here and a category elsewhere; a column is one or the other", c.Name)
		case isLevel:
			c.Level[i] = b.levels[c.Name][level]
		case isValue:
			c.Value[i] = value
		}
	}
	return nil
}
