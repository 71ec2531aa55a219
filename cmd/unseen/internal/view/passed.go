package view

import (
	"fmt"
	"math"
	"slices"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history"
)

// PassedTables shows how many fish passed each site.
func PassedTables(river *history.River, passed []cjs.Passed, level float64) []Table {
	if running(passed) {
		return RunningTables(river, passed, nil, level)
	}
	ofs := ofsOf(passed, func(p cjs.Passed) []cjs.Category { return p.Of })
	return shown(together(passed, hideZero(grouped("passed", ofs, wire.PassedOf(river, passed),
		col("site", "site").key(),
		col("passed_percent", levelTitle("passed %"+hadNoneBeen(passed), level), 1).onScreen(),
		col("passed_fish", levelTitle("fish passed", level)).onScreen(),
		col("released", "released"),
		col("removed_above", "removed above").detail(),
		col("seen", "seen").detail(),
		col("seen_percent.estimate", "seen %", 1).onScreen(),
		col("seen_percent", ""),
		col("detection_percent.estimate", "detection %", 1).onScreen().noted(),
		col("detection_percent", ""),
		col("passed_percent", ""),
		col("passed_percent_se", "").from("passed_percent.se"),
		col("passed_percent_with_retention", ""),
		col("between_cohorts_sd_percent", ""),
		col("passed_fish", ""),
		col("passed_fish_percent", ""),
		col("status", "").from("passed_percent.status"),
		col("method", "").from("passed_percent.method"),
		col("too_early_for", ""),
	), "removed_above")), ofs)
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

// SpreadTable sets the spread of the cohorts beside the standard error of all
// fish; it has no rows where there is no spread to show.
func SpreadTable(river *history.River, passed []cjs.Passed) Table {
	t := Table{Title: "Differences between cohorts (percentage points)", Columns: []Column{
		{Title: "site", Key: true},
		{Title: "standard error of all fish", Kind: Number, Digits: 1},
		{Title: "standard deviation between cohorts", Kind: Number, Digits: 1},
	}}
	for _, p := range passed {
		if !math.IsNaN(p.BetweenCohorts) && len(p.Of) == 0 {
			t.Rows = append(t.Rows, []Cell{T(river.Sites[p.Site].Name), N(100 * p.PassedShare.SE), N(100 * p.BetweenCohorts)})
		}
	}
	return t
}

// RetentionTable shows what passed with and without allowing for lost tags.
func RetentionTable(river *history.River, passed []cjs.Passed, held, kept int, level float64) Table {
	what := "passed %"
	if running(passed) {
		what = "passed at season's end %"
	}
	t := Table{Title: fmt.Sprintf("Allowing for lost tags (%d of %d held fish kept theirs)", kept, held), Columns: []Column{
		{Title: "site", Key: true},
		{Title: levelTitle(what+" as detected", level), Kind: Range, Digits: 1},
		{Title: levelTitle(what+" had no tag been lost", level), Kind: Range, Digits: 1},
	}}
	for _, p := range passed {
		if !math.IsNaN(p.WithRetention.Value) && len(p.Of) == 0 {
			t.Rows = append(t.Rows, []Cell{T(river.Sites[p.Site].Name), estimate(p.PassedShare, 100), estimate(p.WithRetention, 100)})
		}
	}
	t.Notes = notesFor(&t)
	return t
}

// OneSiteTable answers, where detection cannot be estimated, what the share
// seen would mean.
func OneSiteTable(o *cjs.OneSite, level float64) Table {
	t := Table{ID: "supposed_detection",
		Title: "If detection at the array were this, then this share passed:",
		Columns: []Column{
			{Name: "detection_percent", Title: "detection %", Kind: Number, Digits: 1},
			{Name: "passed_percent", Title: levelTitle("passed %", level), Kind: Range, Digits: 1},
		}}
	for _, x := range o.If {
		t.Rows = append(t.Rows, []Cell{N(100 * x.Detection), R(100*x.Passed, 100*x.Low, 100*x.High)})
	}
	return t
}

// ToMakeEstimable says what a study with one site would need.
func ToMakeEstimable(site string) string {
	return "With one site alone, survival and detection are not separately estimable. Any one of these makes the share that passed " + site +
		" estimable: a second row of antennas there, a site farther down, or test passes " +
		"([[test_passes]]: known passes of a test tag over the array, and how many were read)."
}

// hadNoneBeen is what a heading of passed % adds where fish were removed: passed
// % is what would have been without, fish passed in the same row what was.
func hadNoneBeen(passed []cjs.Passed) string {
	if slices.ContainsFunc(passed, func(p cjs.Passed) bool { return p.Removed > 0 }) {
		return " had none been removed"
	}
	return ""
}

// OneSiteSections are what a study with one site below the release can say: what
// passed by what its detection might be, and what would make it estimable.
func OneSiteSections(d *analysis.Fitted) []Section {
	o := d.Fit.OneSite
	if o == nil {
		return nil
	}
	return []Section{{Tables: []Table{OneSiteTable(o, d.Fit.Options.Level)}},
		{Paragraphs: []string{ToMakeEstimable(d.Histories.River.Sites[o.Site].Name)}}}
}
