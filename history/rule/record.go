package rule

import (
	"cmp"
	"math"
	"slices"
	"time"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

// Fish is what the record rules know of one fish. Times are Unix milliseconds.
type Fish struct {
	Released int64 // ms since 1970; [history.NoTime] where not known
	// Entry is the site where the fish enters.
	Entry int
	// RemovedAt is the last moment before the fish was taken out; math.MaxInt64
	// where it never was, or when is not known.
	RemovedAt int64
	// RemovedSite is where it was taken out; -1 where it never was, or the
	// place is not known.
	RemovedSite int
	// ShedAt is the last moment the tag was in the fish; math.MaxInt64 where
	// it stayed in.
	ShedAt int64
}

// Alive is a fish with nothing special about it.
func Alive(released int64, entry int) Fish {
	return Fish{Released: released, Entry: entry, RemovedAt: math.MaxInt64, RemovedSite: -1, ShedAt: math.MaxInt64}
}

// Season is the time that counts, in Unix milliseconds.
type Season struct {
	// AsOf and LastDayEnd are the first moments that no longer count;
	// math.MaxInt64 where open.
	AsOf, LastDayEnd int64
}

// SeasonOf is the time that counts in a study; asOf takes the place of the
// study's own, if it is not zero.
func SeasonOf(st *study.Study, asOf time.Time) Season {
	if asOf.IsZero() && st != nil {
		asOf = st.AsOf
	}
	return Season{AsOf: msOr(asOf, math.MaxInt64), LastDayEnd: msOr(st.LastDayEnd(), math.MaxInt64)}
}

// WindowOf is a window of a study.
func WindowOf(w study.Window) Window {
	return Window{From: msOr(w.From, math.MinInt64), To: msOr(w.To, math.MaxInt64)}
}

// msOr is a moment in Unix milliseconds, or open where it is not set.
func msOr(t time.Time, open int64) int64 {
	if t.IsZero() {
		return open
	}
	return t.UnixMilli()
}

// Over tells whether the season is: no record is left out as too late.
func (s *Season) Over() bool { return s.AsOf == math.MaxInt64 && s.LastDayEnd == math.MaxInt64 }

// Counts tells whether a moment comes before both ends.
func (s *Season) Counts(ms int64) bool { return ms < s.AsOf && ms < s.LastDayEnd }

// Window is a half-open stretch of time in Unix milliseconds.
type Window struct{ From, To int64 }

// Inside tells whether a moment lies in one of the windows. A site without
// windows always works.
func Inside(ms int64, windows []Window) bool {
	return len(windows) == 0 || slices.ContainsFunc(windows, func(w Window) bool { return ms >= w.From && ms < w.To })
}

// Open is a stretch of time around a moment in which no record falls under
// [AfterAsOf], [AfterLastDay] or [OutsideWorking]; ok is false where the moment
// does.
func (s *Season) Open(ms int64, windows []Window) (w Window, ok bool) {
	w = Window{math.MinInt64, math.MaxInt64}
	if len(windows) > 0 {
		i := slices.IndexFunc(windows, func(w Window) bool { return ms >= w.From && ms < w.To })
		if i < 0 {
			return w, false
		}
		w = windows[i]
	}
	w.To = min(w.To, s.AsOf, s.LastDayEnd)
	return w, ms < w.To
}

// Record says which rule a readable record of a known fish at a known antenna
// falls under, [None] when it counts: the rules from [AfterAsOf] to
// [AtRelease] in their order. Exactly at the release counts, exactly at as_of does not.
func Record(ms int64, site int, f *Fish, s *Season, windows []Window) ID {
	if f == nil || s == nil {
		return None // nothing is known that could set it aside
	}
	switch {
	case ms >= s.AsOf:
		return AfterAsOf
	case ms >= s.LastDayEnd:
		return AfterLastDay
	case ms < f.Released:
		return BeforeRelease
	case ms > f.RemovedAt || f.RemovedSite >= 0 && site > f.RemovedSite:
		return AfterRemoval
	case ms > f.ShedAt:
		return Shed
	case !Inside(ms, windows):
		return OutsideWorking
	case site <= f.Entry:
		return AtRelease
	}
	return None
}

// The least that makes an unlisted tag a test tag.
const (
	testSpan  = 24 * 3600_000 // milliseconds from first to last read
	testEvery = 3600_000      // milliseconds a read, on average
)

// IsTestTag tells whether a tag that is no fish of the study is a test tag
// left at a reader: all its reads are at one antenna, over a day or more, at
// least one an hour on average (common practice: such tags answer all day).
func IsTestTag(first, last, reads int64, oneAntenna bool) bool {
	span := last - first
	return oneAntenna && span >= testSpan && (reads-1)*testEvery >= span
}

// Parked tells whether a passage is that of a tag parked at the antenna: from
// first to last read at least days, with a read every six hours on average
// (common practice).
func Parked(first, last, reads int64, days float64) bool {
	if first == history.NoTime {
		return false
	}
	span := last - first
	return float64(span) >= days*86_400_000 && (reads-1)*6*3600_000 >= span
}

// DefaultParkedDays is parked_days where the study sets none (common practice).
const DefaultParkedDays = 3

// ParkedDays is the study's parked_days.
func ParkedDays(st *study.Study) float64 {
	if st.Check() != nil {
		return DefaultParkedDays
	}
	return cmp.Or(st.Rules.ParkedDays, DefaultParkedDays)
}
