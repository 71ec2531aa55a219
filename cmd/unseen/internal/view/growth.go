package view

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history"
	"example.org/unseen/history/growth"
)

// GrowthPage says what the lengths and weights of the fish tell. caught may be
// nil.
func GrowthPage(d *analysis.Data, r *growth.Result, caught *growth.Recaptures) Page {
	p := newPage(d)
	v := grower{d, r}
	p.Sections = append(p.Sections, Section{Paragraphs: v.answer(caught)})
	last := Section{Tables: []Table{InputTable(d.Inputs)}}
	add := func(s Section) {
		if len(s.Tables[0].Rows) > 0 {
			p.Sections = append(p.Sections, s)
			return
		}
		// A program finds the same files whatever they hold.
		for _, t := range s.Tables {
			t.CSVOnly = true
			last.Tables = append(last.Tables, t)
		}
	}
	add(Section{Heading: "Fish tagged", Tables: []Table{v.tagged()},
		Notes: []string{"K: condition factor, 10⁵ × weight in g / (length in mm)³ (Fulton 1904). Mean ± standard deviation."}})
	add(Section{Heading: "Weight on length", Tables: []Table{v.lines()},
		Notes: append([]string{"ln(weight in g) = intercept + slope × ln(length in mm), without the fish far from the line."}, v.noLine()...)})
	add(Section{Heading: "Measurements to look at, at tagging", Tables: v.odd(),
		Notes: []string{"Far from the line: expected by chance in one table out of twenty (Bonferroni). These fish are left out of the line, and of nothing else."}})
	if r.TagBurden != nil {
		add(v.burden())
	}
	add(Section{Heading: "Growth between captures", Tables: []Table{v.groups(), v.growth()},
		Notes: []string{"Specific growth rate: 100 × (ln x₂ − ln x₁) / days. Flagged measurements are in the means, and can dominate a mean over few fish."}})
	if len(r.Growth) > 0 {
		add(Section{Heading: "Measurements to look at, at recapture", Tables: []Table{v.flagged()},
			Notes: []string{fmt.Sprintf("Flags are common practice: shorter than before, more than %g mm/day, K outside %g–%g.", growth.FastMMPerDay, growth.LowCondition, growth.HighCondition)}})
	}
	if len(r.Growth)+len(r.Odd) > 0 {
		last.Notes = append(last.Notes, SingleFish)
	}
	if caught != nil {
		t := AccountingTable(&caught.Accounting)
		t.Columns[0].Title = "recapture records"
		t.Rows[0][0], t.Rows[1][0] = T("kept"), T("repeats of a record")
		last.Heading, last.Tables = "Every recapture record", append([]Table{t}, last.Tables...)
	}
	p.Sections = append(p.Sections, last)
	return p
}

type grower struct {
	d *analysis.Data
	r *growth.Result
}

// odd fish shown to a person; the CSV file has them all.
const oddShown = 20

func (v grower) answer(caught *growth.Recaptures) []string {
	out := []string{}
	if n := len(v.r.Odd); n > 0 {
		out = append(out, fmt.Sprintf("%s of %s in the tagging table %s wrong.",
			Plural(n, "fish", "fish"), Digits(float64(v.d.Histories.Fish()), 0), map[bool]string{true: "looks", false: "look"}[n == 1]))
	} else if len(v.r.Lines) > 0 {
		out = append(out, "No length or weight in the tagging table is far from the others.")
	}
	switch {
	case caught == nil:
		out = append(out, "The study has no [recaptures], so growth is not described.")
	case len(v.r.Growth) == 0:
		out = append(out, "No fish was measured twice at known times.")
	default:
		g := v.r.Groups[0]
		line := fmt.Sprintf("%s between captures were followed", Plural(g.Fish, "interval"))
		if g.Fish == 1 {
			line = "1 interval between captures was followed"
		}
		if g.MMPerDay.N > 0 {
			line += fmt.Sprintf("; the median growth is %s mm/day", Digits(g.MMPerDay.Median, 2))
		}
		out = append(out, line+".")
	}
	if v.r.NoTime > 0 {
		out = append(out, fmt.Sprintf("%s caught again without a release time; growth is counted from the first recapture on.", Plural(v.r.NoTime, "fish was", "fish were")))
	}
	if caught != nil {
		for _, f := range caught.Findings {
			out = append(out, Sentence(f.Message+"; "+f.Advice)+" ["+f.ID+"]")
		}
	}
	return out
}

func (v grower) length() string {
	if v.r.Length == "" {
		return "length"
	}
	return strings.ReplaceAll(strings.TrimSuffix(v.r.Length, "_mm"), "_", " ")
}

func (v grower) cohort(c int) string {
	if c == growth.All {
		return "all fish"
	}
	return v.d.Histories.Cohorts[c]
}

// fish is the tag of a record, or its number where the study has no tags.
func (v grower) fish(i int32) string {
	if v.d.Histories.Tag == nil {
		return fmt.Sprint("record ", i+1)
	}
	return v.d.Histories.Tag[i]
}

// meanSD shows a mean with its standard deviation.
func meanSD(s history.Summary, digits int) Cell {
	if s.N == 0 {
		return T("–")
	}
	text := Digits(s.Mean, digits)
	if !math.IsNaN(s.SD) {
		text += " ± " + Digits(s.SD, digits)
	}
	return T(text)
}

// spread shows the least and the most.
func spread(s history.Summary, digits int) Cell {
	if s.N == 0 {
		return T("–")
	}
	return T(Span(s.Min, s.Max, digits))
}

// summaryColumns are a summary's columns in a CSV file, and summaryCells their
// cells.
func summaryColumns(name string) []Column {
	return []Column{{Name: name + "_n", Kind: Count}, {Name: name + "_mean", Kind: Number}, {Name: name + "_sd", Kind: Number},
		{Name: name + "_min", Kind: Number}, {Name: name + "_median", Kind: Number}, {Name: name + "_max", Kind: Number}}
}

func summaryCells(s history.Summary) []Cell {
	return []Cell{I(s.N), N(s.Mean), N(s.SD), N(s.Min), N(s.Median), N(s.Max)}
}

func (v grower) tagged() Table {
	t := Table{ID: "tagged"}
	of := v.r.Tagging[len(v.r.Tagging)-1].Of
	for _, c := range of {
		t.Columns = append(t.Columns, Column{Name: c.Name, Title: c.Name, Key: true})
	}
	if len(of) == 0 {
		t.Columns = append(t.Columns, Column{Name: "group", Title: "fish", Key: true})
	}
	t.Columns = append(t.Columns, Column{Name: "fish", Title: "fish", Kind: Count},
		Column{Title: v.length() + " mm"}, Column{Title: "range"}, Column{Title: "weight g"}, Column{Title: "range"}, Column{Title: "K"}, Column{Title: "range"})
	t.Columns = append(t.Columns, summaryColumns("length_mm")...)
	t.Columns = append(t.Columns, summaryColumns("weight_g")...)
	t.Columns = append(t.Columns, summaryColumns("condition")...)
	for _, x := range v.r.Tagging {
		var row []Cell
		for k := range of {
			switch {
			case x.Of != nil:
				row = append(row, T(x.Of[k].Value))
			case k == 0:
				row = append(row, T("all fish"))
			default:
				row = append(row, T(""))
			}
		}
		if len(of) == 0 {
			row = append(row, T("all fish"))
		}
		row = append(row, I(x.Fish), meanSD(x.Length, 1), spread(x.Length, 0), meanSD(x.Weight, 1), spread(x.Weight, 1), meanSD(x.Condition, 2), spread(x.Condition, 2))
		row = append(row, summaryCells(x.Length)...)
		row = append(row, summaryCells(x.Weight)...)
		row = append(row, summaryCells(x.Condition)...)
		t.Rows = append(t.Rows, row)
	}
	return t
}

// noLine tells of the fish whose length and weight are held against nothing.
func (v grower) noLine() []string {
	n, blank := v.r.NoLine, v.r.NoSpecies
	if n == 0 {
		return nil
	}
	var why []string
	if blank > 0 {
		why = append(why, history.Say("%d without a species", blank))
	}
	if few := n - blank; few > 0 {
		why = append(why, history.Say("%d of too few fish to make one", few))
	}
	return []string{Plural(n, "fish measured and weighed is", "fish measured and weighed are") + " not compared with a line: " + And(why) + ". Data-entry errors in them are not looked for."}
}

func (v grower) lines() Table {
	lines := v.r.Lines
	return hideEmpty(records("length_weight", wire.LinesOf(lines),
		col("species", "species").key(), col("fish", "fish"), col("off", "far from it"),
		col("intercept", "intercept", 3), col("intercept_se", ""),
		made("slope", levelTitle("slope", 0.95), func(i int) Cell { return R(lines[i].Slope, lines[i].SlopeLow, lines[i].SlopeHigh) }).kind(Range, 3),
		col("slope_se", ""), col("residual_sd", "residual SD", 3), col("r_squared", "R²", 3)), "species")
}

// odd is the list for a person, cut short, and the whole for programs.
func (v grower) odd() []Table {
	return shortened(records("odd", wire.OddOf(v.d.Histories, v.r.Odd),
		words("fish", "fish", func(i int) string { return v.fish(v.r.Odd[i].Fish) }).key(),
		col("length_mm", v.length()+" mm", 1), col("weight_g", "weight g", 2), col("condition", "K", 2), col("residual", "t", 1),
		col("flags", "what"), col("guess", "a slip?")), oddShown)
}

func (v grower) burden() Section {
	b := v.r.TagBurden
	t := Table{ID: "tag_burden", Columns: []Column{
		{Name: "percent", Title: "tag over fish %", Kind: Number, Digits: 1, Key: true}, {Name: "above", Title: "fish above", Kind: Count},
		{Name: "what", Title: "what was found"}, {Name: "source", Title: "source"},
	}}
	for k, rule := range growth.BurdenRules {
		t.Rows = append(t.Rows, []Cell{N(rule.Percent), I(b.Above[k]), T(rule.What), T(rule.Source)})
	}
	kinds := Table{ID: "tag_kinds", CSVOnly: true, Columns: []Column{{Name: "tag_mm"}, {Name: "grams_low", Kind: Number}, {Name: "grams_high", Kind: Number}, {Name: "fish_from_mm"}, {Name: "source"}}}
	for _, k := range growth.TagKinds {
		kinds.Rows = append(kinds.Rows, []Cell{T(k.MM), N(k.LowG), N(k.HighG), T(k.FromMM), T(k.Source)})
	}
	x := b.Percent
	of := Table{ID: "tag_burden_of_fish", CSVOnly: true, Columns: summaryColumns("percent"), Rows: [][]Cell{summaryCells(x)}}
	return Section{Heading: "Tag burden", Tables: []Table{t, kinds, of},
		Paragraphs: []string{fmt.Sprintf("The tag is %s %% of the fish's weight at the median, from %s to %s %%, of %s.",
			Digits(x.Median, 1), Digits(x.Min, 1), Digits(x.Max, 1), Plural(x.N, "fish weighed", "fish weighed"))},
		Notes: []string{"Findings on certain fish and tags; which applies to a study is a matter of its permit. A minimum length cuts the population: estimates are for fish at or above it."}}
}

func (v grower) groups() Table {
	t := Table{ID: "growth_by_cohort", Columns: []Column{
		{Name: "cohort", Title: "cohort", Key: true}, {Name: "interval", Title: "interval", Key: true},
		{Name: "intervals", Title: "fish", Kind: Count}, {Name: "flagged", Title: "flagged", Kind: Count},
		{Title: "days"}, {Title: "mm/day"}, {Title: "g/day"}, {Title: "length %/day"}, {Title: "weight %/day"}, {Title: "K before"}, {Title: "K after"},
	}}
	names := []string{"days", "mm_per_day", "g_per_day", "length_percent_per_day", "weight_percent_per_day", "condition_before", "condition_after"}
	for _, n := range names {
		t.Columns = append(t.Columns, summaryColumns(n)...)
	}
	if len(v.d.Histories.Cohorts) < 2 {
		t.Columns[0].Title = ""
	}
	several := false
	for _, g := range v.r.Groups {
		several = several || g.Interval != growth.All
	}
	if !several {
		t.Columns[1].Title = ""
	}
	for _, g := range v.r.Groups {
		interval := "all"
		if g.Interval != growth.All {
			interval = fmt.Sprint(g.Interval)
		}
		row := []Cell{T(v.cohort(g.Cohort)), T(interval), I(g.Fish), I(g.Flagged)}
		all := []history.Summary{g.Days, g.MMPerDay, g.GPerDay, g.LengthPercent, g.WeightPercent, g.ConditionFrom, g.ConditionTo}
		for k, digits := range []int{1, 2, 2, 2, 2, 2, 2} {
			row = append(row, meanSD(all[k], digits))
		}
		for _, s := range all {
			row = append(row, summaryCells(s)...)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// growth is every interval, for programs.
func (v grower) growth() Table {
	t := records("growth", wire.IntervalsOf(v.d.Histories, v.r.Growth),
		col("fish", ""), col("cohort", ""), col("interval", ""), col("from", "").from("from.time"), col("to", "").from("to.time"),
		col("place", "").from("to.place"), col("line", "").from("to.line"), col("days", ""),
		col("length_before_mm", "").from("from.length_mm"), col("length_after_mm", "").from("to.length_mm"),
		col("weight_before_g", "").from("from.weight_g"), col("weight_after_g", "").from("to.weight_g"),
		col("mm_per_day", ""), col("g_per_day", ""), col("length_percent_per_day", ""), col("weight_percent_per_day", ""),
		col("condition_before", ""), col("condition_after", ""), col("flags", ""))
	t.CSVOnly = true
	return t
}

// flagged are the flagged intervals, for a person; the CSV file of all has
// them too.
func (v grower) flagged() Table {
	list := slices.DeleteFunc(slices.Clone(v.r.Growth), func(g growth.Growth) bool { return g.Flags == 0 })
	t := records("", wire.IntervalsOf(v.d.Histories, list),
		col("fish", "fish").key(),
		words("", "caught on", func(i int) string { return day(time.UnixMilli(list[i].To.Time).In(v.d.Study.Location)) }),
		col("to.line", "line"), col("days", "days", 1), col("from.length_mm", "mm before", 1), col("to.length_mm", "mm after", 1),
		col("condition_before", "K before", 2), col("condition_after", "K after", 2), col("flags", "what"))
	return shortened(t, oddShown)[0]
}
