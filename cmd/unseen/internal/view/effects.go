package view

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/unseen/cjs"
	"example.org/unseen/history"
)

// EffectTables shows what a model's coefficients mean: relative survival of the
// cohorts, survival per length, odds and rate ratios; for programs the curves
// over the numbers' observed ranges too.
func EffectTables(river *history.River, e *cjs.Effects, level float64) []Table {
	var out []Table
	if len(e.Relative) > 0 {
		out = append(out, relativeTables(river, e.Relative, level)...)
	}
	if len(e.Paces) > 0 {
		out = append(out, paceTables(river, e.Paces, level)...)
	}
	if len(e.Ratios) > 0 {
		out = append(out, ratioTables(e.Ratios, level)...)
	}
	if len(e.Curves) > 0 {
		out = append(out, effectCurves(river, e.Curves))
	}
	return out
}

// relativeTables: all sites to CSV, to people the last one that has values.
func relativeTables(river *history.River, relative []cjs.Relative, level float64) []Table {
	whole := Table{ID: "relative", CSVOnly: true, Columns: []Column{
		{Name: "cohort"}, {Name: "against"}, {Name: "site"}, {Name: "ratio", Kind: Range}, {Name: "se", Kind: Number}, {Name: "status"}}}
	last := 0
	for _, r := range relative {
		whole.Rows = append(whole.Rows, []Cell{T(r.Cohort), T(r.Against), T(river.Sites[r.Site].Name),
			estimate(r.Estimate, 1), N(r.SE), T(string(r.Status))})
		if !math.IsNaN(r.Value) {
			last = max(last, r.Site)
		}
	}
	if last == 0 {
		return []Table{whole}
	}
	short := Table{
		Title: fmt.Sprintf("Passed %s, relative to %s", river.Sites[last].Name, relative[0].Against),
		Columns: []Column{{Title: "cohort", Key: true},
			{Title: levelTitle("ratio of passed %", level), Kind: Range, Digits: 2}}}
	for _, r := range relative {
		if r.Site == last {
			short.Rows = append(short.Rows, []Cell{T(r.Cohort), estimate(r.Estimate, 1)})
		}
	}
	short.Notes = notesFor(&short)
	return []Table{short, whole}
}

func paceTables(river *history.River, paces []cjs.Pace, level float64) []Table {
	ofs := make([][]cjs.Category, len(paces))
	for i := range paces {
		ofs[i] = paces[i].Of
	}
	g := groupsOf(ofs)
	t := Table{ID: "paces", Columns: append(append(g.columns(),
		Column{Name: "from"}, Column{Name: "to"}, Column{Title: "reach", Key: true},
		Column{Name: "length", Kind: Number}, Column{Name: "unit"}, Column{Title: "per"}),
		estimateColumns("survival", "survival", level)...)}
	for _, p := range paces {
		per := fmt.Sprintf("%.4g %s", p.Length, p.Unit)
		row := append(g.cells(p.Of), T(river.Sites[p.From].Name), T(river.Sites[p.From+1].Name), T(river.Reach(p.From)),
			N(p.Length), T(p.Unit), T(per))
		t.Rows = append(t.Rows, append(row, estimateCells(p.Estimate)...))
	}
	return shown(t, ofs)
}

// ratioTables: all to CSV; to people those that speak of fish and conditions,
// not of one reach, site or row against another.
func ratioTables(ratios []cjs.Ratio, level float64) []Table {
	whole := Table{ID: "ratios", Columns: []Column{
		{Name: "part", Title: "part", Key: true}, {Name: "term", Title: "term", Key: true}, {Name: "against", Title: "against"},
		{Name: "kind", Title: "kind"},
		{Name: "per_unit", Title: levelTitle("per unit", level), Kind: Range, Digits: 3},
		{Name: "per_standard_deviation", Title: levelTitle("per standard deviation", level), Kind: Range, Digits: 2},
	}}
	short := whole
	short.ID = ""
	whole.CSVOnly = true
	for _, r := range ratios {
		row := []Cell{T(string(r.Part)), T(r.Term), T(r.Against), T(r.Kind), estimate(r.PerUnit, 1), estimate(r.PerSD, 1)}
		whole.Rows = append(whole.Rows, row)
		if word, _, _ := strings.Cut(r.Term, " "); word != "reach" && word != "site" && word != "row" {
			if r.PerSD.Status == cjs.Absent {
				row = append(row[:5:5], None())
			}
			short.Rows = append(short.Rows, row)
		}
	}
	if len(short.Rows) == 0 {
		return []Table{whole}
	}
	short.Columns = slices.Clone(short.Columns)
	short = hideEmpty(short, "against", "per_standard_deviation")
	for i := range short.Columns {
		short.Columns[i].Name = ""
	}
	short.Notes = notesFor(&short)
	return []Table{short, whole}
}

func effectCurves(river *history.River, curves []cjs.Curve) Table {
	ofs := make([][]cjs.Category, len(curves))
	for i := range curves {
		ofs[i] = curves[i].Of
	}
	g := groupsOf(ofs)
	t := Table{ID: "curves", CSVOnly: true, Columns: append(g.columns(),
		Column{Name: "part"}, Column{Name: "place"}, Column{Name: "number"},
		Column{Name: "value", Kind: Number}, Column{Name: "probability", Kind: Range}, Column{Name: "se", Kind: Number})}
	for _, c := range curves {
		place := CurvePlace(river, c)
		for _, p := range c.Points {
			t.Rows = append(t.Rows, append(g.cells(c.Of), T(string(c.Part)), T(place), T(c.Number),
				N(p.Value), estimate(p.Estimate, 1), N(p.SE)))
		}
	}
	return t
}

// CurvePlace names the reach or row of a curve.
func CurvePlace(river *history.River, c cjs.Curve) string {
	if c.Part == "survival" {
		return river.Reach(c.From)
	}
	s := &river.Sites[c.From]
	if c.Row >= 0 {
		return s.Name + "/" + s.Rows[c.Row]
	}
	return s.Name
}
