package view

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// FitPage is the answer of a fit: first in words, then in tables, the verdict
// last.
func FitPage(d *analysis.Fitted) Page { return fitPage(d, true) }

// BriefFitPage is the answer of a fit on one screen: in words, how many passed,
// the verdict and the warnings.
func BriefFitPage(d *analysis.Fitted) Page { return fitPage(d, false) }

func fitPage(d *analysis.Fitted, full bool) Page {
	f, river := d.Fit, &d.Histories.River
	level := f.Options.Level
	p := newPage(d.Data)

	answer := Section{Paragraphs: answerOf(d, full)}
	if d.HasSightings() {
		a := &d.Accounting
		answer.Paragraphs = append(answer.Paragraphs, accountingLine(a, full))
		t := AccountingTable(a)
		t.CSVOnly = true
		answer.Tables = append(answer.Tables, t)
	}
	if !full && len(f.Working) > 0 {
		answer.Paragraphs = append(answer.Paragraphs, workingLine(river, f.Working))
	}
	p.Sections = append(p.Sections, graveSection(d.Findings)...)
	p.Sections = append(p.Sections, answer)
	p.Sections = append(p.Sections, OneSiteSections(d)...)
	add := func(heading string, tables []Table) {
		if len(tables) > 0 && len(tables[0].Rows) > 0 {
			if !slices.ContainsFunc(tables, func(t Table) bool { return !t.CSVOnly }) {
				heading = "" // for programs alone
			}
			p.Sections = append(p.Sections, worded(d.Data, d.Running(), Section{Heading: heading, Tables: tables}))
		}
	}
	if !full {
		if f.OneSite == nil {
			add(HeadingPassed, briefPassed(river, f.Passed, level))
		}
		p.Sections = append(p.Sections, briefAsked(d)...)
		p.Sections = append(p.Sections, briefEnd(d)...)
		return p
	}
	passed := PassedTables(river, f.Passed, level)
	survival := SurvivalTables(river, f.Survival, level)
	if d.Plain != nil {
		passed = RunningTables(river, f.Passed, d.Plain.Passed, level)
		survival = RunningSurvivalTables(river, f.Survival, d.Plain.Survival, level)
	}
	for _, t := range []Table{SpreadTable(river, f.Passed), RetentionTable(river, f.Passed, f.Options.Retention.Held, f.Options.Retention.Kept, level)} {
		if len(t.Rows) > 0 {
			passed = append(passed, t)
		}
	}
	add(HeadingPassed, passed)
	add(HeadingSurvival, survival)
	detection := DetectionTables(river, f.Detection, level)
	if len(f.RowTests) > 0 {
		detection = append(detection, RowTestTable(river, f.RowTests))
	}
	add(HeadingDetection, detection)
	if len(f.Working) > 0 {
		last := &p.Sections[len(p.Sections)-1]
		last.Paragraphs = append(last.Paragraphs, workingLine(river, f.Working)+" (Earlier versions set the records of an outage aside, and did not count its time.)")
		last.Tables = append(last.Tables, WorkingTable(river, f.Working))
	}
	add(HeadingMovement, MovementTables(river, f.Movement, level))
	add(HeadingProducts, ProductTables(river, f.Products, level))

	add(HeadingEffects, EffectTables(river, d.Effects, level))

	p.Sections = append(p.Sections, asked(d)...)

	heading := "Model"
	if name := f.Problem.Spec.Name; name != "" {
		heading += ": " + name
	}
	model := Section{Heading: heading, Paragraphs: modelLines(d), Tables: []Table{
		measuresTable(d), CoefficientTable(f.Coefficients), WarningTable(f.Warnings), InputTable(d.Inputs)}}
	p.Sections = append(p.Sections, model)
	if len(f.Warnings) > 0 {
		s := warningSection(f.Warnings)
		s.Notes = append(s.Notes, "`unseen explain ID` says what a warning means and what to try.")
		p.Sections = append(p.Sections, s)
	}
	p.Sections = append(p.Sections,
		Section{Paragraphs: []string{verdict(f)}},
		Section{Notes: cautions(d.Data)})
	return p
}

// briefEnd is the end of the one screen of a fit.
func briefEnd(d *analysis.Fitted) []Section {
	f := d.Fit
	line := f.Problem.WordsWithLinks()
	if name := f.Problem.Spec.Name; name != "" {
		line = name + " (" + line + ")"
	}
	var out []Section
	if len(f.Warnings) > 0 {
		out = append(out, warningSection(f.Warnings))
	}
	more := briefNote("survival, detection, effects, model measures, cautions", len(f.Warnings) > 0)
	return append(out, Section{Paragraphs: []string{"Model: " + line + "\n" + verdict(f)}}, Section{Notes: []string{more}})
}

// workingLine says for how many of the passages rows worked, and that it counts.
func workingLine(river *history.River, working []cjs.Working) string {
	var rows []string
	var shares []float64
	for _, w := range working {
		rows = append(rows, river.RowLabel(river.FirstRow(w.Site)+max(0, w.Row)))
		shares = append(shares, w.Share)
	}
	return worked(rows, shares) + " by the law of travel. The estimates allow for that: a fish that passed in an outage does not count as missed, and detection is that at full work."
}

// worked says for what share of the passages each row worked.
func worked(rows []string, shares []float64) string {
	var out []string
	for i, row := range rows {
		words := "%s for %s"
		if i == 0 {
			words = "%s worked for %s of the passages there"
		}
		out = append(out, fmt.Sprintf(words, row, Percent(shares[i], 1)))
	}
	return And(out)
}

// Answer says in words how many fish passed the last site of which that can be
// said, and of which it cannot.
func Answer(d *analysis.Fitted) []string { return answerOf(d, true) }

// answerOf is the answer; in full, while the season runs, with what it would be
// were the season treated as complete.
func answerOf(d *analysis.Fitted, full bool) []string {
	if d.Fit.Problem.Running() {
		return runningAnswer(d, full)
	}
	river := &d.Histories.River
	var known, last *cjs.Passed
	for i := range d.Fit.Passed {
		x := &d.Fit.Passed[i]
		if len(x.Of) > 0 {
			continue
		}
		last = x
		if !math.IsNaN(x.PassedShare.Value) && x.PassedShare.Status != cjs.Borrowed {
			known = x
		}
	}
	if last == nil {
		return []string{"There is no site below the release, so no share passing can be estimated."}
	}
	var out []string
	if known != nil {
		site := river.Sites[known.Site].Name
		out = append(out, fmt.Sprintf("Of %s tagged fish released %s, %s passed %s; %s were seen there.", Digits(float64(known.Released), 0),
			releasedAt(d.Histories, known.Site), percentOf(known.PassedShare), site, Percent(known.SeenShare.Value, 1)))
	}
	if last != known && last.PassedShare.Status == cjs.Borrowed {
		out = append(out, fmt.Sprintf("The share passing %s is not identifiable from these data, as no fish are detected downstream: %s were seen there. If the model's shared parameters are taken at face value, the estimate would be %s.",
			river.Sites[last.Site].Name, percentOf(last.SeenShare), percentOf(last.PassedShare)))
	} else if e := last.PassedShare; e.Status == cjs.TooEarly {
		out = append(out, fmt.Sprintf("How many passed %s cannot be estimated, as too many may have passed while rows did not work: between %s and %s %%; %s were seen there.",
			river.Sites[last.Site].Name, Digits(100*e.Low, 0), Digits(100*e.High, 0), Percent(last.SeenShare.Value, 1)))
	} else if last != known {
		site := river.Sites[last.Site].Name
		out = append(out, fmt.Sprintf("The share passing %s is not identifiable from these data: %s were seen there, which is survival × detection.",
			site, percentOf(last.SeenShare)))
	}
	return out
}

func modelLines(d *analysis.Fitted) []string {
	f := d.Fit
	line := f.Problem.WordsWithLinks()
	if n := len(d.Study.Models); n > 1 && f.Problem.Spec.Name == d.Study.Models[0].Name {
		line += fmt.Sprintf("\nThe study has %d models; this is the first. Choose another with --model.", n)
	}
	measures := fmt.Sprintf("−2 ln L %s · %s", Digits(f.MinusTwoLogLikelihood, 3), Plural(f.Estimable, "parameter"))
	if f.EstimableHere < f.Estimable {
		measures += fmt.Sprintf(" (%d with these data)", f.EstimableHere)
	}
	name := "AICc"
	if f.Options.VarianceInflation != 1 {
		name = fmt.Sprintf("QAICc (variance inflation %s)", Digits(f.Options.VarianceInflation, 2))
	}
	measures += fmt.Sprintf(" · %s %s · effective sample %s", name, Digits(f.AICc, 3), Digits(float64(f.EffectiveSample), 0))
	return append([]string{line + "\n" + measures}, conditionLines(f.Problem)...)
}

// conditionLines say what stands for the condition of a cohort at a site.
func conditionLines(p *model.Problem) []string {
	var out []string
	for _, c := range p.Conditions {
		if c.Name == model.WorkingShare {
			out = append(out, fmt.Sprintf("%s is the share of a cohort's passages that fell into the site's working windows, by the days its fish passed, detected there or not.", c.Name))
			continue
		}
		out = append(out, fmt.Sprintf("%s at a site is each cohort's mean over the days its fish passed: interpolated between the detections above and below, for all its fish detected downstream, detected here or not. It varies by %s (standard deviation) among the fish of a cohort, by %s among the cohorts.", c.Name, Digits(c.Within, 2), Digits(c.Between, 2)))
	}
	return out
}

func verdict(f *cjs.Fit) string {
	switch f.Verdict {
	case cjs.Converged:
		return fmt.Sprintf("Verdict: converged, %s standard errors from the maximum.", small(f.Distance))
	default:
		return fmt.Sprintf("Verdict: %s (%s standard errors from the maximum). Do not use these numbers.", strings.ToUpper(string(f.Verdict)), small(f.Distance))
	}
}

// small shows a distance that is as good as nothing as less than a millionth:
// its digits differ from machine to machine.
func small(x float64) string {
	if x < 1e-6 {
		return "less than 0.000001"
	}
	return fmt.Sprintf("%.2g", x)
}

// measuresTable holds the model line and the measures, for programs.
func measuresTable(d *analysis.Fitted) Table {
	f := d.Fit
	t := Table{ID: "fit", CSVOnly: true, Columns: []Column{{Name: "model"}, {Name: "survival"}, {Name: "detection"}}}
	row := []Cell{T(f.Problem.Spec.Name), T(f.Problem.TermsOf(model.Survival).String()), T(f.Problem.TermsOf(model.Detection).String())}
	for _, m := range []struct {
		name  string
		value float64
	}{
		{"minus_two_log_likelihood", f.MinusTwoLogLikelihood}, {"parameters", float64(f.Parameters)},
		{"estimable", float64(f.Estimable)}, {"estimable_here", float64(f.EstimableHere)}, {"aicc", f.AICc},
		{"effective_sample", float64(f.EffectiveSample)}, {"variance_inflation", f.Options.VarianceInflation},
		{"distance_to_maximum_se", f.Distance}, {"level", f.Options.Level},
	} {
		t.Columns = append(t.Columns, Column{Name: m.name, Kind: Number})
		row = append(row, N(m.value))
	}
	t.Columns = append(t.Columns, Column{Name: "verdict"}, Column{Name: "interval"})
	t.Rows = [][]Cell{append(row, T(string(f.Verdict)), T(f.Options.Interval))}
	return t
}
