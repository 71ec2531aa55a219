package view

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/unseen/cjs"
	"example.org/unseen/history"
)

// footnotes explain the statuses of estimates that are not plainly estimated.
var footnotes = map[cjs.Status]Note{
	cjs.Inseparable: {"*", "cannot be had by itself from these data"},
	cjs.Boundary:    {"†", "at the edge of what is possible (0 or 1): there is no standard error, the interval is by profile likelihood"},
	cjs.Borrowed:    {"‡", "cannot be told at this site itself: rests on what the model shares with other sites and reaches"},
	cjs.Held:        {"§", "taken as known in the study file, not estimated"},
	cjs.Absent:      {"¶", "nothing in the data to estimate it from"},
	cjs.TooEarly:    {"‖", "the data end too early to tell slow fish from dead ones: only an interval"},
}

func statusMark(s cjs.Status) string { return footnotes[s].Mark }

// estimate is the cell of an estimate times a factor (100 for percent).
func estimate(e cjs.Estimate, factor float64) Cell {
	c := R(factor*e.Value, factor*e.Low, factor*e.High).Marked(statusMark(e.Status))
	if e.Status == cjs.TooEarly {
		c.Text = "early"
	}
	return c
}

// percentOf is an estimated share in running text.
func percentOf(e cjs.Estimate) string { return PercentSpan(e.Value, e.Low, e.High, 1) }

// groups says whom entries are for: the categories that occur in them.
type groups struct{ names []string }

func groupsOf(ofs [][]cjs.Category) groups {
	var g groups
	for _, of := range ofs {
		for _, c := range of {
			if !slices.Contains(g.names, c.Name) {
				g.names = append(g.names, c.Name)
			}
		}
	}
	return g
}

// columns are one for people and one a category for programs.
func (g groups) columns() []Column {
	out := []Column{{Title: strings.Join(g.names, ", "), Key: true}}
	for _, n := range g.names {
		out = append(out, Column{Name: n})
	}
	return out
}

func (g groups) cells(of []cjs.Category) []Cell {
	out := []Cell{T(Whom(of))}
	for _, n := range g.names {
		level := ""
		for _, c := range of {
			if c.Name == n {
				level = c.Level
			}
		}
		out = append(out, T(level))
	}
	return out
}

// Whom names the fish an entry is for.
func Whom(of []cjs.Category) string {
	if len(of) == 0 {
		return "all fish"
	}
	levels := make([]string, len(of))
	for i, c := range of {
		levels[i] = c.Level
	}
	return strings.Join(levels, ", ")
}

// shown makes the tables people see from one that holds every entry: one for
// each set of categories, so that all fish stand apart from the cohorts; a
// group's name stands only on its first line. The whole goes to CSV.
func shown(whole Table, ofs [][]cjs.Category) []Table {
	order := []string{}
	split := map[string]*Table{}
	previous := map[string]string{}
	for i, of := range ofs {
		key := strings.Join(groupsOf([][]cjs.Category{of}).names, ", ")
		t := split[key]
		if t == nil {
			t = &Table{Columns: slices.Clone(whole.Columns)}
			if key == "" {
				t.Columns[0].Title = ""
			} else {
				t.Columns[0].Title = key
			}
			split[key] = t
			order = append(order, key)
		}
		row := slices.Clone(whole.Rows[i])
		if row[0].Text == previous[key] {
			row[0].Text = ""
		} else {
			previous[key] = row[0].Text
		}
		t.Rows = append(t.Rows, row)
	}
	out := []Table{}
	for _, key := range order {
		t := split[key]
		t.Notes = notesFor(t)
		if len(order) > 1 {
			t.Title = "All fish"
			if key != "" {
				t.Title = "By " + key
			}
		}
		out = append(out, *t)
	}
	whole.CSVOnly = true
	return append(out, whole)
}

// notesFor collects the footnotes whose marks the shown cells carry.
func notesFor(t *Table) []Note {
	used := map[string]bool{}
	for _, r := range t.Rows {
		for i, c := range t.Columns {
			if c.Title != "" {
				used[r[i].Mark] = true
			}
		}
	}
	var out []Note
	for _, s := range []cjs.Status{cjs.Inseparable, cjs.Boundary, cjs.Borrowed, cjs.Held, cjs.Absent, cjs.TooEarly} {
		if n := footnotes[s]; used[n.Mark] {
			out = append(out, n)
		}
	}
	return out
}

// hideEmpty takes columns without any number out of what people see.
func hideEmpty(t Table, names ...string) Table {
	for i, c := range t.Columns {
		if !slices.Contains(names, c.Name) {
			continue
		}
		empty := true
		for _, r := range t.Rows {
			if c.Kind == Text {
				empty = empty && r[i].Text == ""
			} else {
				empty = empty && math.IsNaN(r[i].Value)
			}
		}
		if empty {
			t.Columns[i].Title = ""
		}
	}
	return t
}

func levelTitle(what string, level float64) string {
	return fmt.Sprintf("%s (%s %%)", what, strings.TrimSuffix(Digits(100*level, 1), ".0"))
}

// hadNoneBeen is what a heading of passed % adds where fish were removed: passed
// % is what would have been without, fish passed in the same row what was.
func hadNoneBeen(passed []cjs.Passed) string {
	if slices.ContainsFunc(passed, func(p cjs.Passed) bool { return p.Removed > 0 }) {
		return " had none been removed"
	}
	return ""
}

// PassedTables shows how many fish passed each site.
func PassedTables(river *history.River, passed []cjs.Passed, level float64) []Table {
	if running(passed) {
		return RunningTables(river, passed, nil, level)
	}
	ofs := make([][]cjs.Category, len(passed))
	for i := range passed {
		ofs[i] = passed[i].Of
	}
	g := groupsOf(ofs)
	t := Table{ID: "passed", Columns: append(g.columns(),
		Column{Name: "site", Title: "site", Key: true},
		Column{Name: "released", Title: "released", Kind: Count},
		Column{Name: "removed_above", Title: "removed above", Kind: Count},
		Column{Name: "seen", Title: "seen", Kind: Count},
		Column{Title: "seen %", Kind: Number, Digits: 1},
		Column{Name: "seen_percent", Kind: Range},
		Column{Title: "detection %", Kind: Number, Digits: 1},
		Column{Name: "detection_percent", Kind: Range},
		Column{Name: "passed_percent", Title: levelTitle("passed %"+hadNoneBeen(passed), level), Kind: Range, Digits: 1},
		Column{Name: "passed_percent_se", Kind: Number},
		Column{Name: "passed_percent_with_retention", Kind: Range},
		Column{Name: "between_cohorts_sd_percent", Kind: Number},
		Column{Name: "passed_fish", Title: levelTitle("fish passed", level), Kind: Range},
		Column{Name: "passed_fish_percent", Kind: Range},
		Column{Name: "status"},
		Column{Name: "method"},
	)}
	for _, p := range passed {
		t.Rows = append(t.Rows, append(g.cells(p.Of),
			T(river.Sites[p.Site].Name),
			I(p.Released),
			I(p.Removed),
			I(p.Seen),
			N(100*p.SeenShare.Value),
			estimate(p.SeenShare, 100),
			N(100*p.Detection.Value).Marked(statusMark(p.Detection.Status)),
			estimate(p.Detection, 100),
			estimate(p.PassedShare, 100),
			N(100*p.PassedShare.SE),
			estimate(p.WithRetention, 100),
			N(100*p.BetweenCohorts),
			estimate(p.PassedFish, 1),
			estimate(p.PassedFishShare, 100),
			T(string(p.PassedShare.Status)),
			T(p.PassedShare.Method),
		))
	}
	return shown(hideZero(t, "removed_above"), ofs)
}

// SpreadTable sets the spread of the cohorts beside the standard error of all
// fish; it has no rows where there is no spread to show.
func SpreadTable(river *history.River, passed []cjs.Passed) Table {
	t := Table{Title: "How far the cohorts differ (percentage points)", Columns: []Column{
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
		{Title: levelTitle(what+" as sighted", level), Kind: Range, Digits: 1},
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
		Title: "If the array sees this share of the fish that pass, then this share passed:",
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
	return "With one site alone, survival and detection cannot be told apart. Any one of these makes the share that passed " + site +
		" estimable: a second row of antennas there, a site farther down, or test passes " +
		"([[test_passes]]: known passes of a test tag over the array, and how many were read)."
}

// RowTestTable shows whether the rows of a site see fish independently.
func RowTestTable(river *history.River, tests []cjs.RowTest) Table {
	t := Table{ID: "row_tests",
		Title: "Do the rows of a site see fish independently? Of the fish seen farther down:",
		Columns: []Column{
			{Name: "site", Title: "site", Key: true},
			{Name: "row_a", Title: "row A"}, {Name: "row_b", Title: "row B"},
			{Name: "both", Title: "seen by both", Kind: Count},
			{Name: "only_a", Title: "by A alone", Kind: Count},
			{Name: "only_b", Title: "by B alone", Kind: Count},
			{Name: "neither", Title: "by neither", Kind: Count},
			{Name: "p", Title: "p", Kind: Number, Digits: 3},
			{Name: "why", Title: "cannot be tested because"},
		}}
	for _, x := range tests {
		s := &river.Sites[x.Site]
		t.Rows = append(t.Rows, []Cell{T(s.Name), T(s.Rows[x.RowA]), T(s.Rows[x.RowB]),
			I(x.Both), I(x.OnlyA), I(x.OnlyB), I(x.Neither), N(x.P), T(x.Why)})
	}
	return hideEmpty(t, "p", "why")
}

// estimateColumns are shared by the tables of survival, detection and products.
func estimateColumns(name, title string, level float64) []Column {
	return []Column{
		{Name: name, Title: levelTitle(title, level), Kind: Range, Digits: 3},
		{Name: "se", Title: "standard error", Kind: Number, Digits: 3},
		{Name: "status"},
		{Name: "method"},
	}
}

func estimateCells(e cjs.Estimate) []Cell {
	return []Cell{estimate(e, 1), N(e.SE), T(string(e.Status)), T(e.Method)}
}

func at(covariates []cjs.Covariate) Cell {
	parts := make([]string, len(covariates))
	for i, c := range covariates {
		parts[i] = fmt.Sprintf("%s = %.4g", c.Name, c.Value)
	}
	return T(strings.Join(parts, "; "))
}

// SurvivalTables shows survival by reach.
func SurvivalTables(river *history.River, survival []cjs.Survival, level float64) []Table {
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
	columns = append(columns, Column{Name: "closed_form", Title: "closed form", Kind: Number, Digits: 3})
	t := Table{ID: "survival", Columns: columns}
	telling := false
	for _, s := range survival {
		row := append(g.cells(s.Of),
			T(river.Sites[s.From].Name), T(river.Sites[s.From+1].Name), T(river.Reach(s.From)),
			N(river.ReachKm(s.From)), at(s.At))
		row = append(row, estimateCells(s.Estimate)...)
		t.Rows = append(t.Rows, append(row, N(s.Raw)))
		// Worth a column only where it differs in the digits shown.
		telling = telling || math.Abs(s.Raw-s.Value) >= 0.0005
	}
	if !telling {
		t.Columns[len(columns)-1].Title = ""
		return shown(hideEmpty(t, "km", "at"), ofs)
	}
	tables := shown(hideEmpty(t, "km", "at"), ofs)
	last := &tables[len(tables)-2]
	last.Notes = append(last.Notes, Note{Text: "closed form: each group of fish and reach by itself; it may exceed 1"})
	return tables
}

// DetectionTables shows detection by site and row.
func DetectionTables(river *history.River, detection []cjs.Detection, level float64) []Table {
	ofs := make([][]cjs.Category, len(detection))
	for i := range detection {
		ofs[i] = detection[i].Of
	}
	g := groupsOf(ofs)
	columns := append(g.columns(),
		Column{Name: "site", Title: "site", Key: true},
		Column{Name: "row"}, Column{Title: "row", Key: true},
		Column{Name: "at", Title: "at"})
	t := Table{ID: "detection", Columns: append(columns, estimateColumns("detection", "detection", level)...)}
	divided := false
	for _, d := range detection {
		site := &river.Sites[d.Site]
		row, said := "", ""
		if d.Row >= 0 {
			row, said = site.Rows[d.Row], site.Rows[d.Row]
		} else if site.Divided() {
			said = "whole site"
		}
		divided = divided || said != ""
		cells := append(g.cells(d.Of), T(site.Name), T(row), T(said), at(d.At))
		t.Rows = append(t.Rows, append(cells, estimateCells(d.Estimate)...))
	}
	if !divided {
		t.Columns[len(columns)-2].Title = ""
	}
	return shown(hideEmpty(t, "at"), ofs)
}

// ProductTables shows survival × detection where the two cannot be separated.
func ProductTables(river *history.River, products []cjs.Product, level float64) []Table {
	ofs := make([][]cjs.Category, len(products))
	for i := range products {
		ofs[i] = products[i].Of
	}
	g := groupsOf(ofs)
	columns := append(g.columns(),
		Column{Name: "from"}, Column{Name: "to"}, Column{Title: "survival in reach", Key: true},
		Column{Name: "site", Title: "times detection at", Key: true})
	t := Table{ID: "inseparable", Columns: append(columns, estimateColumns("product", "product", level)...)}
	for _, p := range products {
		from, to := river.Sites[p.From].Name, river.Sites[p.Site].Name
		cells := append(g.cells(p.Of), T(from), T(to), T(from+" to "+to), T(to))
		t.Rows = append(t.Rows, append(cells, estimateCells(p.Estimate)...))
	}
	return shown(t, ofs)
}

// CoefficientTable lists the model's coefficients, for programs.
func CoefficientTable(coefficients []cjs.Coefficient) Table {
	t := Table{ID: "coefficients", CSVOnly: true, Columns: []Column{
		{Name: "part"}, {Name: "term"}, {Name: "against"}, {Name: "estimate", Kind: Number}, {Name: "se", Kind: Number},
		{Name: "per_standard_deviation", Kind: Number}, {Name: "status"},
	}}
	for _, c := range coefficients {
		t.Rows = append(t.Rows, []Cell{T(c.Part), T(c.Term), T(c.Against), N(c.Estimate), N(c.SE), N(c.PerSD), T(string(c.Status))})
	}
	return t
}

// WarningTable lists the warnings, for programs.
func WarningTable(warnings []cjs.Warning) Table {
	t := Table{ID: "warnings", CSVOnly: true, Columns: []Column{{Name: "id"}, {Name: "about"}, {Name: "message"}}}
	for _, w := range warnings {
		t.Rows = append(t.Rows, []Cell{T(w.ID), T(w.About), T(w.Message)})
	}
	return t
}
