package model

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
	"example.org/unseen/likelihood"
)

// Windows make the times of passage part of the likelihood, while the season
// runs or over: a row that did not work when a fish passed missed nothing.

// afterLast: a window that ends later after the last release than so many times
// the longest time any fish took, from release to last sighting, leaves out no
// passage.
const afterLast = 2

// windows takes the working windows of the input, where they leave out a time at
// which a fish can have passed.
func (p *Problem) windows(in Input) error {
	h := p.Histories
	if in.Working == nil || !slices.ContainsFunc(in.Working, func(w []study.Window) bool { return w != nil }) {
		return nil
	}
	if h.First == nil || h.Released == nil {
		b := slices.IndexFunc(in.Working, func(w []study.Window) bool { return w != nil })
		return fmt.Errorf("working windows count by the times at which fish pass, which these histories do not have; give [fish] and [sightings]. %s", p.withoutTimes(in, b))
	}
	first, last := p.season()
	if first > last {
		return nil
	}
	binds := -1
	for b, w := range in.Working {
		if idleWithin(w, first, last) {
			binds = b
			break
		}
	}
	if binds < 0 {
		return nil
	}
	p.origin = first
	windows := make([][]likelihood.Window, len(in.Working))
	for b, of := range in.Working {
		for _, w := range of {
			x := likelihood.Window{From: p.day(w.From, math.Inf(-1)), To: p.day(w.To, math.Inf(1))}
			// Before the first fish and after the last it does not matter.
			if x.From <= 0 {
				x.From = math.Inf(-1)
			}
			if x.To > p.since(last) {
				x.To = math.Inf(1)
			}
			windows[b] = append(windows[b], x)
		}
	}
	if err := p.places("working windows need", "when a fish passed "+h.River.RowLabel(binds)+" is told by the law of travel"); err != nil {
		return fmt.Errorf("%w. %s", err, p.withoutTimes(in, binds))
	}
	for _, part := range p.Parts() {
		t, err := p.parse(p.Spec.Terms(part))
		if err == nil && indexOf(t.Names(), WorkingShare) >= 0 {
			return &Fault{part, fmt.Errorf("%s would count the outages twice: the likelihood knows when each row worked, and detection is that at full work; take the term out", WorkingShare), false}
		}
	}
	end := math.Inf(1)
	if p.Running() {
		end = float64(p.AsOf-p.origin) / msPerDay
	}
	var err error
	if p.Layout, err = p.Layout.Timed(p.km, nil, p.Spec.Rest != ""); err != nil {
		return err
	}
	if p.Layout, err = p.Layout.Working(windows, end); err != nil {
		return err
	}
	p.working, p.Working = p.Layout, in.Working
	return nil
}

// withoutTimes says what can be known where the windows of row b cannot count.
func (p *Problem) withoutTimes(in Input, b int) string {
	k := p.siteOf(b)
	var worked, fish float64
	for c, row := range in.WorkingShare {
		n := 0.0
		for i, of := range p.Histories.Cohort {
			if int(of) == c {
				n += float64(p.Histories.Weight(i))
			}
		}
		if v := row[k]; !math.IsNaN(v) {
			worked, fish = worked+n*v, fish+n
		}
	}
	share, known := "s", "s being the share of the passages of "+p.Histories.River.Sites[k].Name+" that fell into the outage"
	if lost := 1 - worked/fish; fish > 0 && lost < 1 {
		share = fmt.Sprintf("%.2f", lost)
		known = fmt.Sprintf("as about %.0f %% of the passages of %s fell into the outage", 100*lost, p.Histories.River.Sites[k].Name)
	}
	return fmt.Sprintf("Until then take working out: what passed lies between the share P that the model gives without the windows and P/(1 − %s), %s.", share, known)
}

// season is the time in which fish can pass: from the first release to some time
// after the last.
func (p *Problem) season() (first, last int64) {
	h := p.Histories
	first, last = math.MaxInt64, math.MinInt64
	var longest int64
	rows := p.Layout.RowCount()
	for i, t := range h.Released {
		if t == history.NoTime || p.notYet(i) {
			continue
		}
		first, last = min(first, t), max(last, t)
		for _, seen := range h.First[i*rows : (i+1)*rows] {
			if seen != history.NoTime {
				longest = max(longest, seen-t)
			}
		}
	}
	if first > last {
		return first, last
	}
	last += afterLast * longest
	if p.Running() {
		last = min(last, p.AsOf-1)
	}
	return first, last
}

// idleWithin tells whether the windows leave out some time from first to last,
// Unix milliseconds.
func idleWithin(windows []study.Window, first, last int64) bool {
	if windows == nil {
		return false
	}
	all := spansOf(windows)
	at := first // worked up to there
	for _, s := range all {
		if s.from > at {
			break
		}
		at = max(at, s.to)
	}
	return at <= last
}

// spell is a window in Unix milliseconds.
type spell struct{ from, to int64 }

// spansOf are windows in the order in which they start.
func spansOf(windows []study.Window) []spell {
	var all []spell
	for _, w := range windows {
		s := spell{math.MinInt64, math.MaxInt64}
		if !w.From.IsZero() {
			s.from = w.From.UnixMilli()
		}
		if !w.To.IsZero() {
			s.to = w.To.UnixMilli()
		}
		all = append(all, s)
	}
	slices.SortFunc(all, func(a, b spell) int { return cmp.Compare(a.from, b.from) })
	return all
}

// day is a moment in days from the first release.
func (p *Problem) day(t time.Time, open float64) float64 {
	if t.IsZero() {
		return open
	}
	return p.since(t.UnixMilli())
}

// IdleAt are the rows of site k that were not at work at a moment, as bits of
// numbered rows.
func (p *Problem) IdleAt(k int, ms int64) uint64 {
	if !p.Windowed() || k < 0 || k >= len(p.masks) {
		return 0
	}
	return p.masks[k] &^ p.working.RowsAt(k, p.since(ms))
}

// Unwatched are the times up to a moment in which no row of site k was at work, as
// far as the likelihood knows; from and to in Unix milliseconds.
func (p *Problem) Unwatched(k int, until int64) [][2]int64 {
	if !p.Windowed() {
		return nil
	}
	return p.spans(p.working.Unwatched(k), until)
}

// IdleTimes are those in which row b did not work.
func (p *Problem) IdleTimes(b int, until int64) [][2]int64 {
	if !p.Windowed() {
		return nil
	}
	return p.spans(p.working.IdleTimes(b), until)
}

// spans are windows as moments, from the first release on.
func (p *Problem) spans(windows []likelihood.Window, until int64) (out [][2]int64) {
	for _, w := range windows {
		from, to := p.origin, until
		if w.From > 0 {
			from += int64(math.Round(w.From * msPerDay))
		}
		if !math.IsInf(w.To, 1) {
			to = min(to, p.origin+int64(math.Round(w.To*msPerDay)))
		}
		if from < to {
			out = append(out, [2]int64{from, to})
		}
	}
	return out
}

// Moment is a time as the study's clock shows it.
func (p *Problem) Moment(ms int64) string {
	zone := p.zone
	if zone == nil {
		zone = time.UTC
	}
	return time.UnixMilli(ms).In(zone).Format("2006-01-02 15:04")
}
