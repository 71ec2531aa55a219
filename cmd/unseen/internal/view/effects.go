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

// EffectTables shows what a model's coefficients mean: relative survival of the
// cohorts, survival per length, odds and rate ratios; for programs the curves
// over the numbers' observed ranges too.
func EffectTables(river *history.River, e *cjs.Effects, level float64) []Table {
	all := wire.EffectsOf(river, e)
	var out []Table
	if len(e.Relative) > 0 {
		out = append(out, relativeTables(river, e.Relative, all.Relative, level)...)
	}
	if len(e.Paces) > 0 {
		out = append(out, paceTables(river, e.Paces, all.Paces, level)...)
	}
	if len(e.Ratios) > 0 {
		out = append(out, ratioTables(e.Ratios, all.Ratios, level)...)
	}
	if len(e.Curves) > 0 {
		out = append(out, effectCurves(river, e.Curves, all.Curves))
	}
	return out
}

// relativeTables: all sites to CSV, to people the last one that has values.
func relativeTables(river *history.River, relative []cjs.Relative, all []wire.Relative, level float64) []Table {
	whole := records("relative", all, col("cohort", ""), col("against", ""), col("site", ""), col("ratio", ""),
		col("se", "").from("ratio.se"), col("status", "").from("ratio.status"))
	whole.CSVOnly = true
	last := 0
	for _, r := range relative {
		if !math.IsNaN(r.Value) && r.Status != cjs.Held { // held: alike by the model
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
		if r.Site == last && r.Status != cjs.Held {
			short.Rows = append(short.Rows, []Cell{T(r.Cohort), estimate(r.Estimate, 1)})
		}
	}
	short.Notes = notesFor(&short)
	return []Table{short, whole}
}

func paceTables(river *history.River, paces []cjs.Pace, all []wire.Pace, level float64) []Table {
	ofs := ofsOf(paces, func(p cjs.Pace) []cjs.Category { return p.Of })
	fields := append([]field{col("from", ""), col("to", ""),
		words("", "reach", func(i int) string { return river.Reach(paces[i].From) }).key(),
		col("length", ""), col("unit", ""),
		words("", "per", func(i int) string { return fmt.Sprintf("%.4g %s", paces[i].Length, paces[i].Unit) }),
	}, estimateFields("survival", "survival", level, "survival")...)
	return shown(grouped("paces", ofs, all, fields...), ofs)
}

// ratioTables: all to CSV; to people those that speak of fish and conditions,
// not of one reach, site or row against another.
func ratioTables(ratios []cjs.Ratio, all []wire.Ratio, level float64) []Table {
	whole := records("ratios", all,
		col("part", "part").key(), col("term", "term").key(), col("against", "against"), col("kind", "kind"),
		col("per_unit", levelTitle("per unit", level), 3),
		col("per_standard_deviation", levelTitle("per standard deviation", level), 2))
	short := Table{Columns: whole.Columns}
	whole.CSVOnly = true
	for i, r := range ratios {
		if word, _, _ := strings.Cut(r.Term, " "); word == "reach" || word == "site" || word == "row" {
			continue
		}
		row := whole.Rows[i]
		if r.PerSD.Status == cjs.Absent {
			row = append(row[:5:5], None())
		}
		short.Rows = append(short.Rows, row)
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

func effectCurves(river *history.River, curves []cjs.Curve, all []wire.Curve) Table {
	var ofs [][]cjs.Category
	var of []cjs.Curve
	var points []wire.CurvePoint
	for k, c := range curves {
		for _, p := range all[k].Points {
			ofs, of, points = append(ofs, c.Of), append(of, c), append(points, p)
		}
	}
	t := grouped("curves", ofs, points,
		words("part", "", func(i int) string { return string(of[i].Part) }), words("place", "", func(i int) string { return CurvePlace(river, of[i]) }),
		words("number", "", func(i int) string { return of[i].Number }),
		col("value", ""), col("probability", "").from("Estimate"), col("se", ""))
	t.CSVOnly = true
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
