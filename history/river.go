// Package history holds what is known about each tagged fish: where it was
// released, where it was detected afterwards, and what became of every record
// that was read. It counts and orders; it learns no model.
//
// Begin with [NewHistories]; ExampleNewHistories shows it. Moments are Unix
// milliseconds, with [NoTime] where there is none; distances are in km.
//
// Of a site, row or record that is not there a method tells nothing: "", 0, NaN
// or NoTime, as it does where a name or number is missing.
package history

import (
	"fmt"
	"math"
	"slices"
)

// MaxRows is the largest number of antenna rows below the first site: the
// rows a fish was detected at are the bits of one word.
const MaxRows = 64

// River is the sites in downstream order. The first is where fish are first
// released; in a study of years instead of places the years are the sites.
type River struct {
	Sites []Site // in downstream order; the first is where fish are released
}

// Site is a place where fish can be detected.
type Site struct {
	Name string // as in the study
	// Aliases are other spellings of the name, as tables have them.
	Aliases []string
	// Km is the distance along the river in kilometres, rising or falling
	// downstream throughout; NaN when the study gives none.
	Km float64
	// Days is the length in days of the reach that ends here; NaN when the
	// study gives none. Never an observed travel time.
	Days float64
	// Rows are the names of the antenna rows, upstream first; an undivided
	// site has none.
	Rows []string
	// Attributes are the site's values for models; missing keys are missing.
	Attributes map[string]float64
}

// RowCount is the number of rows of the site: at least 1.
func (s *Site) RowCount() int { return max(1, len(s.Rows)) }

// Divided tells whether the site has two rows or more.
func (s *Site) Divided() bool { return len(s.Rows) > 1 }

// Reach names the water between site i and the next one: "A to B".
func (r *River) Reach(i int) string {
	if !r.has(i) || !r.has(i+1) {
		return ""
	}
	return r.Sites[i].Name + " to " + r.Sites[i+1].Name
}

// ReachKm is the length in km of the reach that starts at site i, or NaN.
func (r *River) ReachKm(i int) float64 {
	if !r.has(i) || !r.has(i+1) {
		return math.NaN()
	}
	return math.Abs(r.Sites[i+1].Km - r.Sites[i].Km)
}

func (r *River) has(k int) bool { return k >= 0 && k < len(r.Sites) }

// Rows is the number of rows at the sites below the first. They are numbered
// 0, 1, … in downstream order; that number is the row's bit in
// [Histories.Seen].
func (r *River) Rows() int {
	n := 0
	for k := 1; k < len(r.Sites); k++ {
		n += r.Sites[k].RowCount()
	}
	return n
}

// FirstRow is the number of the first row of site k ≥ 1; that of rows in all for
// a site beyond the last.
func (r *River) FirstRow(k int) int {
	n := 0
	for i := 1; i < min(k, len(r.Sites)); i++ {
		n += r.Sites[i].RowCount()
	}
	return n
}

// SiteMasks gives for each site the bits of its rows; 0 for the first site.
func (r *River) SiteMasks() []uint64 {
	m := make([]uint64, len(r.Sites))
	at := 0
	for k := 1; k < len(r.Sites); k++ {
		n := r.Sites[k].RowCount()
		m[k] = (^uint64(0) >> (64 - uint(n))) << uint(at)
		at += n
	}
	return m
}

// SiteOfRow gives the site of each numbered row.
func (r *River) SiteOfRow() []int {
	var out []int
	for k := 1; k < len(r.Sites); k++ {
		for range r.Sites[k].RowCount() {
			out = append(out, k)
		}
	}
	return out
}

// RowLabel names numbered row b: "Site" or, where the site is divided,
// "Site/row".
func (r *River) RowLabel(b int) string {
	sites := r.SiteOfRow()
	if b < 0 || b >= len(sites) {
		return ""
	}
	k := sites[b]
	s := &r.Sites[k]
	if !s.Divided() {
		return s.Name
	}
	return s.Name + "/" + s.Rows[b-r.FirstRow(k)]
}

// SiteIndex finds a site by its name or another spelling of it; -1 when the river
// has none of that name.
func (r *River) SiteIndex(name string) int {
	for i := range r.Sites {
		if s := &r.Sites[i]; s.Name == name || slices.Contains(s.Aliases, name) {
			return i
		}
	}
	return -1
}

// SiteNames are the names of the sites in downstream order.
func (r *River) SiteNames() []string {
	out := make([]string, len(r.Sites))
	for i := range r.Sites {
		out[i] = r.Sites[i].Name
	}
	return out
}

// Check returns an error when the river breaks what every user of it relies on:
// at least one site, names distinct, no more than [MaxRows] rows, and no number
// that is infinite.
func (r *River) Check() error {
	if len(r.Sites) == 0 {
		return fmt.Errorf("the study has no site")
	}
	if twice := repeated(r.SiteNames()); twice >= 0 {
		return fmt.Errorf("site %q stands twice", r.Sites[twice].Name)
	}
	if n := r.Rows(); n > MaxRows {
		return fmt.Errorf("%d antenna rows below the first site; at most %d can be handled", n, MaxRows)
	}
	for i := range r.Sites {
		s := &r.Sites[i]
		if twice := repeated(s.Rows); twice >= 0 {
			return fmt.Errorf("site %q has the row %q twice", s.Name, s.Rows[twice])
		}
		if math.IsInf(s.Km, 0) || math.IsInf(s.Days, 0) {
			return fmt.Errorf("site %q: %v km and %v days; a distance or length that is not known is NaN", s.Name, s.Km, s.Days)
		}
		for name, v := range s.Attributes {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return fmt.Errorf("site %q: its attribute %s is %v; leave out what is not known", s.Name, name, v)
			}
		}
	}
	return nil
}

// repeated is the index of a name that stood before; −1 where none did.
func repeated(names []string) int {
	have := make(map[string]bool, len(names))
	for i, n := range names {
		if have[n] {
			return i
		}
		have[n] = true
	}
	return -1
}
