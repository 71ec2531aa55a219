package travel

import "example.org/unseen/history"

// times are each fish's first and last sighting at each site.
type times struct {
	h           *history.Histories
	first, last []int64 // [fish*sites + site]
	sites       int
}

func newTimes(h *history.Histories) *times {
	n, rows := len(h.River.Sites), h.River.Rows()
	t := &times{h: h, sites: n, first: make([]int64, h.Len()*n), last: make([]int64, h.Len()*n)}
	site := h.River.SiteOfRow()
	for i := range h.Len() {
		first, last := t.first[i*n:(i+1)*n], t.last[i*n:(i+1)*n]
		for k := range first {
			first[k], last[k] = history.NoTime, history.NoTime
		}
		for b, k := range site {
			if k <= int(h.Entry[i]) || h.Seen[i]>>uint(b)&1 == 0 {
				continue
			}
			if f := h.First[i*rows+b]; f != history.NoTime && (first[k] == history.NoTime || f < first[k]) {
				first[k] = f
			}
			last[k] = max(last[k], h.Last[i*rows+b])
		}
	}
	return t
}

// in tells whether fish i is of the cohort.
func (t *times) in(i, cohort int) bool { return cohort == All || int(t.h.Cohort[i]) == cohort }

// at tells whether fish i was released or seen at site k, and when it started
// from there; NoTime where that is not known.
func (t *times) at(i, k int, fromLast bool) (ms int64, there bool) {
	if int(t.h.Entry[i]) == k {
		if t.h.Released == nil {
			return history.NoTime, true
		}
		return t.h.Released[i], true
	}
	ms = t.first[i*t.sites+k]
	if ms != history.NoTime && fromLast {
		ms = t.last[i*t.sites+k]
	}
	return ms, ms != history.NoTime
}

const dayMs = 24 * 3600 * 1000
