package view

import (
	"fmt"
	"math"
	"time"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/travel"
	"example.org/unseen/history"
)

// TravelPage says how long the fish took and when they came.
func TravelPage(d *analysis.Data, r *travel.Result) Page {
	p := Page{Title: d.Source().Name(), Stamp: Stamp(d)}
	v := traveller{d, r, "2 Jan"}
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
	from := "first sighting"
	if r.Options.FromLast {
		from = "last sighting"
	}
	add("Days under way", []string{"From release or " + from + " above to first sighting below, of the fish seen at both."}, v.days()...)
	add("Arrivals", []string{"Corrected: each fish seen stands for those that passed unseen with it, by the detection of the fitted model."}, v.arrivals()...)
	add("The law of travel", []string{"First passage of a migrant that drifts at v km/day and spreads with σ km/√day " +
		"(Tweedie 1957; Zabel & Anderson 1997). p: probability of a worse fit to the fish seen, between two bounds."}, v.laws())
	add("Time at a site", []string{"Last sighting less first, of the fish seen there."}, v.stays())
	s := Section{Tables: []Table{WarningTable(r.Warnings), InputTable(d.Inputs)}}
	if len(r.Warnings) > 0 {
		s.Heading = "Warnings"
		for _, w := range r.Warnings {
			s.Warnings = append(s.Warnings, Warning{w.ID, w.About, w.Message})
		}
	}
	p.Sections = append(p.Sections, s)
	return p
}

type traveller struct {
	d      *analysis.Data
	r      *travel.Result
	layout string // of dates
}

func (v traveller) site(k int) string { return v.d.Histories.River.Sites[k].Name }

func (v traveller) cohort(c int) string {
	if c == travel.All {
		return "all fish"
	}
	return v.d.Histories.Cohorts[c]
}

func (v traveller) several() bool { return len(v.d.Histories.Cohorts) > 1 }

// cohortTitle is the header of the cohort column; "" hides it where all fish
// are one.
func (v traveller) cohortTitle() string {
	if !v.several() {
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

// days: quantiles of days and speeds; the whole to CSV.
func (v traveller) days() []Table {
	t := Table{ID: "travel", Columns: []Column{
		{Name: "from"}, {Name: "to"}, {Title: "from … to", Key: true},
		{Name: "cohort", Title: v.cohortTitle(), Key: true},
		{Name: "km", Title: "km", Kind: Number, Digits: 1},
		{Name: "fish", Title: "fish", Kind: Count},
	}}
	for _, q := range v.r.Options.Shares {
		percent := Digits(100*q, 0)
		t.Columns = append(t.Columns, Column{Name: "days_" + percent, Title: percent + " %", Kind: Number, Digits: 1})
	}
	for _, c := range []Column{
		{Name: "days_mean", Title: "mean"}, {Name: "days_sd"}, {Name: "days_min"}, {Name: "days_max"}, {Name: "days_harmonic_mean"},
		{Name: "km_per_day_median", Title: "median km/day"}, {Name: "km_per_day_mean"}, {Name: "km_per_day_sd"},
		{Name: "km_per_day_min"}, {Name: "km_per_day_max"},
	} {
		c.Kind, c.Digits = Number, 1
		t.Columns = append(t.Columns, c)
	}
	t.Columns = append(t.Columns, Column{Name: "not_timed", Kind: Count})
	previous := ""
	for i := range v.r.Stretches {
		s := &v.r.Stretches[i]
		reach := v.site(s.From) + " to " + v.site(s.To)
		shown := reach
		if reach == previous {
			shown = ""
		}
		previous = reach
		row := []Cell{T(v.site(s.From)), T(v.site(s.To)), T(shown), T(v.cohort(s.Cohort)), N(s.Km), I(s.Days.N)}
		for _, q := range s.Days.Quantiles {
			row = append(row, N(q))
		}
		row = append(row, N(s.Days.Mean), N(s.Days.SD), N(s.Days.Min), N(s.Days.Max), N(s.Days.HarmonicMean),
			N(s.KmPerDay.Median), N(s.KmPerDay.Mean), N(s.KmPerDay.SD), N(s.KmPerDay.Min), N(s.KmPerDay.Max), I(s.NotTimed))
		t.Rows = append(t.Rows, row)
	}
	return []Table{hideEmpty(t, "km", "km_per_day_median")}
}

func (v traveller) arrivals() []Table {
	t := Table{ID: "arrivals", Columns: []Column{
		{Name: "site"}, {Title: "site", Key: true}, {Name: "cohort", Title: v.cohortTitle(), Key: true}, {Name: "fish", Title: "fish", Kind: Count},
		{Title: "first"}, {Title: "10 %"}, {Title: "half"}, {Title: "90 %"}, {Title: "last"},
		{Title: "corrected 10 %"}, {Title: "corrected half"}, {Title: "corrected 90 %"},
		{Name: "first"}, {Name: "seen_10"}, {Name: "seen_50"}, {Name: "seen_90"}, {Name: "last"},
		{Name: "corrected_10"}, {Name: "corrected_50"}, {Name: "corrected_90"}, {Name: "why"},
	}}
	previous := -1
	for i := range v.r.Arrivals {
		a := &v.r.Arrivals[i]
		shown := v.site(a.Site)
		if a.Site == previous {
			shown = ""
		}
		previous = a.Site
		row := []Cell{T(v.site(a.Site)), T(shown), T(v.cohort(a.Cohort)), I(a.Fish)}
		dates := append(append([]int64{a.First}, a.Seen[:]...), a.Last)
		dates = append(dates, a.Corrected[:]...)
		for _, ms := range dates {
			row = append(row, T(v.day(ms)))
		}
		for _, ms := range dates {
			row = append(row, moment(ms))
		}
		t.Rows = append(t.Rows, append(row, T(a.Why)))
	}
	return []Table{t}
}

func (v traveller) laws() Table {
	level := v.r.Options.Level
	t := Table{ID: "travel_law", Columns: []Column{
		{Name: "from"}, {Name: "to"}, {Title: "from … to", Key: true}, {Name: "cohort", Title: v.cohortTitle(), Key: true},
		{Name: "drift_km_per_day", Title: levelTitle("v km/day", level), Kind: Range, Digits: 1},
		{Name: "spread_km_per_root_day", Title: levelTitle("σ km/√day", level), Kind: Range, Digits: 1},
		{Name: "median_days", Title: levelTitle("median days", level), Kind: Range, Digits: 2},
		{Name: "mean_days", Kind: Range},
		{Name: "chi_square", Kind: Number}, {Name: "classes", Kind: Count}, {Name: "p_low", Kind: Number}, {Name: "p_high", Kind: Number},
		{Title: "p"}, {Name: "verdict"}, {Name: "why"},
	}}
	previous := ""
	for i := range v.r.Stretches {
		s := &v.r.Stretches[i]
		reach := v.site(s.From) + " to " + v.site(s.To)
		shown := reach
		if reach == previous {
			shown = ""
		}
		previous = reach
		row := []Cell{T(v.site(s.From)), T(v.site(s.To)), T(shown), T(v.cohort(s.Cohort))}
		l := s.Law
		if l != nil && l.Drift.Status == cjs.Absent && t.Notes == nil {
			t.Notes = []Note{{Mark: statusMark(cjs.Absent), Text: "too early: slow fish cannot be told from missing ones"}}
		}
		if l == nil {
			t.Rows = append(t.Rows, append(row, None(), None(), None(), None(), None(), None(), None(), None(), T("–"), T(""), T(s.WhyNoLaw)))
			continue
		}
		p := "–"
		if c := l.Check; !math.IsNaN(c.PLow) {
			p = Span(c.PLow, c.PHigh, 2)
		}
		t.Rows = append(t.Rows, append(row, estimate(l.Drift, 1), estimate(l.Spread, 1), estimate(l.Median, 1), estimate(l.Mean, 1),
			N(l.Check.ChiSquare), I(l.Check.Classes), N(l.Check.PLow), N(l.Check.PHigh), T(p), T(string(l.Verdict)), T("")))
	}
	return t
}

func (v traveller) stays() Table {
	const minutes = 24 * 60
	t := Table{ID: "stays", Columns: []Column{
		{Name: "site"}, {Title: "site", Key: true}, {Name: "cohort", Title: v.cohortTitle(), Key: true},
		{Name: "fish", Title: "fish", Kind: Count}, {Name: "read_once", Title: "read once", Kind: Count},
		{Title: "median minutes", Kind: Number, Digits: 1}, {Title: "mean minutes", Kind: Number, Digits: 1}, {Title: "longest minutes", Kind: Number, Digits: 1},
		{Name: "days_median", Kind: Number}, {Name: "days_mean", Kind: Number}, {Name: "days_max", Kind: Number},
	}}
	previous := -1
	for i := range v.r.Stays {
		s := &v.r.Stays[i]
		shown := v.site(s.Site)
		if s.Site == previous {
			shown = ""
		}
		previous = s.Site
		t.Rows = append(t.Rows, []Cell{T(v.site(s.Site)), T(shown), T(v.cohort(s.Cohort)), I(s.Days.N), I(s.Once),
			N(minutes * s.Days.Median), N(minutes * s.Days.Mean), N(minutes * s.Days.Max), N(s.Days.Median), N(s.Days.Mean), N(s.Days.Max)})
	}
	return t
}
