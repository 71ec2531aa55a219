package findings

import (
	"fmt"
	"math"

	"example.org/unseen/history"
	"example.org/unseen/history/clock"
)

// clockJumps compares travel times before and after each change of the
// study's clocks: a reader that does not follow makes them jump by an hour.
func (t *travel) clockJumps() []history.Finding {
	if t.off["clock_jump"] {
		return nil
	}
	var out []history.Finding
	seen := map[string]bool{}
	for _, zone := range t.seen.Zones {
		lo, hi := int64(math.MaxInt64), int64(math.MinInt64)
		for p := range t.seen.Activity {
			if a := &t.seen.Activity[p]; a.Records > 0 {
				lo, hi = min(lo, a.First), max(hi, a.Last)
			}
		}
		if lo > hi {
			return nil
		}
		changes, by := zone.Changes(lo, hi)
		for n, at := range changes {
			if by[n] != hour && by[n] != -hour {
				continue
			}
			// Neighbouring rows, and the release with the first row: a jump
			// shows where one of the two clocks did not follow.
			for b := -1; b+1 < t.rows; b++ {
				if f, ok := t.jump(b, at, zone); ok && !seen[f.Message] {
					seen[f.Message] = true
					out = append(out, f)
				}
			}
		}
	}
	return out
}

// jumpWindow is how far from a clock change travel times are compared.
const jumpWindow = 14 * day

// jump compares the travel times from row b (-1: the release) to row b+1.
func (t *travel) jump(b int, at int64, zone *clock.Zone) (history.Finding, bool) {
	var before, after []float64
	for i := range t.h.Entry {
		y := t.h.First[i*t.rows+b+1]
		x := t.h.Released[i]
		if b >= 0 {
			x = t.h.First[i*t.rows+b]
		} else if t.h.Entry[i] != 0 {
			continue
		}
		if x == history.NoTime || y == history.NoTime {
			continue
		}
		switch {
		case x >= at-jumpWindow && max(x, y) < at-hour:
			before = append(before, float64(y-x))
		case min(x, y) >= at+hour && y < at+jumpWindow:
			after = append(after, float64(y-x))
		}
	}
	m1, e1 := medianError(before)
	m2, e2 := medianError(after)
	jump, e := m2-m1, math.Hypot(e1, e2)
	if math.IsNaN(jump) || e > hour/4 || math.Abs(math.Abs(jump)-hour) > 2*e+60_000 {
		return history.Finding{}, false
	}
	from := "the release"
	if b >= 0 {
		from = t.h.River.RowLabel(b)
	}
	to := t.h.River.RowLabel(b + 1)
	return history.Finding{
		ID: "clock_jump", About: to, Count: int64(len(before) + len(after)),
		Message: fmt.Sprintf("travel times from %s to %s jump by %+.0f minutes at the clock change of %s: the clock of one of them does not follow it",
			from, to, jump/60_000, zone.Format(at)),
		Advice: "if the reader is kept on one time all year, give its site that time_zone (as \"UTC\" or \"Etc/GMT-1\")",
		Impact: 0.01 * float64(len(after)) / float64(len(t.h.Entry)),
	}, true
}

// medianError is the median of x and its standard error, from the median
// absolute deviation as if the values were normal: 1.2533 · 1.4826 · MAD / √n.
func medianError(x []float64) (m, e float64) {
	if m = median(x); math.IsNaN(m) {
		return m, m
	}
	away := make([]float64, len(x))
	for i := range x {
		away[i] = math.Abs(x[i] - m)
	}
	return m, 1.2533 * 1.4826 * median(away) / math.Sqrt(float64(len(x)))
}
