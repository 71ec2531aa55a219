package view

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/unseen/cjs"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history"
)

// togetherNote is of an estimate of all fish where a cohort among them has none.
var togetherNote = Note{"#", "of all fish together, also those of cohorts with an interval only"}

// together marks the estimates of all fish that are also of such cohorts.
func together(passed []cjs.Passed, t Table) Table {
	for j, c := range t.Columns {
		if !strings.HasPrefix(c.Title, "passed %") && !strings.HasPrefix(c.Title, "still to pass") && !strings.HasPrefix(c.Title, "passed at season's end") {
			continue
		}
		for i := range t.Rows {
			if x := &t.Rows[i][j]; len(passed[i].TooEarlyFor) > 0 && x.Mark == "" {
				x.Mark = togetherNote.Mark
			}
		}
	}
	return t
}

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

func (g groups) title() string { return strings.Join(g.names, ", ") }

// columns are one for people and one a category for programs.
func (g groups) columns() []Column {
	out := []Column{{Title: g.title(), Key: true}}
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

// ofsOf are the categories of every entry.
func ofsOf[T any](list []T, of func(T) []cjs.Category) [][]cjs.Category {
	out := make([][]cjs.Category, len(list))
	for i, x := range list {
		out[i] = of(x)
	}
	return out
}

// grouped is a table of records that begins with whom each is for.
func grouped[T any](id string, ofs [][]cjs.Category, list []T, fields ...field) Table {
	g := groupsOf(ofs)
	var first []field
	for j, c := range g.columns() {
		first = append(first, field{Column: c, cell: func(i int) Cell { return g.cells(ofs[i])[j] }})
	}
	return records(id, list, append(first, fields...)...)
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
		key := groupsOf([][]cjs.Category{of}).title()
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
	if used[togetherNote.Mark] {
		out = append(out, togetherNote)
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

// RowTestTable shows whether the rows of a site see fish independently.
func RowTestTable(river *history.River, tests []cjs.RowTest) Table {
	t := records("row_tests", wire.RowTestsOf(river, tests),
		col("site", "site").key(), col("row_a", "row A"), col("row_b", "row B"),
		col("both", "detected by both"), col("only_a", "by A alone"), col("only_b", "by B alone"), col("neither", "by neither"),
		col("p", "p", 3), col("why", "cannot be tested because"))
	t.Title = "Do the rows of a site detect fish independently? Of the fish detected downstream:"
	return hideEmpty(t, "p", "why")
}

// estimateFields are shared by the tables of survival, detection and products;
// path leads to the estimate, where it is not the record's own.
func estimateFields(name, title string, level float64, path ...string) []field {
	in, whole := "", "Estimate"
	if path != nil {
		in, whole = path[0]+".", path[0]
	}
	return []field{
		col(name, levelTitle(title, level), 3).from(whole),
		col("se", "standard error", 3).from(in + "se"),
		col("status", "").from(in + "status"),
		col("method", "").from(in + "method"),
	}
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
	t, ofs := survivalTable(river, survival, level, col("closed_form", "closed form", 3).from("raw"))
	// Worth a column only where it differs in the digits shown.
	if !slices.ContainsFunc(survival, func(s cjs.Survival) bool { return math.Abs(s.Raw-s.Value) >= 0.0005 }) {
		t.Columns[len(t.Columns)-1].Title = ""
		return shown(t, ofs)
	}
	tables := shown(t, ofs)
	last := &tables[len(tables)-2]
	last.Notes = append(last.Notes, Note{Text: "closed form: unpooled closed-form (Seber) estimate, without the model; it may exceed 1"})
	return tables
}

// inMillimetres is a difference of km without the rounding of its last digits.
func inMillimetres(km float64) float64 { return math.Round(km*1e6) / 1e6 }

// survivalTable holds survival by reach, with one more column.
func survivalTable(river *history.River, survival []cjs.Survival, level float64, more field) (Table, [][]cjs.Category) {
	ofs := ofsOf(survival, func(s cjs.Survival) []cjs.Category { return s.Of })
	fields := append([]field{
		col("from", ""), col("to", ""),
		words("", "reach", func(i int) string { return river.Reach(survival[i].From) }).key(),
		made("km", "km", func(i int) Cell { return N(inMillimetres(river.ReachKm(survival[i].From))) }).kind(Number, 1),
		made("at", "at", func(i int) Cell { return at(survival[i].At) }),
	}, estimateFields("survival", "survival", level)...)
	t := grouped("survival", ofs, wire.SurvivalOf(river, survival), append(fields, more)...)
	return hideEmpty(t, "km", "at"), ofs
}

// DetectionTables shows detection by site and row.
func DetectionTables(river *history.River, detection []cjs.Detection, level float64) []Table {
	ofs := ofsOf(detection, func(d cjs.Detection) []cjs.Category { return d.Of })
	divided := false
	row := words("", "row", func(i int) string {
		d, site := &detection[i], &river.Sites[detection[i].Site]
		divided = divided || site.Divided() || d.Row >= 0
		switch {
		case d.Row >= 0:
			return site.Rows[d.Row]
		case site.Divided():
			return "whole site"
		}
		return ""
	}).key()
	fields := append([]field{col("site", "site").key(), col("row", ""), row,
		made("at", "at", func(i int) Cell { return at(detection[i].At) })}, estimateFields("detection", "detection", level)...)
	t := grouped("detection", ofs, wire.DetectionOf(river, detection), fields...)
	if !divided {
		t.Columns[len(t.Columns)-6].Title = ""
	}
	return shown(hideEmpty(t, "at"), ofs)
}

// ProductTables shows survival × detection where the two cannot be separated.
func ProductTables(river *history.River, products []cjs.Product, level float64) []Table {
	ofs := ofsOf(products, func(p cjs.Product) []cjs.Category { return p.Of })
	fields := append([]field{col("from", ""), col("to", ""),
		words("", "survival in reach", func(i int) string {
			return river.Sites[products[i].From].Name + " to " + river.Sites[products[i].Site].Name
		}).key(),
		col("site", "times detection at").key()}, estimateFields("product", "product", level, "product")...)
	return shown(grouped("inseparable", ofs, wire.ProductsOf(river, products), fields...), ofs)
}

// CoefficientTable lists the model's coefficients, for programs.
func CoefficientTable(coefficients []cjs.Coefficient) Table {
	t := records("coefficients", wire.CoefficientsOf(coefficients), col("part", ""), col("term", ""), col("against", ""),
		col("estimate", ""), col("se", ""), col("per_standard_deviation", ""), col("status", ""))
	t.CSVOnly = true
	return t
}

// WorkingTable lists the rows that did not work all the time, for programs.
func WorkingTable(river *history.River, working []cjs.Working) Table {
	t := records("working", wire.WorkingOf(river, working), col("site", ""), col("row", ""), col("share_percent", ""))
	t.CSVOnly = true
	return t
}

// WarningTable lists the warnings, for programs.
func WarningTable(warnings []cjs.Warning) Table {
	t := records("warnings", wire.WarningsOf(warnings), col("id", ""), col("about", ""), col("message", ""))
	t.CSVOnly = true
	return t
}
