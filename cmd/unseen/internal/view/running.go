package view

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

// idleNote is, when the season is over, of an estimate that a row idle too long
// leaves without a value, eitherNote while it runs and there are outages too.
var (
	idleNote   = Note{statusMark(cjs.TooEarly), "a row did not work while too many fish passed; only an interval is given"}
	eitherNote = Note{statusMark(cjs.TooEarly), "season incomplete, or a row did not work while too many fish passed: slow fish cannot be told from dead ones; only an interval is given"}
)

// worded is a section of estimates of d, made while the season runs or not (a replay is
// of days on which it does): where it is not the season that is too early, that is
// called what it is.
func worded(d *analysis.Data, running bool, s Section) Section {
	note := idleNote
	if running {
		note = eitherNote
	}
	outages := slices.ContainsFunc(d.Study.Sites, func(s study.Site) bool { return s.HasWindows() })
	if running && !outages || !slices.ContainsFunc(s.Tables, func(t Table) bool { return slices.Contains(t.Notes, footnotes[cjs.TooEarly]) }) {
		return s
	}
	s.Tables = mapped(s.Tables, func(t Table) Table {
		t.Notes = mapped(t.Notes, func(n Note) Note {
			if n == footnotes[cjs.TooEarly] {
				return note
			}
			return n
		})
		t.Rows = mapped(t.Rows, func(r []Cell) []Cell {
			return mapped(r, func(c Cell) Cell {
				if !running && c.Text == "early" && c.Mark == note.Mark {
					c.Text = "idle"
				}
				return c
			})
		})
		return t
	})
	return s
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
		if !math.IsNaN(x.SoFar.Value) && x.SoFar.Status != cjs.Borrowed {
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
		if last.SoFar.Status == cjs.Borrowed {
			out = append(out, borrowedSoFar(site, last))
		} else if early := tooEarly(d.Fit.Passed, last.Site); early != "" {
			out = append(out, fmt.Sprintf("How many of all fish passed %s cannot be estimated yet: it is too early for %s. Estimates for the other cohorts are given below.", site, early))
		} else {
			out = append(out, fmt.Sprintf("The share passing %s is not identifiable from these data: %s were seen there so far, which is survival × detection.",
				site, percentOf(last.SeenShare)))
		}
	}
	return out
}

// borrowedSoFar says of the last site, of all fish, what the model says of it by what
// its sites share alone.
func borrowedSoFar(site string, x *cjs.Passed) string {
	s := fmt.Sprintf("The share passing %s is not identifiable from these data, as no fish are detected downstream: %s were seen there so far.", site, percentOf(x.SeenShare))
	if math.IsNaN(x.SoFar.Value) {
		return s
	}
	s += fmt.Sprintf(" If the model's shared parameters are taken at face value, the estimate would be that %s had passed", percentOf(x.SoFar))
	if math.IsNaN(x.PassedShare.Value) {
		return s + "; it is too early to say how many will have by the season's end."
	}
	return s + fmt.Sprintf(" and %s will have by the season's end.", percentOf(x.PassedShare))
}

// releasedAt names where the fish that could pass a site were released.
func releasedAt(h *history.Histories, site int) string {
	var names []string
	for k := range site {
		for i := range h.Entry {
			if int(h.Entry[i]) == k && h.New(i) {
				names = append(names, h.River.Sites[k].Name)
				break
			}
		}
	}
	if len(names) > 3 {
		return "above " + h.River.Sites[site].Name
	}
	return "at " + And(names)
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
