package history

import "math"

// End says how a record's history ends.
type End uint8

const (
	// Open: after its last sighting (or release) the fish was at large, and
	// was not seen again.
	Open End = iota
	// Removed: taken out at its last site after being seen there. It ends
	// there by design, not by death.
	Removed
	// Continued: only in next-seen tables: after its last site the fish was
	// put back and is counted in another record.
	Continued
)

// NoTime stands for a time that is not known.
const NoTime = math.MinInt64

// Histories is a study's detection histories, one record a fish, in columns.
// A next-seen table has the same form: each cell is a record that enters at
// the release site, is seen at most once, and ends there ([Continued]) or
// never appears again ([Open]); so one likelihood serves both.
//
// All non-nil slices have Len() entries unless said otherwise.
type Histories struct {
	River River // the sites that indices refer to

	// Tag is the shown form of the tag; nil when the study has none.
	Tag []string
	// Entry is the site where the fish enters the study.
	Entry []uint8
	// Seen has bit b set when the fish was detected at numbered row b (see
	// [River.Rows]) below its entry.
	Seen []uint64
	// End says how the history ends; the site is [Histories.LastSite].
	End []End
	// Again marks records of fish released again, in next-seen tables: they
	// are not counted as newly released. nil: none.
	Again []bool
	// Count is the number of fish of the record; nil: one each.
	Count []int32

	// Cohort is the index into Cohorts of each record. Cohorts has at least
	// one entry; a study without cohorts has the single cohort "all".
	Cohort  []int32
	Cohorts []string
	// CohortColumn is the user's name of the column that is the cohort, or
	// "" when all fish are one cohort.
	CohortColumn string

	// Columns are the other attributes of the fish.
	Columns []Column

	// Released is the release time (Unix milliseconds) of each fish; nil or
	// NoTime when not known.
	Released []int64
	// First and Last are the first and last sighting (Unix milliseconds) of
	// fish i at numbered row b at [i*Rows+b]; NoTime where not seen; nil
	// when the study has no times. Len()*River.Rows() entries.
	First, Last []int64
}

// Column is one attribute of the fish: a category or a number.
type Column struct {
	Name string // as in the table
	// Levels are the category's values in natural order; nil for a number.
	Levels []string
	// Level is the index into Levels, -1 where missing; nil for a number.
	Level []int32
	// Value is the number, NaN where missing; nil for a category.
	Value []float64
}

// IsCategory tells a category from a number.
func (c *Column) IsCategory() bool { return c.Value == nil }

// Len is the number of records.
func (h *Histories) Len() int { return len(h.Entry) }

func (h *Histories) has(i int) bool { return i >= 0 && i < min(len(h.Entry), len(h.Seen)) }

// Weight is the number of fish of record i.
func (h *Histories) Weight(i int) int {
	switch {
	case h.Count == nil:
		return 1
	case i < 0 || i >= len(h.Count):
		return 0
	}
	return int(h.Count[i])
}

// New tells whether record i is of newly released fish.
func (h *Histories) New(i int) bool { return i < 0 || i >= len(h.Again) || !h.Again[i] }

// Fish is the number of newly released fish.
func (h *Histories) Fish() int {
	n := 0
	for i := range h.Entry {
		if h.New(i) {
			n += h.Weight(i)
		}
	}
	return n
}

// LastSite is the last site where record i was detected, or its entry. masks
// is [River.SiteMasks].
func (h *Histories) LastSite(i int, masks []uint64) int {
	if !h.has(i) {
		return 0
	}
	for k := len(masks) - 1; k > int(h.Entry[i]); k-- {
		if h.Seen[i]&masks[k] != 0 {
			return k
		}
	}
	return int(h.Entry[i])
}

// FirstAt is the first sighting of record i at site k (Unix milliseconds), at any
// of its rows; NoTime where there is none or its time is not known.
func (h *Histories) FirstAt(i, k int) int64 {
	best := int64(NoTime)
	rows := h.River.Rows()
	if i < 0 || (i+1)*rows > len(h.First) || k < 1 || !h.River.has(k) {
		return best
	}
	from := h.River.FirstRow(k)
	for b := from; b < from+h.River.Sites[k].RowCount(); b++ {
		if t := h.First[i*rows+b]; t != NoTime && (best == NoTime || t < best) {
			best = t
		}
	}
	return best
}

// Column finds a column by name; nil when there is none.
func (h *Histories) Column(name string) *Column {
	if h == nil {
		return nil
	}
	for i := range h.Columns {
		if h.Columns[i].Name == name {
			return &h.Columns[i]
		}
	}
	return nil
}
