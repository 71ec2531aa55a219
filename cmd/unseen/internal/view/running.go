package view

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/history"
)

// Preliminary are the cautions of a season that still runs.
var Preliminary = []string{
	"Preliminary: the season still runs. Late records, corrected clocks and the fish to come will change these numbers.",
	"Fish on their way are taken to go on as those before them: the same drift and spread, no long rest, deaths as in those already seen.",
}

// through says up to when data count: a day where it is the day's end, else
// with the time of day.
func through(s analysis.Source) string {
	return s.UpTo(s.AsOf, longDay, longDay+" 15:04 MST")
}

const longDay = "2 January 2006"

// Stamped puts the day the data go through on every table of a page while the
// season runs.
func Stamped(from analysis.Source, p Page) Page {
	p.Sections = slices.Clone(p.Sections)
	for i, s := range p.Sections {
		p.Sections[i] = StampedSection(from, s)
	}
	return p
}

// StampedSection is s with the day the data go through, while the season runs:
// for people in the heading, or where there is none in the tables' titles; for
// programs in a column.
func StampedSection(from analysis.Source, s Section) Section {
	if !from.Running {
		return s
	}
	stamp := "data through " + through(from)
	when := from.AsOf.UTC().Format(time.RFC3339)
	s.Tables = slices.Clone(s.Tables)
	seen := false
	for j := range s.Tables {
		t := &s.Tables[j]
		// A table of words alone, such as the assumptions, has no date.
		if !t.CSVOnly && slices.ContainsFunc(t.Columns, func(c Column) bool { return c.Kind != Text }) {
			seen = true
			if s.Heading == "" {
				t.Title = joined(t.Title, stamp)
			}
		}
		if t.ID == "" {
			continue
		}
		t.Columns = append(slices.Clip(t.Columns), Column{Name: "data_through"})
		t.Rows = slices.Clone(t.Rows)
		for r := range t.Rows {
			t.Rows[r] = append(slices.Clip(t.Rows[r]), T(when))
		}
	}
	if seen && s.Heading != "" {
		s.Heading = joined(s.Heading, stamp)
	}
	return s
}

func joined(a, b string) string {
	if a == "" {
		return strings.ToUpper(b[:1]) + b[1:]
	}
	return a + " · " + b
}

// runningAnswer says how many have passed so far, are still to come, and will
// have passed at the season's end.
func runningAnswer(d *analysis.Fitted) []string {
	river := &d.Histories.River
	var known, point, last *cjs.Passed
	for i := range d.Fit.Passed {
		x := &d.Fit.Passed[i]
		if len(x.Of) > 0 {
			continue
		}
		last = x
		if !math.IsNaN(x.SoFar.Value) {
			known = x
			if !math.IsNaN(x.PassedShare.Value) {
				point = x
			}
		}
	}
	if last == nil {
		return []string{"No site stands below the release: nothing can be said of passing."}
	}
	soFar := func(x *cjs.Passed) string {
		return fmt.Sprintf("%s of %s tagged fish released %s had passed %s; %s were seen there.", percentOf(x.SoFar),
			Digits(float64(x.Released), 0), releasedAt(d.Histories, x.Site), river.Sites[x.Site].Name, Percent(x.SeenShare.Value, 1))
	}
	toCome := func(x *cjs.Passed) string {
		return fmt.Sprintf(" Another %s are still to come: %s will have passed by the season's end.", percentOf(x.StillToPass), percentOf(x.PassedShare))
	}
	var out []string
	if known != nil {
		s := "By " + through(d.Source()) + ", " + soFar(known)
		if known == point {
			s += toCome(known)
		} else {
			e := known.PassedShare
			s += fmt.Sprintf(" How many are still to come cannot be said yet, as it is too early to tell slow fish from dead ones: by the season's end it will be between %s and %s %%.", Digits(100*e.Low, 0), Digits(100*e.High, 0))
		}
		out = append(out, s)
	}
	if point != nil && point != known {
		s := "Of " + river.Sites[point.Site].Name + " more can be said: " + soFar(point) + toCome(point)
		out = append(out, s)
	}
	if known != nil && d.Plain != nil {
		if x := samePassed(d.Plain.Passed, known); x != nil && !math.IsNaN(x.PassedShare.Value) {
			out = append(out, fmt.Sprintf("Read as a finished season, with every fish not seen again taken for dead or missed, the same data would say that %s passed %s.",
				percentOf(x.PassedShare), river.Sites[x.Site].Name))
		}
	}
	if last != known {
		site := river.Sites[last.Site].Name
		if early := tooEarly(d.Fit.Passed, last.Site); early != "" {
			out = append(out, fmt.Sprintf("How many of all fish passed %s cannot be said yet: nothing can be said of %s so early. What can be said of the others stands below, by cohort.", site, early))
		} else {
			out = append(out, fmt.Sprintf("How many passed %s cannot be said from these data: %s were seen there so far, which is survival times detection.",
				site, percentOf(last.SeenShare)))
		}
	}
	return out
}

// tooEarly names the cohorts of which, unlike of others, it cannot be said how
// many passed a site so far: as just after their release.
func tooEarly(passed []cjs.Passed, site int) string {
	var names []string
	some := false
	for i := range passed {
		if x := &passed[i]; x.Site != site || len(x.Of) != 1 || x.Of[0].Name != "cohort" {
			continue
		} else if math.IsNaN(x.SoFar.Value) {
			names = append(names, x.Of[0].Level)
		} else {
			some = true
		}
	}
	if !some {
		return ""
	}
	return strings.Join(names, ", ")
}

func samePassed(list []cjs.Passed, as *cjs.Passed) *cjs.Passed {
	for i := range list {
		if list[i].Site == as.Site && slices.Equal(list[i].Of, as.Of) {
			return &list[i]
		}
	}
	return nil
}

// running tells a passed table of a season that still runs.
func running(passed []cjs.Passed) bool {
	return slices.ContainsFunc(passed, func(p cjs.Passed) bool { return p.SoFar.Status != cjs.Absent && p.SoFar.Status != "" })
}

// RunningTables shows, while the season runs, how many fish have passed each
// site so far and are still to. plain is the passed table with the season
// taken as over, or nil.
func RunningTables(river *history.River, passed, plain []cjs.Passed, level float64) []Table {
	ofs := make([][]cjs.Category, len(passed))
	for i := range passed {
		ofs[i] = passed[i].Of
	}
	g := groupsOf(ofs)
	t := Table{ID: "passed", Columns: append(g.columns(),
		Column{Name: "site", Title: "site", Key: true},
		Column{Name: "seen_percent", Title: levelTitle("seen so far %", level), Kind: Range, Digits: 1},
		Column{Name: "passed_so_far_percent", Title: levelTitle("passed so far %"+hadNoneBeen(passed), level), Kind: Range, Digits: 1},
		Column{Name: "still_to_pass_percent", Title: levelTitle("still to pass %", level), Kind: Range, Digits: 1},
		Column{Name: "passed_percent", Title: levelTitle("passed at season's end %"+hadNoneBeen(passed), level), Kind: Range, Digits: 1},
		Column{Name: "passed_percent_se", Kind: Number},
		Column{Name: "released", Title: "released", Kind: Count},
		Column{Name: "removed_above", Title: "removed above", Kind: Count},
		Column{Name: "seen", Title: "seen so far", Kind: Count},
		Column{Title: "detection %", Kind: Number, Digits: 1},
		Column{Name: "detection_percent", Kind: Range},
		Column{Name: "passed_fish", Title: levelTitle("fish passed so far", level), Kind: Range},
		Column{Name: "passed_fish_percent", Kind: Range},
		Column{Name: "passed_percent_were_the_season_over", Title: levelTitle("passed %, were the season over", level), Kind: Range, Digits: 1},
		Column{Name: "passed_percent_with_retention", Kind: Range},
		Column{Name: "between_cohorts_sd_percent", Kind: Number},
		Column{Name: "status"},
		Column{Name: "method"},
	)}
	for i := range passed {
		p := &passed[i]
		over := None()
		if q := samePassed(plain, p); q != nil {
			over = estimate(q.PassedShare, 100)
		}
		t.Rows = append(t.Rows, append(g.cells(p.Of),
			T(river.Sites[p.Site].Name),
			estimate(p.SeenShare, 100),
			estimate(p.SoFar, 100),
			estimate(p.StillToPass, 100),
			estimate(p.PassedShare, 100),
			N(100*p.PassedShare.SE),
			I(p.Released),
			I(p.Removed),
			I(p.Seen),
			N(100*p.Detection.Value).Marked(statusMark(p.Detection.Status)),
			estimate(p.Detection, 100),
			estimate(p.PassedFish, 1),
			estimate(p.PassedFishShare, 100),
			over,
			estimate(p.WithRetention, 100),
			N(100*p.BetweenCohorts),
			T(string(p.PassedShare.Status)),
			T(p.PassedShare.Method),
		))
	}
	return shown(hideEmpty(hideZero(t, "removed_above"), "passed_percent_were_the_season_over"), ofs)
}

// hideZero takes a count column of nothing but 0 out of what people see.
func hideZero(t Table, name string) Table {
	for i, c := range t.Columns {
		if c.Name == name && !slices.ContainsFunc(t.Rows, func(r []Cell) bool { return r[i].Value > 0 }) {
			t.Columns[i].Title = ""
		}
	}
	return t
}

// RunningSurvivalTables shows survival by reach beside what it would be were
// the season over.
func RunningSurvivalTables(river *history.River, survival, plain []cjs.Survival, level float64) []Table {
	ofs := make([][]cjs.Category, len(survival))
	for i := range survival {
		ofs[i] = survival[i].Of
	}
	g := groupsOf(ofs)
	columns := append(g.columns(),
		Column{Name: "from"}, Column{Name: "to"}, Column{Title: "reach", Key: true},
		Column{Name: "km", Title: "km", Kind: Number, Digits: 1},
		Column{Name: "at", Title: "at"})
	columns = append(columns, estimateColumns("survival", "survival", level)...)
	t := Table{ID: "survival", Columns: append(columns,
		Column{Name: "survival_were_the_season_over", Title: levelTitle("were the season over", level), Kind: Range, Digits: 3})}
	for _, s := range survival {
		row := append(g.cells(s.Of),
			T(river.Sites[s.From].Name), T(river.Sites[s.From+1].Name), T(river.Reach(s.From)),
			N(river.ReachKm(s.From)), at(s.At))
		over := None()
		for _, q := range plain {
			if q.From == s.From && slices.Equal(q.Of, s.Of) {
				over = estimate(q.Estimate, 1)
			}
		}
		t.Rows = append(t.Rows, append(append(row, estimateCells(s.Estimate)...), over))
	}
	tables := shown(hideEmpty(t, "km", "at"), ofs)
	last := &tables[len(tables)-2]
	last.Notes = append(last.Notes, Note{Text: "were the season over: the plain model, which takes every fish not seen again for dead or missed"})
	return tables
}

// MovementTables shows how fast the fish drift and how far they spread.
func MovementTables(movement []cjs.Movement, level float64) []Table {
	ofs := make([][]cjs.Category, len(movement))
	for i := range movement {
		ofs[i] = movement[i].Of
	}
	g := groupsOf(ofs)
	t := Table{ID: "movement", Columns: append(g.columns(),
		Column{Name: "at", Title: "at"},
		Column{Name: "drift_km_per_day", Title: levelTitle("drift km/day", level), Kind: Range, Digits: 1},
		Column{Name: "drift_se", Kind: Number},
		Column{Name: "spread_km_per_root_day", Title: levelTitle("spread km/√day", level), Kind: Range, Digits: 1},
		Column{Name: "spread_se", Kind: Number},
		Column{Name: "rest_percent", Title: levelTitle("rest after release %", level), Kind: Range, Digits: 1},
		Column{Name: "rest_days", Title: levelTitle("for days", level), Kind: Range, Digits: 1},
		Column{Name: "status"}, Column{Name: "method"},
	)}
	for _, m := range movement {
		t.Rows = append(t.Rows, append(g.cells(m.Of), at(m.At), estimate(m.Drift, 1), N(m.Drift.SE), estimate(m.Spread, 1), N(m.Spread.SE),
			estimate(m.Rest, 100), estimate(m.RestDays, 1), T(string(m.Drift.Status)), T(m.Drift.Method)))
	}
	return shown(hideEmpty(t, "at", "rest_percent", "rest_days"), ofs)
}
