package view

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history"
)

// Preliminary are the cautions of a season that still runs.
var Preliminary = []string{
	"Preliminary: the season is still running. Late records, corrected clocks and the fish to come will change these numbers.",
	"Fish still on their way are assumed to behave as those before them: the same migration rate and spread, no long delay, the same survival.",
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

// idleNote is, when the season is over, of an estimate that a row idle too long
// leaves without a value.
var idleNote = Note{statusMark(cjs.TooEarly), "a row did not work while too many fish passed; only an interval is given"}

// worded is a section of estimates of d: when the season is over what is too early is
// called what it is then. A replay is of days on which it was not.
func worded(d *analysis.Data, s Section) Section {
	if d.Running() || !slices.ContainsFunc(s.Tables, func(t Table) bool { return slices.Contains(t.Notes, footnotes[cjs.TooEarly]) }) {
		return s
	}
	s.Tables = mapped(s.Tables, func(t Table) Table {
		t.Notes = mapped(t.Notes, func(n Note) Note {
			if n == footnotes[cjs.TooEarly] {
				return idleNote
			}
			return n
		})
		t.Rows = mapped(t.Rows, func(r []Cell) []Cell {
			return mapped(r, func(c Cell) Cell {
				if c.Text == "early" && c.Mark == idleNote.Mark {
					c.Text = "idle"
				}
				return c
			})
		})
		return t
	})
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
func runningAnswer(d *analysis.Fitted, full bool) []string {
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
		return []string{"There is no site below the release, so no share passing can be estimated."}
	}
	soFar := func(x *cjs.Passed) string {
		return fmt.Sprintf("%s of %s tagged fish released %s had passed %s; %s were seen there.", percentOf(x.SoFar),
			Digits(float64(x.Released), 0), releasedAt(d.Histories, x.Site), river.Sites[x.Site].Name, Percent(x.SeenShare.Value, 1))
	}
	toCome := func(x *cjs.Passed) string {
		return fmt.Sprintf(" Another %s are still to come: %s will have passed by the season's end.", percentOf(x.StillToPass), percentOf(x.PassedShare)) + ofTogether(d.Fit.Passed, x)
	}
	var out []string
	if known != nil {
		s := "By " + through(d.Source()) + ", " + soFar(known)
		if known == point {
			s += toCome(known)
		} else {
			e := known.PassedShare
			s += fmt.Sprintf(" How many are still to come cannot be estimated yet, as it is too early to tell slow fish from dead ones: by the season's end the share will be between %s and %s %%.", Digits(100*e.Low, 0), Digits(100*e.High, 0))
		}
		out = append(out, s)
	}
	if point != nil && point != known {
		s := "For " + river.Sites[point.Site].Name + " the share at the season's end can be estimated: " + soFar(point) + toCome(point)
		out = append(out, s)
	}
	if full && known != nil && d.Plain != nil {
		if x := samePassed(d.Plain.Passed, known); x != nil && !math.IsNaN(x.PassedShare.Value) {
			out = append(out, fmt.Sprintf("If the season were treated as complete, assuming every fish not re-detected died or was missed, the estimate would be that %s passed %s.",
				percentOf(x.PassedShare), river.Sites[x.Site].Name))
		}
	}
	if last != known {
		site := river.Sites[last.Site].Name
		if early := tooEarly(d.Fit.Passed, last.Site); early != "" {
			out = append(out, fmt.Sprintf("How many of all fish passed %s cannot be estimated yet: it is too early for %s. Estimates for the other cohorts are given below.", site, early))
		} else {
			out = append(out, fmt.Sprintf("The share passing %s is not identifiable from these data: %s were seen there so far, which is survival × detection.",
				site, percentOf(last.SeenShare)))
		}
	}
	return out
}

// ofTogether says that an estimate of all fish is also of cohorts for which alone it
// is too early.
func ofTogether(passed []cjs.Passed, all *cjs.Passed) string {
	early := all.TooEarlyFor
	if len(early) == 0 {
		return ""
	}
	cohorts, fish := 0, 0
	for _, x := range passed {
		if x.Site == all.Site && len(x.Of) == 1 && x.Of[0].Name == "cohort" {
			cohorts++
			if slices.Contains(early, x.Of[0].Level) {
				fish += x.Released
			}
		}
	}
	whom := And(early)
	if len(early) > 3 {
		whom = fmt.Sprintf("%d of the %d", len(early), cohorts)
	}
	return fmt.Sprintf(" That is of all cohorts together; for %s (%s fish) alone it is too early.", whom, Digits(float64(fish), 0))
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
	ofs := ofsOf(passed, func(p cjs.Passed) []cjs.Category { return p.Of })
	over := made("passed_percent_were_the_season_over", levelTitle("passed %, season treated as complete", level), func(i int) Cell {
		if q := samePassed(plain, &passed[i]); q != nil {
			return estimate(q.PassedShare, 100)
		}
		return None()
	}).kind(Range, 1)
	t := grouped("passed", ofs, wire.PassedOf(river, passed),
		col("site", "site").key(),
		col("seen_percent", levelTitle("seen so far %", level), 1).detail(),
		col("passed_so_far_percent", levelTitle("passed so far %"+hadNoneBeen(passed), level), 1),
		col("still_to_pass_percent", levelTitle("still to pass %", level), 1),
		col("passed_percent", levelTitle("passed at season's end %"+hadNoneBeen(passed), level), 1),
		col("passed_percent_se", "").from("passed_percent.se"),
		col("released", "released"),
		col("removed_above", "removed above").detail(),
		col("seen", "seen so far").detail(),
		col("detection_percent.estimate", "detection %", 1).onScreen().noted().detail(),
		col("detection_percent", ""),
		col("passed_fish", levelTitle("fish passed so far", level)).detail(),
		col("passed_fish_percent", ""),
		over,
		col("passed_percent_with_retention", ""),
		col("between_cohorts_sd_percent", ""),
		col("status", "").from("passed_percent.status"),
		col("method", "").from("passed_percent.method"),
		col("too_early_for", ""),
	)
	return shown(hideEmpty(hideZero(together(passed, t), "removed_above"), "passed_percent_were_the_season_over"), ofs)
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
	t, ofs := survivalTable(river, survival, level, made("survival_were_the_season_over", levelTitle("season treated as complete", level), func(i int) Cell {
		for _, q := range plain {
			if q.From == survival[i].From && slices.Equal(q.Of, survival[i].Of) {
				return estimate(q.Estimate, 1)
			}
		}
		return None()
	}).kind(Range, 3))
	tables := shown(t, ofs)
	last := &tables[len(tables)-2]
	last.Notes = append(last.Notes, Note{Text: "season treated as complete: the plain model, assuming every fish not re-detected died or was missed"})
	return tables
}

// MovementTables shows how fast the fish drift and how far they spread.
func MovementTables(river *history.River, movement []cjs.Movement, level float64) []Table {
	ofs := ofsOf(movement, func(m cjs.Movement) []cjs.Category { return m.Of })
	var stretch []field
	if cjs.ByStretch(movement) {
		stretch = []field{col("from", ""), col("to", ""), words("", "stretch", func(i int) string {
			return river.Sites[movement[i].From].Name + " to " + river.Sites[movement[i].To].Name
		}).key()}
	}
	t := grouped("movement", ofs, wire.MovementsOf(river, movement), append(stretch,
		made("at", "at", func(i int) Cell { return at(movement[i].At) }),
		col("drift_km_per_day", levelTitle("migration rate km/day", level), 1),
		col("drift_se", "").from("drift_km_per_day.se"),
		col("spread_km_per_root_day", levelTitle("spread km/√day", level), 1),
		col("spread_se", "").from("spread_km_per_root_day.se"),
		col("rest_percent", levelTitle("delayed departure %", level), 1),
		col("rest_days", levelTitle("for days", level), 1),
		col("status", "").from("drift_km_per_day.status"),
		col("method", "").from("drift_km_per_day.method"),
	)...)
	return shown(hideEmpty(t, "at", "rest_percent", "rest_days"), ofs)
}
