package view

import (
	"fmt"
	"math"
	"time"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/season"
)

// SeasonPage says what would have been said on each day of a season, and what
// it came to.
func SeasonPage(s *analysis.Season) Page { return seasonPage(s, true) }

// BriefSeasonPage says it of the site that the answer is about alone.
func BriefSeasonPage(s *analysis.Season) Page {
	return withBriefNote(seasonPage(s, false), "the data available on each day, every site")
}

func seasonPage(s *analysis.Season, full bool) Page {
	v := replayed{s, "2 Jan"}
	if n := len(s.Days); s.Days[n-1].AsOf.Sub(s.Days[0].AsOf) > 300*24*time.Hour {
		v.layout = time.DateOnly // the year must be said
	}
	p := newPage(s.Data)
	answer, site := v.answer()
	p.Sections = append(p.Sections, Section{Paragraphs: answer})
	if known := v.known(); full {
		p.Sections = append(p.Sections, known)
	} else if len(known.Paragraphs) > 0 { // days without an answer, and why
		p.Sections = append(p.Sections, Section{Paragraphs: known.Paragraphs})
	}
	for k := 1; k < len(s.Histories.River.Sites); k++ {
		if !full && k != site {
			continue
		}
		if t := v.site(k); len(t.Rows) > 0 {
			p.Sections = append(p.Sections, worded(s.Data, true, Section{Heading: "Passed " + s.Histories.River.Sites[k].Name, Tables: []Table{t}}))
		}
	}
	p.Sections = append(p.Sections, Section{Tables: []Table{v.all(), InputTable(s.Inputs)}, Notes: []string{
		"On each day only the fish released and the detections made by then count. Records that came in late, and clocks corrected later, are treated as known at once: estimates made during a real season are a little worse.",
		FinalNote(s.Data) + " Season treated as complete: every fish not re-detected is assumed dead or missed.",
	}})
	return p
}

// Final says of what is estimated with all data of a season, for the same
// fish, when that is: while the season runs it is not yet the end.
func Final(d *analysis.Data) string {
	if d.Running() {
		return "by the data to date"
	}
	return "in the end"
}

// FinalTitle is the title of a column of such estimates.
func FinalTitle(d *analysis.Data) string { return "estimated " + Final(d) + " %" }

// FinalNote says below a table what such estimates are.
func FinalNote(d *analysis.Data) string {
	if d.Running() {
		return "By the data to date: the same fish at the season's end, estimated with all data there are so far."
	}
	return "In the end: the same fish, estimated with all data of the season."
}

type replayed struct {
	*analysis.Season
	layout string // of dates
}

// day is a day of the replay in the tables, long in running text.
func (v replayed) day(d *season.Day) string {
	return v.Source().UpTo(d.AsOf, v.layout, v.layout+" 15:04")
}

func (v replayed) long(d *season.Day) string {
	return v.Source().UpTo(d.AsOf, longDay, longDay+" 15:04")
}

// usable tells whether anything could be said on a day.
func usable(d *season.Day) bool { return d.Err == nil && d.Running.Verdict == cjs.Converged }

// reading is what was said of one site and group on one day.
type reading struct {
	*season.Day
	then, over, final *cjs.Passed // over and final nil where there is none
}

// readings are those of all days for which pick is true.
func (v replayed) readings(pick func(*cjs.Passed) bool) []reading {
	var out []reading
	for i := range v.Days {
		d := &v.Days[i]
		if !usable(d) {
			continue
		}
		for j := range d.Running.Passed {
			p := &d.Running.Passed[j]
			if !pick(p) {
				continue
			}
			r := reading{Day: d, then: p}
			if d.Plain.Verdict == cjs.Converged {
				r.over = samePassed(d.Plain.Passed, p)
			}
			if d.Final != nil && d.Final.Verdict == cjs.Converged {
				r.final = samePassed(d.Final.Passed, p)
			}
			out = append(out, r)
		}
	}
	return out
}

func share(p *cjs.Passed) cjs.Estimate {
	if p == nil {
		return cjs.NoEstimate(cjs.Absent)
	}
	return p.PassedShare
}

// holds tells whether e's interval holds what it came to; an end that is not
// known shuts nothing out.
func (r reading) holds(e cjs.Estimate) bool {
	x := share(r.final).Value
	return !(x < e.Low) && !(x > e.High) && !(math.IsNaN(e.Low) && math.IsNaN(e.High))
}

// misses sums up how far readings lay from what it came to.
type misses struct {
	days, held int
	off        float64
}

func (m *misses) add(r *reading, e cjs.Estimate) {
	if math.IsNaN(e.Value) {
		return
	}
	m.days++
	m.off += math.Abs(e.Value - share(r.final).Value)
	if r.holds(e) {
		m.held++
	}
}

// points is the average distance in percentage points.
func (m *misses) points() string { return Digits(100*m.off/float64(m.days), 1) }

// answer compares the readings of the last site of which something was said, and
// gives that site; the last of all where nothing was.
func (v replayed) answer() ([]string, int) {
	sites := v.Histories.River.Sites
	tooSoon := 0
	for k := len(sites) - 1; k > 0; k-- {
		var early int
		var then, over misses
		var first *reading
		rs := v.readings(func(p *cjs.Passed) bool { return p.Site == k && len(p.Of) == 0 })
		ended := false
		for i := range rs {
			r := &rs[i]
			e := r.then.PassedShare
			if e.Status == cjs.TooEarly {
				early++
			}
			if final := share(r.final); math.IsNaN(final.Value) || final.Status == cjs.Borrowed {
				continue
			}
			ended = true
			if e.Status == cjs.TooEarly || e.Status == cjs.Borrowed || math.IsNaN(e.Value) {
				continue
			}
			if first == nil {
				first = r
			}
			then.add(r, e)
			over.add(r, share(r.over))
		}
		tooSoon = max(tooSoon, early)
		if first != nil {
			return v.readingsAt(k, first, then, over, early), k
		}
		if ended && early > 0 && len(v.Days) == 1 {
			return []string{fmt.Sprintf("On %s it was too early to estimate the share that would pass %s: slow fish could not be told from dead ones yet.", v.long(&v.Days[0]), sites[k].Name)}, k
		}
		if ended && early > 0 {
			return []string{fmt.Sprintf("On no day could the share that would pass %s be estimated: on %s it was too early to tell slow fish from dead ones.", sites[k].Name, Plural(early, "day"))}, k
		}
	}
	if tooSoon > 0 {
		return []string{fmt.Sprintf("Nothing can be estimated yet: on no day could the share that would pass any site be estimated. On %s it was too early to tell slow fish from dead ones.", Plural(tooSoon, "day"))}, len(sites) - 1
	}
	return []string{"The share that passed is not identifiable at any site of this study."}, len(sites) - 1
}

// readingsAt says what the readings at site k were worth, first among them.
func (v replayed) readingsAt(k int, first *reading, then, over misses, early int) []string {
	asOver := share(first.over)
	did, value := "did", "the final estimate"
	if v.Data.Running() {
		did, value = "will", "the estimate to date"
	}
	s := fmt.Sprintf("On %s the estimate was that %s of the %s fish released by then would pass %s; %s an estimated %s %s.",
		v.long(first.Day), percentOf(first.then.PassedShare), Digits(float64(first.then.Released), 0), v.Histories.River.Sites[k].Name,
		Final(v.Data), percentOf(share(first.final)), did)
	if !math.IsNaN(asOver.Value) {
		s += fmt.Sprintf(" Season treated as complete: %s.", Percent(asOver.Value, 1))
	}
	held := [2]string{"did not contain it", "contained it"}
	t := fmt.Sprintf("On the %d days with an estimate it was on average %s percentage points from %s; its interval contained that on %d.", then.days, then.points(), value, then.held)
	if then.days == 1 {
		t = fmt.Sprintf("The estimate was %s percentage points from %s; its interval %s.", then.points(), value, held[then.held])
	}
	switch {
	case over.days == 1 && then.days == 1:
		t += fmt.Sprintf(" With the season treated as complete: %s points, and that interval %s.", over.points(), held[over.held])
	case over.days == then.days:
		t += fmt.Sprintf(" With the season treated as complete: %s points, and on %d.", over.points(), over.held)
	case over.days > 0:
		t += fmt.Sprintf(" With the season treated as complete, on %s: %s points, and on %d.", Plural(over.days, "day"), over.points(), over.held)
	}
	if early > 0 {
		t += fmt.Sprintf(" On %s it was too early for an estimate.", Plural(early, "more day"))
	}
	return []string{s, t}
}

// known is what there was to go by on each day.
func (v replayed) known() Section {
	sites := v.Histories.River.Sites
	t := Table{Columns: []Column{{Title: "through", Key: true}, {Title: "released", Kind: Count}}}
	for _, s := range sites[1:] {
		t.Columns = append(t.Columns, Column{Title: "seen at " + s.Name, Kind: Count})
	}
	t.Columns = append(t.Columns, Column{Title: "migration rate km/day", Kind: Number, Digits: 1}, Column{Title: "spread km/√day", Kind: Number, Digits: 1})
	out := Section{Heading: "Data available on each day"}
	for i := range v.Days {
		d := &v.Days[i]
		row := []Cell{T(v.day(d)), I(d.Released)}
		seen := make([]int, len(sites))
		if d.Err != nil {
			out.Paragraphs = append(out.Paragraphs, fmt.Sprintf("%s: %s.", v.long(d), d.Err))
		} else {
			if !usable(d) {
				out.Paragraphs = append(out.Paragraphs, v.long(d)+": the fit did not converge.")
			}
			for _, p := range d.Running.Passed {
				if len(p.Of) == 0 {
					seen[p.Site] = p.Seen
				}
			}
		}
		for _, n := range seen[1:] {
			if d.Err != nil && d.Seen > 0 {
				row = append(row, None())
			} else {
				row = append(row, I(n))
			}
		}
		// Of several groups none stands for all.
		if usable(d) && len(d.Running.Movement) == 1 {
			m := d.Running.Movement[0]
			row = append(row, N(m.Drift.Value), N(m.Spread.Value))
		} else {
			row = append(row, None(), None())
		}
		t.Rows = append(t.Rows, row)
	}
	out.Tables = []Table{t}
	return out
}

// site is the readings of all fish at site k, for people.
func (v replayed) site(k int) Table {
	level := v.Level
	r1 := func(title string) Column { return Column{Title: levelTitle(title, level), Kind: Range, Digits: 1} }
	t := Table{Columns: []Column{{Title: "through", Key: true},
		r1("passed so far %"), r1("still to pass %"), r1("passed at season's end %"), r1(FinalTitle(v.Data)), r1("season treated as complete %")}}
	for _, r := range v.readings(func(p *cjs.Passed) bool { return p.Site == k && len(p.Of) == 0 }) {
		t.Rows = append(t.Rows, []Cell{T(v.day(r.Day)), estimate(r.then.SoFar, 100), estimate(r.then.StillToPass, 100),
			estimate(r.then.PassedShare, 100), estimate(share(r.final), 100), estimate(share(r.over), 100)})
	}
	t.Notes = notesFor(&t)
	return t
}

// all holds every reading, of every group, for programs.
func (v replayed) all() Table {
	rs := v.readings(func(*cjs.Passed) bool { return true })
	ofs := make([][]cjs.Category, len(rs))
	for i, r := range rs {
		ofs[i] = r.then.Of
	}
	g := groupsOf(ofs)
	t := Table{ID: "season", CSVOnly: true, Columns: []Column{{Name: "through", Holds: Moments}}}
	t.Columns = append(t.Columns, g.columns()...)
	t.Columns = append(t.Columns, Column{Name: "site"}, Column{Name: "released", Kind: Count}, Column{Name: "seen", Kind: Count},
		Column{Name: "seen_percent", Kind: Range}, Column{Name: "passed_so_far_percent", Kind: Range},
		Column{Name: "still_to_pass_percent", Kind: Range}, Column{Name: "passed_percent", Kind: Range}, Column{Name: "status"}, Column{Name: "method"},
		Column{Name: "it_came_to_percent", Kind: Range}, Column{Name: "passed_percent_were_the_season_over", Kind: Range})
	for i, r := range rs {
		row := append([]Cell{moment(r.AsOf.UnixMilli())}, g.cells(ofs[i])...)
		t.Rows = append(t.Rows, append(row, T(v.Histories.River.Sites[r.then.Site].Name), I(r.then.Released), I(r.then.Seen),
			estimate(r.then.SeenShare, 100), estimate(r.then.SoFar, 100), estimate(r.then.StillToPass, 100), estimate(r.then.PassedShare, 100),
			T(string(r.then.PassedShare.Status)), T(r.then.PassedShare.Method), estimate(share(r.final), 100), estimate(share(r.over), 100)))
	}
	return t
}
