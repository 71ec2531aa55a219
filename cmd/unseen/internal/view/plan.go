package view

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/plan"
	"example.org/unseen/cmd/unseen/internal/wire"
)

// BriefPlanPage leaves out the lines of single cohorts, where they are many.
func BriefPlanPage(d *analysis.Planned) Page {
	if len(d.Forecast.Plan.Cohorts) <= mostGroups {
		return PlanPage(d)
	}
	all := func(l plan.Line) bool { return len(l.Of) == 0 }
	f := *d.Forecast
	f.Passed, f.Survival, f.Detection, f.Products = only(f.Passed, all), only(f.Survival, all), only(f.Detection, all), only(f.Products, all)
	brief := *d
	brief.Forecast = &f
	return withBriefNote(PlanPage(&brief), "each cohort")
}

// PlanPage is what to expect of a season: first what it cannot tell, then the
// answers to the questions asked, then the figures.
func PlanPage(d *analysis.Planned) Page {
	f := d.Forecast
	p := f.Plan
	page := Page{Title: "Plan: " + d.Name(), Stamp: planStamp(f)}
	answer := Section{}
	for _, w := range f.Cannot {
		answer.Paragraphs = append(answer.Paragraphs, w.Message)
	}
	answer.Paragraphs = append(answer.Paragraphs, planAnswer(f, &d.Target)...)
	for _, n := range d.Needs {
		answer.Paragraphs = append(answer.Paragraphs, NeedLine(p, n))
	}
	for _, x := range d.Powers {
		answer.Paragraphs = append(answer.Paragraphs, PowerLine(p, x))
	}
	answer.Tables = []Table{needTable(p, d.Needs), powerTable(p, d.Powers)}
	page.Sections = append(page.Sections, answer)
	if d.Comparisons != nil {
		page.Sections = append(page.Sections, Section{Heading: "Options, for " + d.Target.Words(p),
			Tables: []Table{optionTable(p, d.Comparisons), widthTable(d.Curves)}})
	}
	for _, x := range []struct {
		heading, id string
		lines       []plan.Line
	}{
		{"Passed", "passed", f.Passed}, {"Survival by reach", "survival", f.Survival},
		{"Detection", "detection", f.Detection}, {"Products only (survival × detection; not separable)", "products", f.Products},
	} {
		if len(x.lines) > 0 {
			page.Sections = append(page.Sections, Section{Heading: x.heading, Tables: lineTables(f, x.id, x.lines)})
		}
	}
	if v := d.Verification; v != nil {
		page.Sections = append(page.Sections, verifySection(p, v))
	}
	if len(f.Cautions) > 0 {
		page.Sections = append(page.Sections, Section{Heading: "Warnings", Warnings: f.Cautions})
	}
	notes := append(append([]string{}, p.Notes...),
		"± is the half-width of the interval to expect in a large sample, on average over seasons like the assumed one; a real season gives more or less.",
		"Standard errors do not include differences between days and seasons: tag over the whole run.",
		"Permits limit how many fish may be tagged.")
	page.Sections = append(page.Sections, Section{Notes: notes,
		Tables: []Table{WarningTable(append(append([]cjs.Warning{}, f.Cannot...), f.Cautions...)), InputTable(d.Inputs)}})
	return page
}

func planStamp(f *plan.Forecast) string {
	p := f.Plan
	fish := Plural(p.Fish(), "fish", "fish") + " to tag"
	if n := len(p.CohortNames()); n > 1 {
		fish += fmt.Sprintf(" in %d cohorts", n)
	}
	return strings.Join([]string{fish, Plural(len(p.River.Sites), "site"), f.Words()}, " · ")
}

// points shows a half-width in percentage points: "± 4.2 points".
func points(half float64) string { return "± " + Digits(100*half, 1) + " points" }

// spanned adds what the ranges make of a half-width.
func spanned(half, low, high float64) string {
	if low == high {
		return points(half)
	}
	return fmt.Sprintf("%s (± %s over the ranges)", points(half), Span(100*low, 100*high, 1))
}

// planAnswer says what to expect of the target as planned.
func planAnswer(f *plan.Forecast, t *plan.Target) []string {
	var out []string
	for _, l := range f.Of(*t) {
		if !math.IsNaN(l.Half) {
			out = append(out, fmt.Sprintf("With %s, expect %s (assumed %s) to be estimated within %s.",
				Plural(f.Plan.Fish(), "fish", "fish"), f.Plan.Name(&l), Percent(l.Value, 1), spanned(l.Half, l.HalfLow, l.HalfHigh)))
		} else if l.TooFew {
			out = append(out, fmt.Sprintf("With %s, nothing can be said of %s (assumed %s): its interval would be wider than the whole scale from 0 to 100 %%.",
				Plural(f.Plan.Fish(), "fish", "fish"), f.Plan.Name(&l), Percent(l.Value, 1)))
		}
	}
	return out
}

// NeedLine answers how many fish a precision takes.
func NeedLine(p *plan.Plan, n *plan.Need) string {
	words := fmt.Sprintf("%s ± %s points", n.Target.Words(p), strings.TrimSuffix(Digits(100*n.Target.HalfWidth, 1), ".0"))
	if n.Why != "" {
		return fmt.Sprintf("No number of fish gives %s: %s.", words, strings.TrimSuffix(n.Why, "."))
	}
	s := fmt.Sprintf("%s takes %s", Sentence(words)[:len(Sentence(words))-1], Plural(n.Total, "fish", "fish"))
	if names := p.CohortNames(); len(names) > 1 {
		of := map[string]int{}
		for i, fish := range n.Fish {
			of[p.Cohorts[i].Name] += fish
		}
		var parts []string
		for _, name := range names {
			parts = append(parts, name+" "+Digits(float64(of[name]), 0))
		}
		s += " in all: " + And(parts)
	}
	s += "."
	switch {
	case n.TotalHigh < 0:
		s += fmt.Sprintf(" Over the ranges it is %s at best; at worst no number of fish gives it.", Digits(float64(n.TotalLow), 0))
	case n.TotalHigh > n.TotalLow:
		s += fmt.Sprintf(" Over the ranges it is %s.", Digits(float64(n.TotalLow), 0)+" to "+Digits(float64(n.TotalHigh), 0))
	}
	return s
}

// PowerLine answers which difference between cohorts can be shown.
func PowerLine(p *plan.Plan, x *plan.Power) string {
	c := &x.Contrast
	what := c.Target.Words(p)
	if x.Why != "" {
		return fmt.Sprintf("No difference between %s and %s is detectable in %s: %s.", c.First, c.Second, what, strings.TrimSuffix(x.Why, "."))
	}
	var where []string
	if !math.IsNaN(x.Lower) {
		where = append(where, "at most "+Percent(x.Lower, 1))
	}
	if !math.IsNaN(x.Higher) {
		where = append(where, "at least "+Percent(x.Higher, 1))
	}
	s := fmt.Sprintf("%s and %s, %s: ", Sentence(c.First)[:len(Sentence(c.First))-1], c.Second, what)
	if len(where) == 0 {
		s += fmt.Sprintf("with so few fish no difference is detected with a power of %s.", Percent(c.Chance, 0))
	} else {
		s += fmt.Sprintf("with %s at %s, a difference is detected with a power of %s where %s is %s (significance level %s).",
			c.First, Percent(x.First, 1), Percent(c.Chance, 0), c.Second, strings.Join(where, " or "), Percent(c.Alpha, 0))
	}
	if x.First != x.Second {
		s += fmt.Sprintf(" With %s at %s, as assumed, the power is %s.", c.Second, Percent(x.Second, 1), Percent(x.Chance, 0))
	}
	return s
}

// planNotes explain the statuses of lines that are not plainly estimated.
var planNotes = map[cjs.Status]Note{
	cjs.Inseparable: {"*", "not separately estimable with this design, however many fish are tagged"},
	cjs.Boundary:    {"†", "assumed to be on the boundary (0 or 1): the large-sample figure does not apply"},
	cjs.Borrowed:    {"‡", "borrowed: identified only through parameters that the model shares with other sites and reaches"},
	cjs.Held:        {"§", "held: fixed, not estimated"},
}

// tooFewNote explains a line of which so few fish tell nothing.
var tooFewNote = Note{"#", "too few fish: the interval would be wider than the whole scale from 0 to 100 %"}

// lineTables are the lines of one kind, all fish apart from the cohorts.
func lineTables(f *plan.Forecast, id string, lines []plan.Line) []Table {
	river := &f.Plan.River
	ofs := ofsOf(lines, func(l plan.Line) []cjs.Category { return l.Of })
	place, over := "site", ""
	if id == "survival" || id == "products" {
		place = "reach"
	}
	ranged := func(l plan.Line) bool { return l.HalfLow != l.HalfHigh && !math.IsNaN(l.Half) }
	if slices.ContainsFunc(lines, ranged) {
		over = "± over the ranges"
	}
	t := grouped(id, ofs, wire.PlanLinesOf(f.Plan, lines),
		words(place, place, func(i int) string {
			switch l := &lines[i]; {
			case l.From >= 0:
				return river.Reach(l.From)
			case l.Row >= 0:
				return river.RowLabel(river.FirstRow(l.Site) + l.Row)
			default:
				return river.Sites[l.Site].Name
			}
		}).key(),
		made("percent", "assumed %", func(i int) Cell {
			mark := planNotes[lines[i].Status].Mark
			if lines[i].TooFew {
				mark += tooFewNote.Mark
			}
			return N(100 * lines[i].Value).Marked(mark)
		}).kind(Number, 1),
		col("se_points", "standard error, points", 1),
		col("half_width_points", "± points", 1),
		words("", over, func(i int) string {
			if l := lines[i]; ranged(l) {
				return Span(100*l.HalfLow, 100*l.HalfHigh, 1)
			}
			return ""
		}),
		col("half_width_low_points", ""), col("half_width_high_points", ""),
		col("low_percent", ""), col("high_percent", ""), col("status", ""), col("too_few_fish", ""))
	out := shown(t, ofs)
	for i := range out {
		out[i].Notes = nil
		for _, n := range []Note{planNotes[cjs.Inseparable], planNotes[cjs.Boundary], planNotes[cjs.Borrowed], planNotes[cjs.Held], tooFewNote} {
			marked := func(r []Cell) bool {
				return slices.ContainsFunc(r, func(c Cell) bool { return strings.Contains(c.Mark, n.Mark) })
			}
			if slices.ContainsFunc(out[i].Rows, marked) {
				out[i].Notes = append(out[i].Notes, n)
			}
		}
	}
	return out
}

func optionTable(p *plan.Plan, all []plan.Comparison) Table {
	marks := map[string]string{}
	var notes []Note
	t := records("options", wire.OptionsOf(all),
		made("option", "option", func(i int) Cell {
			note := all[i].Why + all[i].Note
			if note == "" {
				return T(all[i].Name)
			}
			if marks[note] == "" {
				marks[note] = fmt.Sprintf("[%d]", len(marks)+1)
				notes = append(notes, Note{marks[note], note})
			}
			return T(all[i].Name).Marked(" " + marks[note])
		}).key(),
		col("more_fish", ""),
		col("half_width_points", "± points", 1),
		col("gain_points", "gain, points", 1),
		made("worth_fish", "worth in fish", func(i int) Cell { return N(all[i].Worth) }).kind(Count, 0),
		made("cost", "", func(i int) Cell { return N(all[i].Cost) }).kind(Count, 0),
		col("gain_per_1000", "", 2).from("gain_points_per_1000_of_cost"),
		col("why_not", "").from("why"), col("note", ""))
	ranked := "it"
	if p.Costs.Given {
		t.Columns[5].Title, t.Columns[6].Title = "cost", "gain per 1,000 of cost"
		ranked = "gain per cost"
	}
	t.Notes = []Note{{"", "Worth in fish: how many more fish would do the same; ∞ where no number would. Options are ranked by " + ranked + "."}}
	if slices.ContainsFunc(all, func(c plan.Comparison) bool { return c.Gain < 0 }) {
		t.Notes = append(t.Notes, Note{"", "A negative gain: the interval becomes wider, as with so many fish fewer."})
	}
	t.Notes = append(t.Notes, notes...)
	return t
}

func widthTable(curves []plan.Curve) Table {
	t := Table{ID: "half_width_by_fish", CSVOnly: true, Columns: []Column{{Name: "option"}, {Name: "fish", Kind: Count}, {Name: "half_width_points", Kind: Number}}}
	for _, c := range curves {
		for i, n := range c.Fish {
			t.Rows = append(t.Rows, []Cell{T(c.Name), I(n), N(100 * c.Half[i])})
		}
	}
	return t
}

func needTable(p *plan.Plan, needs []*plan.Need) Table {
	t := Table{ID: "needs", CSVOnly: true, Columns: []Column{{Name: "want"}, {Name: "half_width_points", Kind: Number}, {Name: "cohort"}, {Name: "fish", Kind: Count},
		{Name: "fish_in_all", Kind: Count}, {Name: "why_not"}}}
	for _, n := range needs {
		words, half := T(n.Target.Words(p)), N(100*n.Target.HalfWidth)
		if n.Why != "" {
			t.Rows = append(t.Rows, []Cell{words, half, T(""), None(), None(), T(n.Why)})
		}
		for i, fish := range n.Fish {
			t.Rows = append(t.Rows, []Cell{words, half, T(p.Cohorts[i].Name), I(fish), I(n.Total), T("")})
		}
	}
	return t
}

func powerTable(p *plan.Plan, powers []*plan.Power) Table {
	t := records("power", wire.PowersOf(p, powers), col("first", ""), col("second", ""), col("of", ""),
		col("first_percent", ""), col("second_percent", ""), col("se_points", ""), col("chance", ""),
		col("seen_below_percent", ""), col("seen_above_percent", ""), col("alpha", ""), col("wanted_chance", ""), col("why_not", "").from("why"))
	t.CSVOnly = true
	return t
}

func verifySection(p *plan.Plan, v *plan.Verification) Section {
	off := 0
	t := records("simulated", wire.VerifiedOf(p, v.Lines),
		col("estimate", "estimate").key(),
		col("expected_se_points", "expected SE", 2),
		made("simulated_se_points", "simulated SE", func(i int) Cell {
			l := &v.Lines[i]
			if l.Off {
				off++
				return N(100 * l.SimulatedSE).Marked("!")
			}
			return N(100 * l.SimulatedSE)
		}).kind(Number, 2),
		col("ratio", "ratio", 2), col("bias_points", "bias", 2), col("coverage_percent", "coverage %", 1), col("replicates", "replicates"))
	if off > 0 {
		t.Notes = append(t.Notes, Note{"!", "the large-sample figure is more than 10 % off: rely on the simulated one"})
	}
	words := fmt.Sprintf("Of %s, all of %s agree with simulation to within 10 %%.", Plural(v.Replicates, "replicate"), Plural(len(v.Lines), "expected standard error"))
	if off > 0 {
		words = fmt.Sprintf("Over %s, %d of %s are more than 10 %% off.", Plural(v.Replicates, "replicate"), off, Plural(len(v.Lines), "expected standard error"))
	}
	s := Section{Heading: "Simulated", Paragraphs: []string{words}, Tables: []Table{t}}
	for _, why := range slices.Sorted(maps.Keys(v.Failed)) {
		s.Paragraphs = append(s.Paragraphs, fmt.Sprintf("%s could not be used: %s.", Plural(v.Failed[why], "replicate"), why))
	}
	return s
}
