package view

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/simulate"
	"example.org/unseen/cmd/unseen/internal/wire"
)

// NothingFitted tells whether no replicate gave an estimate.
func NothingFitted(r *simulate.Result) bool {
	for _, n := range r.Failed {
		if n == r.Replicates {
			return true
		}
	}
	return len(r.Quantities) == 0
}

// SimulatePage says what became of the replicates of a simulation.
func SimulatePage(s *analysis.Simulated) Page {
	r := s.Result
	p := Page{Title: s.Name(), Stamp: fmt.Sprintf("Simulated: %s (seed %d) · truth: %s", Plural(r.Replicates, "replicate"), r.Seed, s.Truth)}
	answer := Section{Paragraphs: simulateWords(s)}
	if len(r.Failed) > 0 {
		answer.Tables = append(answer.Tables, countTable("failed", "Replicates without estimates:", "why", r.Failed))
	}
	if len(r.Outages) > 0 {
		t := records("outages", wire.OutagesOf(s), col("at", ""), col("share_percent", ""), col("declared", ""))
		t.CSVOnly = true // said in words
		answer.Tables = append(answer.Tables, t)
	}
	p.Sections = append(p.Sections, answer)
	var shown []simulate.Quantity
	for _, kind := range []string{"passed", "survival", "detection", "passed fish", "coefficient"} {
		for _, q := range r.Quantities {
			if q.Kind == kind {
				shown = append(shown, q)
			}
		}
	}
	p.Sections = append(p.Sections, Section{Heading: "Estimates against the truth", Tables: simulateTables(shown, s.Level())})
	notes := Section{Tables: []Table{InputTable(s.Inputs)}, Notes: []string{
		"bias: mean of estimate − true value; real SD: standard deviation of the estimates over the replicates; SE: standard error by the fits (root mean square); coverage: share of the intervals that contain the true value; a replicate without an interval although its data hold information counts as not covered.",
		fmt.Sprintf("With %s coverage is known to ± %s points.", Plural(r.Replicates, "replicate"), Digits(196*math.Sqrt(0.05*0.95/float64(r.Replicates)), 1))}}
	if len(r.Warned) > 0 {
		t := countTable("warned", "Warnings, and how many replicates had them:", "warning", r.Warned)
		words := Column{Title: "warning", Key: true}
		t.Columns[0].Title = "" // the ID alone is for programs
		t.Columns = append([]Column{words}, t.Columns...)
		for i, row := range t.Rows {
			t.Rows[i] = append([]Cell{T(WarningTitle(row[0].Text))}, row...)
		}
		notes.Tables = append(notes.Tables, t)
	}
	p.Sections = append(p.Sections, notes)
	return p
}

// mostQuantities is how many quantities stand on the one screen of an answer.
const mostQuantities = 24

// BriefSimulatePage leaves out what is of single cohorts, where it is much.
func BriefSimulatePage(s *analysis.Simulated) Page {
	single := func(q simulate.Quantity) bool { return q.Of != "" }
	if len(s.Result.Quantities) <= mostQuantities || !slices.ContainsFunc(s.Result.Quantities, single) {
		return SimulatePage(s)
	}
	r := *s.Result
	r.Quantities = only(r.Quantities, func(q simulate.Quantity) bool { return q.Of == "" })
	brief := *s
	brief.Result = &r
	return withBriefNote(SimulatePage(&brief), "each cohort")
}

// simulateWords tells how far passed % of all fish is off.
func simulateWords(s *analysis.Simulated) []string {
	r := s.Result
	out := []string{"Fitted: " + r.Model + "."}
	if b := s.Study.Truth.Violations; b != (simulate.Violations{}) {
		out = append(out, "Assumptions broken: "+And(breakerWords(b))+".")
	}
	if len(r.Outages) > 0 {
		out = append(out, outageWords(s))
	}
	for _, q := range r.Quantities {
		if q.Kind != "passed" || q.Of != "" {
			continue
		}
		if q.Given+q.Intervals == 0 {
			out = append(out, fmt.Sprintf("Passed %s: no replicate gave an estimate. %s", q.At, unansweredWords(&q)))
			continue
		}
		off := "no detectable bias"
		if q.Given == 0 {
			off = "given as an interval only"
		} else if q.Given > 1 && math.Abs(q.Bias) > 3*q.BiasSE {
			direction := "high"
			if q.Bias < 0 {
				direction = "low"
			}
			off = fmt.Sprintf("estimated %s points too %s on average", Digits(100*math.Abs(q.Bias), 1), direction)
		}
		line := fmt.Sprintf("Passed %s: true %s, %s", q.At, Percent(q.Truth, 1), off)
		if q.Answerable() > 0 {
			line += fmt.Sprintf("; %s intervals covered the true value in %s of replicates", Percent(s.Level(), 0), Percent(q.Coverage(), 1))
		}
		out = append(out, strings.TrimSpace(line+". "+unansweredWords(&q)))
	}
	return out
}

// outageWords says which rows stood still, how many fish passed meanwhile, and
// whether the fits know.
func outageWords(s *analysis.Simulated) string {
	var rows []string
	var shares []float64
	for _, o := range s.Result.Outages {
		rows, shares = append(rows, o.At), append(shares, 1-o.Share())
	}
	told := "the fits know when."
	if s.Study.Undeclared {
		if told = "the fits are not told."; s.Study.Declared != nil {
			told = "the fits know of the outages that the study declares, not of those of --outage."
		}
	}
	return "Outages: " + worked(rows, shares) + "; " + told
}

// unansweredWords tells of the replicates without an interval of q.
func unansweredWords(q *simulate.Quantity) string {
	var out []string
	if q.Missed > 0 {
		out = append(out, fmt.Sprintf("Counted as not covered: %s without an interval although the data hold information.", Plural(q.Missed, "replicate")))
	}
	if q.Impossible > 0 {
		out = append(out, fmt.Sprintf("Left out: %s whose data hold no information on it.", Plural(q.Impossible, "replicate")))
	}
	return strings.Join(out, " ")
}

func breakerWords(b simulate.Violations) []string {
	var out []string
	share := func(v float64, format string) {
		if v > 0 {
			out = append(out, fmt.Sprintf(format, Percent(v, 1)))
		}
	}
	if b.DetectionSD > 0 {
		out = append(out, fmt.Sprintf("detection differs between fish (standard deviation %s on the logit scale)", Digits(b.DetectionSD, 2)))
	}
	share(b.TagLoss, "%s of tags lost in each reach")
	share(b.HandlingDeath, "%s of the fish dead where they are released")
	share(b.RowsTogether, "rows detect well or badly together in %s of passages")
	share(b.Ghosts, "tags of %s of dead fish drift on")
	if b.Second.Share > 0 {
		out = append(out, fmt.Sprintf("%s of the fish are of a second kind (logit of survival %+.2f, of detection %+.2f)", Percent(b.Second.Share, 0), b.Second.Survival, b.Second.Detection))
	}
	return out
}

// simulateTables: probabilities in percent, then counts of fish and
// coefficients in their own unit.
func simulateTables(all []simulate.Quantity, level float64) []Table {
	table := func(id, title string, digits int, scale float64, kinds ...string) Table {
		kept := slices.DeleteFunc(slices.Clone(all), func(q simulate.Quantity) bool { return !slices.Contains(kinds, q.Kind) })
		t := records(id, wire.SimulatedOf(kept),
			col("estimate", "of").from("kind").key(), col("cohort", "cohort").key(), col("at", "at").key(),
			col("truth", "truth", digits).times(scale), col("bias", "bias", digits+1).times(scale), col("bias_se", "").times(scale),
			col("real_sd", "real SD", digits+1).from("sd").times(scale), col("se", "SE", digits+1).times(scale),
			col("holds_percent", fmt.Sprintf("coverage of %s intervals %%", Percent(level, 0)), 1).from("coverage_percent"),
			col("width", "interval width", digits).times(scale), col("given", "replicates"), col("missed", ""), col("impossible", ""))
		t.Title = title
		if !slices.ContainsFunc(kept, func(q simulate.Quantity) bool { return q.Of != "" }) {
			t.Columns[1].Title = "" // of all fish
		}
		return t
	}
	var out []Table
	for _, t := range []Table{
		table("simulated", "In percent:", 1, 100, "passed", "survival", "detection"),
		table("simulated_fish", "In fish:", 0, 1, "passed fish"),
		table("simulated_coefficients", "On the link scale:", 3, 1, "coefficient"),
	} {
		if len(t.Rows) > 0 {
			out = append(out, t)
		}
	}
	return out
}
