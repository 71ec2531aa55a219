package travel

import (
	"cmp"
	"math"
	"slices"

	"example.org/unseen/history"
	"example.org/unseen/likelihood/passtime"
)

// journeys are the days of fish over a stretch.
type journeys struct {
	days []float64
	// room are the days each fish had to be seen at the end of the stretch,
	// +Inf where they have no end.
	room []float64
	// open are the parts of room in which it could be, where that is not all
	// the time; nil: it is, of all fish where open is.
	open [][]part
}

// journeys are those of the fish of a cohort over a stretch.
func (r *Result) journeys(t *times, from, to, cohort int) (j *journeys, notTimed int) {
	j = &journeys{}
	stops, rows := r.stops(to), t.h.River.Sites[to].RowCount()
	windows := false
	for i := range t.h.Len() {
		if !t.in(i, cohort) {
			continue
		}
		end := t.first[i*t.sites+to]
		start, there := t.at(i, from, r.Options.FromLast)
		switch {
		case end == history.NoTime || !there:
		case start == history.NoTime || end <= start:
			notTimed++
		default:
			j.days = append(j.days, float64(end-start)/dayMs)
			left := math.Inf(1)
			if r.Options.AsOf != 0 {
				left = float64(r.Options.AsOf-start) / dayMs
			}
			parts, left := r.open(i, to, stops, rows, start, left)
			j.room, j.open = append(j.room, left), append(j.open, parts)
			windows = windows || parts != nil
		}
	}
	if !windows {
		j.open = nil
	}
	return j, notTimed
}

// part are days from one to another, in which a fish that comes is seen with some
// share of the probability it has while all rows work.
type part struct{ from, to, seen float64 }

// opens are the parts of a fish's journey, nil where it is always seen alike.
func (j *journeys) opens(i int) []part {
	if j.open == nil {
		return nil
	}
	return j.open[i]
}

// thin keeps every so many.
func (j *journeys) thin(every int) (out journeys) {
	for i := 0; i < len(j.days); i += every {
		out.days, out.room = append(out.days, j.days[i]), append(out.room, j.room[i])
		if j.open != nil {
			out.open = append(out.open, j.open[i])
		}
	}
	return out
}

// ends tells whether no fish had days without end.
func (j *journeys) ends() bool {
	return !slices.ContainsFunc(j.room, func(w float64) bool { return math.IsInf(w, 1) })
}

// came is the chance that fish i came, and was seen, in up to t days, over that of
// a fish that is always seen.
func (j *journeys) came(law passtime.Law, i int, t float64) (sum float64) {
	open := j.opens(i)
	if open == nil {
		return law.CDF(min(t, j.room[i]))
	}
	for _, p := range open {
		if t <= p.from {
			break
		}
		sum += p.seen * (law.CDF(min(t, p.to)) - law.CDF(p.from))
	}
	return sum
}

// law is a first-passage law with a short cut.
type law struct{ passtime.Law }

// derivatives of log came in all its days.
func (l law) cameDerivatives(open []part) passtime.Derivatives {
	var sum passtime.Derivatives
	for _, p := range open {
		sum.Add(p.seen, l.CDFDerivatives(p.to))
		sum.Add(-p.seen, l.CDFDerivatives(p.from))
	}
	v, s := sum.V/sum.Value, sum.S/sum.Value
	return passtime.Derivatives{Value: math.Log(sum.Value), V: v, S: s,
		VV: sum.VV/sum.Value - v*v, VS: sum.VS/sum.Value - v*s, SS: sum.SS/sum.Value - s*s}
}

// stop is a moment at which a row of a site stops or starts to work.
type stop struct {
	ms  int64
	row int // within the site
	off bool
}

// stops are those of a site, in order.
func (r *Result) stops(site int) (out []stop) {
	for _, w := range r.Options.Working {
		if w.Site != site {
			continue
		}
		for _, idle := range w.Idle {
			out = append(out, stop{idle[0], max(0, w.Row), true}, stop{idle[1], max(0, w.Row), false})
		}
	}
	slices.SortFunc(out, func(a, b stop) int { return cmp.Compare(a.ms, b.ms) })
	return out
}

// open are the parts of the days after start in which fish i is seen at a site,
// and the days up to the end of the last of them; parts are nil where there are no
// others up to then.
func (r *Result) open(i, site int, stops []stop, rows int, start int64, room float64) (parts []part, end float64) {
	if len(stops) == 0 {
		return nil, room
	}
	var idle uint64
	at, end := 0.0, 0.0
	add := func(to float64, ms int64) {
		to = min(to, room)
		if seen := r.seenShare(i, site, idle, rows, ms); seen > 0 && to > at {
			if n := len(parts); n > 0 && parts[n-1].to == at && parts[n-1].seen == seen {
				parts[n-1].to = to
			} else {
				parts = append(parts, part{at, to, seen})
			}
			end = to
		}
		at = max(at, to)
	}
	from := start
	for _, s := range stops {
		if s.ms > from {
			days := math.Inf(1)
			if s.ms < math.MaxInt64 {
				days = float64(s.ms-start) / dayMs
			}
			add(days, from)
			from = s.ms
		}
		if s.off {
			idle |= 1 << s.row
		} else {
			idle &^= 1 << s.row
		}
	}
	if from < math.MaxInt64 {
		add(room, from)
	}
	switch {
	case len(parts) == 0:
		return nil, room // seen while no row was at work: taken as always seen
	case len(parts) == 1 && parts[0].from == 0:
		return nil, end
	}
	return parts, end
}

// seenShare is the chance that a fish that comes to a site at a moment is seen,
// over that while all rows work: by the fit, but without a value in it by whether
// any row does.
func (r *Result) seenShare(i, site int, idle uint64, rows int, ms int64) float64 {
	switch all := r.Options.Seen(i, site, history.NoTime); {
	case idle == 0:
		return 1
	case idle == 1<<rows-1:
		return 0
	case all > 0:
		return r.Options.Seen(i, site, ms) / all
	}
	return 1
}
