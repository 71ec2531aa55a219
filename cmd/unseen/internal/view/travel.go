package view

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/travel"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history"
)

// TravelPage says how long the fish took and when they came.
func TravelPage(d *analysis.Data, r *travel.Result) Page {
	return travelPage(d, r, len(d.Histories.Cohorts) > 1)
}

// BriefTravelPage says it of all fish together; it is the whole page where they are
// one cohort.
func BriefTravelPage(d *analysis.Data, r *travel.Result) Page {
	if len(d.Histories.Cohorts) <= 1 {
		return TravelPage(d, r)
	}
	all := *r
	all.Stretches = only(r.Stretches, func(s travel.Stretch) bool { return s.Cohort == travel.All })
	all.Arrivals = only(r.Arrivals, func(a travel.Arrival) bool { return a.Cohort == travel.All })
	all.Stays = only(r.Stays, func(s travel.Stay) bool { return s.Cohort == travel.All })
	p := travelPage(d, &all, false)
	p.Sections = append(p.Sections, Section{Notes: []string{briefNote("each cohort", len(r.Warnings) > 0)}})
	return p
}

func travelPage(d *analysis.Data, r *travel.Result, cohorts bool) Page {
	p := newPage(d)
	v := traveller{d, r, wire.NewTravel(wire.Head{}, d, r), "2 Jan", cohorts}
	first, last := int64(math.MaxInt64), int64(math.MinInt64)
	for i := range r.Arrivals {
		first, last = min(first, r.Arrivals[i].First), max(last, r.Arrivals[i].Last)
	}
	if last-first > 300*24*time.Hour.Milliseconds() {
		v.layout = time.DateOnly // the year must be said
	}
	p.Sections = append(p.Sections, Section{Paragraphs: v.answer()})
	add := func(heading string, notes []string, tables ...Table) {
		if len(tables[0].Rows) > 0 {
			p.Sections = append(p.Sections, Section{Heading: heading, Tables: tables, Notes: notes})
		}
	}
	from := "first detection"
	if r.Options.FromLast {
		from = "last detection"
	}
	under := []string{"From release or " + from + " above to first detection below, of the fish detected at both."}
	if slices.ContainsFunc(r.Stretches, func(s travel.Stretch) bool { return seesThrough(&s) }) {
		under = append(under, "Half, of all: the median by the law of travel, which allows for fish that came after the end of the data or in an outage; given where these are more than one in a hundred.")
	}
	add("Days under way", under, v.days()...)
	corrected := "Corrected: each fish seen represents those that passed unseen with it, by the detection of the fitted model"
	if len(r.Options.Working) > 0 {
		corrected += "; while no row of a site worked, fish came as the fit and the law of travel say"
	}
	add("Arrivals", []string{corrected + "."}, v.arrivals()...)
	add("The law of travel", []string{"First passage of a migrant with migration rate v km/day and spread σ km/√day " +
		"(Tweedie 1957; Zabel & Anderson 1997). p: probability of a worse fit to the fish detected, between two bounds."}, v.laws())
	add("Time at a site", []string{"Residence time: time between first and last detection, of the fish detected there."}, v.stays())
	s := Section{Tables: []Table{WarningTable(r.Warnings), InputTable(d.Inputs)}}
	if len(r.Warnings) > 0 {
		s.Heading, s.Warnings = "Warnings", r.Warnings
	}
	p.Sections = append(p.Sections, s)
	return p
}

type traveller struct {
	d      *analysis.Data
	r      *travel.Result
	doc    wire.Travel
	layout string // of dates
	// cohorts: records are of cohorts too.
	cohorts bool
}

func (v traveller) site(k int) string { return v.d.Histories.River.Sites[k].Name }

func (v traveller) cohort(c int) string {
	if c == travel.All {
		return "all fish"
	}
	return v.d.Histories.Cohorts[c]
}

// cohortTitle is the header of the cohort column; "" hides it where all fish
// are one.
func (v traveller) cohortTitle() string {
	if !v.cohorts {
		return ""
	}
	return "cohort"
}

func (v traveller) day(ms int64) string {
	if ms == history.NoTime {
		return "–"
	}
	return time.UnixMilli(ms).In(v.d.Study.Location).Format(v.layout)
}

func (v traveller) answer() []string {
	var out []string
	last := len(v.d.Histories.River.Sites) - 1
	for i := range v.r.Stretches {
		s := &v.r.Stretches[i]
		if s.Cohort != travel.All || s.From != 0 || s.To != last || s.Days.N == 0 {
			continue
		}
		line := fmt.Sprintf("Of %s seen at %s, half came there within %s days of their release at %s",
			Plural(s.Days.N, "fish", "fish"), v.site(s.To), Digits(s.Days.Median, 1), v.site(0))
		if !math.IsNaN(s.KmPerDay.Median) {
			line += fmt.Sprintf(" (%s km/day)", Digits(s.KmPerDay.Median, 1))
		}
		if seesThrough(s) {
			m := s.Law.Median
			line += fmt.Sprintf("; of all that came, seen or not, half did within %s days%s by the law of travel", Digits(m.Value, 1), Bracket(m.Low, m.High, 1, ""))
		}
		out = append(out, line+".")
	}
	for i := range v.r.Arrivals {
		a := &v.r.Arrivals[i]
		if a.Site != last || a.Cohort != travel.All {
			continue
		}
		line := fmt.Sprintf("Half of the fish seen at %s had come by %s", v.site(last), day(time.UnixMilli(a.Seen[1]).In(v.d.Study.Location)))
		if a.Corrected[1] != history.NoTime {
			line += fmt.Sprintf("; of all that passed it, by %s", day(time.UnixMilli(a.Corrected[1]).In(v.d.Study.Location)))
		}
		out = append(out, line+".")
	}
	return out
}

// seesThrough tells whether part of the journeys is hidden, by as_of or an outage, and
// the law of travel sees through that.
func seesThrough(s *travel.Stretch) bool {
	return s.Law != nil && s.Law.Hidden >= travel.Hidden && s.Law.Median.Status == cjs.Estimated
}

// days: quantiles of days and speeds; the whole to CSV.
func (v traveller) days() []Table {
	list := v.r.Stretches
	fields := append(v.stretchFields(), col("km", "km", 1), col("fish", "fish").from("days.n"))
	for k, q := range v.r.Options.Shares {
		percent := Digits(100*q, 0)
		fields = append(fields, made("days_"+percent, percent+" %", func(i int) Cell { return N(list[i].Days.Quantiles[k]) }).kind(Number, 1))
	}
	if slices.ContainsFunc(list, func(s travel.Stretch) bool { return seesThrough(&s) }) {
		fields = append(fields, made("", levelTitle("half, of all", v.r.Options.Level), func(i int) Cell {
			if !seesThrough(&list[i]) {
				return None()
			}
			return estimate(list[i].Law.Median, 1)
		}).kind(Range, 1))
	}
	for _, c := range [][2]string{{"days.mean", "mean"}, {"days.sd"}, {"days.min"}, {"days.max"}, {"days.harmonic_mean"},
		{"km_per_day.median", "median km/day"}, {"km_per_day.mean"}, {"km_per_day.sd"}, {"km_per_day.min"}, {"km_per_day.max"}} {
		fields = append(fields, col(strings.Replace(c[0], ".", "_", 1), c[1], 1).from(c[0]))
	}
	return []Table{hideEmpty(records("travel", v.doc.Stretches, append(fields, col("not_timed", ""))...), "km", "km_per_day_median")}
}

// stretchFields say which stretch and cohort a record is about; for people a
// stretch stands once.
func (v traveller) stretchFields() []field {
	return []field{col("from", ""), col("to", ""),
		words("", "from … to", func(i int) string {
			s := &v.doc.Stretches[i]
			if i > 0 && v.doc.Stretches[i-1].From == s.From && v.doc.Stretches[i-1].To == s.To {
				return ""
			}
			return s.From + " to " + s.To
		}).key(),
		v.cohortField(func(i int) int { return v.r.Stretches[i].Cohort })}
}

func (v traveller) cohortField(of func(i int) int) field {
	return words("cohort", v.cohortTitle(), func(i int) string { return v.cohort(of(i)) }).key()
}

// siteFields say which site a record is about; for people it stands once.
func siteFields(site func(i int) string) []field {
	return []field{col("site", ""), words("", "site", func(i int) string {
		if i > 0 && site(i-1) == site(i) {
			return ""
		}
		return site(i)
	}).key()}
}

func (v traveller) arrivals() []Table {
	dates := []struct {
		name, title string
		at          func(*travel.Arrival) int64
	}{
		{"first", "first", func(a *travel.Arrival) int64 { return a.First }},
		{"seen_10", "10 %", func(a *travel.Arrival) int64 { return a.Seen[0] }},
		{"seen_50", "half", func(a *travel.Arrival) int64 { return a.Seen[1] }},
		{"seen_90", "90 %", func(a *travel.Arrival) int64 { return a.Seen[2] }},
		{"last", "last", func(a *travel.Arrival) int64 { return a.Last }},
		{"corrected_10", "corrected 10 %", func(a *travel.Arrival) int64 { return a.Corrected[0] }},
		{"corrected_50", "corrected half", func(a *travel.Arrival) int64 { return a.Corrected[1] }},
		{"corrected_90", "corrected 90 %", func(a *travel.Arrival) int64 { return a.Corrected[2] }},
	}
	fields := append(siteFields(func(i int) string { return v.doc.Arrivals[i].Site }),
		v.cohortField(func(i int) int { return v.r.Arrivals[i].Cohort }), col("fish", "fish"))
	for _, d := range dates {
		fields = append(fields, words("", d.title, func(i int) string { return v.day(d.at(&v.r.Arrivals[i])) }))
	}
	for _, d := range dates {
		fields = append(fields, made(d.name, "", func(i int) Cell { return moment(d.at(&v.r.Arrivals[i])) }).holds(Moments))
	}
	return []Table{records("arrivals", v.doc.Arrivals, append(fields, col("why", ""))...)}
}

func (v traveller) laws() Table {
	level := v.r.Options.Level
	list := v.r.Stretches
	t := records("travel_law", v.doc.Stretches, append(v.stretchFields(),
		col("drift_km_per_day", levelTitle("v km/day", level), 1).from("law.drift_km_per_day"),
		col("spread_km_per_root_day", levelTitle("σ km/√day", level), 1).from("law.spread_km_per_root_day"),
		col("median_days", levelTitle("median days", level), 2).from("law.median_days"),
		col("mean_days", "").from("law.mean_days"),
		col("chi_square", "").from("law.check.chi_square"), col("classes", "").from("law.check.classes"),
		col("p_low", "").from("law.check.p_low"), col("p_high", "").from("law.check.p_high"),
		words("", "p", func(i int) string {
			if l := list[i].Law; l != nil && !math.IsNaN(l.Check.PLow) {
				return Span(l.Check.PLow, l.Check.PHigh, 2)
			}
			return "–"
		}),
		col("verdict", "").from("law.verdict"), col("why", "").from("why_no_law"))...)
	if slices.ContainsFunc(list, func(s travel.Stretch) bool { return s.Law != nil && s.Law.Drift.Status == cjs.Absent }) {
		t.Notes = []Note{{Mark: statusMark(cjs.Absent), Text: "too early: slow fish cannot be told from missing ones"}}
	}
	for i, s := range v.doc.Stretches {
		if s.WhyNoLaw != "" && list[i].Cohort == travel.All {
			t.Notes = append(t.Notes, Note{Text: "no law of " + s.From + " to " + s.To + ": " + s.WhyNoLaw})
		}
	}
	return t
}

func (v traveller) stays() Table {
	minutes := func(path, title string) field { return col(path, title, 1).onScreen().times(24 * 60) }
	return records("stays", v.doc.Stays, append(siteFields(func(i int) string { return v.doc.Stays[i].Site }),
		v.cohortField(func(i int) int { return v.r.Stays[i].Cohort }), col("fish", "fish").from("days.n"), col("read_once", "read once"),
		minutes("days.median", "median minutes"), minutes("days.mean", "mean minutes"), minutes("days.max", "longest minutes"),
		col("days_median", "").from("days.median"), col("days_mean", "").from("days.mean"), col("days_max", "").from("days.max"))...)
}
