package view

import (
	"fmt"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history"
)

// AssessPage says whether a model fits: in plain words, then in numbers, with
// every table where they are asked for.
func AssessPage(d *analysis.Fitted, r *assess.Result, covariates []assess.Covariate, tables bool) Page {
	return assessPage(d, r, covariates, tables, true)
}

// BriefAssessPage says so on one screen.
func BriefAssessPage(d *analysis.Fitted, r *assess.Result, covariates []assess.Covariate) Page {
	p := assessPage(d, r, covariates, false, false)
	more := "why a check was not tested, and whether the cohorts are alike"
	if len(covariates) > 0 {
		more += ", detections by fifths of each number"
	}
	p.Sections = append(p.Sections, Section{Notes: []string{"More with --full: " + more + "; with --tables every contingency table."}})
	return p
}

func assessPage(d *analysis.Fitted, r *assess.Result, covariates []assess.Covariate, tables, full bool) Page {
	river := &d.Histories.River
	checks := componentTable(r)
	if !full {
		checks.Notes = nil
	}
	p := newPage(d.Data)
	p.Sections = append(p.Sections,
		Section{Paragraphs: r.Words(), Notes: []string{
			"The model put to the test gives each group of fish its own survival and detection everywhere. " +
				"Where it holds, a simpler one (" + d.Fit.Problem.WordsWithLinks() + ") is judged by `unseen compare`."}},
		Section{Heading: "Checks", Tables: []Table{checks, countsTable(r), InputTable(d.Inputs)}})
	if full && len(covariates) > 0 {
		p.Sections = append(p.Sections, Section{Heading: "Detected again, by fifths of each number", Tables: covariateTables(river, covariates)})
	}
	if full && len(r.Likeness) > 0 {
		s := Section{Heading: "Are the cohorts alike? (a hypothesis, no part of the test)"}
		for i := range r.Likeness {
			if words := r.Likeness[i].Sentence(river); words != "" {
				s.Paragraphs = append(s.Paragraphs, words)
			}
		}
		if s.Paragraphs == nil {
			s.Paragraphs = []string{"Not tested: " + r.Likeness[0].Why + "."}
		}
		p.Sections = append(p.Sections, s)
	}
	if tables {
		s := Section{Heading: "Every table"}
		for i := range r.Tables {
			s.Tables = append(s.Tables, contingency(river, &r.Tables[i]))
		}
		for i := range r.Likeness {
			s.Tables = append(s.Tables, contingency(river, &r.Likeness[i]))
		}
		p.Sections = append(p.Sections, s)
	}
	warnings := append(r.Warnings(), assess.CovariateWarnings(covariates)...)
	if len(warnings) > 0 {
		p.Sections = append(p.Sections, Section{Heading: "Warnings", Tables: []Table{WarningTable(warnings)}, Warnings: warnings})
	}
	return p
}

func componentTable(r *assess.Result) Table {
	t := Table{ID: "checks", Columns: []Column{
		{Name: "check"}, {Name: "name", Title: "check", Key: true},
		{Name: "tables", Title: "tables", Kind: Count},
		{Name: "chi_square", Title: "chi-square", Kind: Number, Digits: 2},
		{Name: "df", Title: "df", Kind: Count},
		{Name: "p", Title: "p", Kind: Number, Digits: 3},
		{Name: "why"},
	}}
	for _, c := range r.Components {
		row := []Cell{T(c.ID), T(c.Name), I(len(c.Tables)), None(), None(), N(c.P), T(c.Why)}
		if c.DF > 0 {
			row[3], row[4] = N(c.Statistic), I(c.DF)
		}
		t.Rows = append(t.Rows, row)
		if c.Why != "" {
			t.Notes = append(t.Notes, Note{Text: "not tested: " + c.Name + " (" + c.Why + ")"})
		}
	}
	total := []Cell{T("total"), T("total"), I(len(r.Tables)), None(), None(), N(r.Total.P), T("")}
	if r.Total.DF > 0 {
		total[3], total[4] = N(r.Total.Statistic), I(r.Total.DF)
	}
	t.Rows = append(t.Rows, total)
	return t
}

// countsTable holds every contingency table in long form, for programs.
func countsTable(r *assess.Result) Table {
	all := append(append([]assess.Table{}, r.Tables...), r.Likeness...)
	ofs := make([][]cjs.Category, len(all))
	for i := range all {
		ofs[i] = all[i].Of
	}
	g := groupsOf(ofs)
	t := Table{ID: "check_tables", CSVOnly: true, Columns: append(append([]Column{{Name: "table", Kind: Count}, {Name: "check"}}, g.columns()...),
		Column{Name: "site"}, Column{Name: "line"}, Column{Name: "column"}, Column{Name: "fish", Kind: Count},
		Column{Name: "method"}, Column{Name: "chi_square", Kind: Number}, Column{Name: "df", Kind: Count}, Column{Name: "p", Kind: Number}, Column{Name: "why"})}
	for i := range all {
		x := &all[i]
		for l, line := range x.Lines {
			for c, column := range x.Columns {
				row := append([]Cell{I(i + 1), T(x.Check)}, g.cells(x.Of)...)
				t.Rows = append(t.Rows, append(row, T(r.River.Sites[x.Site].Name), T(line), T(column), I(x.Counts[l][c]),
					T(x.Method), N(x.Statistic), I(x.DF), N(x.P), T(x.Why)))
			}
		}
	}
	return t
}

// contingency shows one table: past in lines, future in columns.
func contingency(river *history.River, x *assess.Table) Table {
	title := x.Sentence(river)
	if title == "" {
		title = x.Check + " at " + river.Sites[x.Site].Name
		if len(x.Of) > 0 {
			title = Whom(x.Of) + ": " + title
		}
	}
	t := Table{Title: title, Columns: []Column{{Title: "fish", Key: true}}}
	for _, c := range x.Columns {
		t.Columns = append(t.Columns, Column{Title: c, Kind: Count})
	}
	for l, line := range x.Lines {
		row := []Cell{T(line)}
		for _, n := range x.Counts[l] {
			row = append(row, I(n))
		}
		t.Rows = append(t.Rows, row)
	}
	note := x.Why
	if x.Method != "" && note == "" {
		note = fmt.Sprintf("%s %s on %d df, %s", x.Method, Digits(x.Statistic, 2), x.DF, assess.PWords(x.P))
	}
	if note != "" {
		t.Notes = []Note{{Text: note}}
	}
	return t
}

func covariateTables(river *history.River, covariates []assess.Covariate) []Table {
	var names, places []string
	var fifths, of []wire.Quintile
	var sites []wire.FifthAt
	for _, c := range wire.CovariatesOf(river, covariates) {
		for _, q := range c.Quintiles {
			names, fifths = append(names, c.Name), append(fifths, q)
			for _, a := range q.Sites {
				places, of, sites = append(places, c.Name), append(of, q), append(sites, a)
			}
		}
	}
	bySite := records("covariate_sites", sites,
		words("number", "number", func(i int) string { return places[i] }).key(),
		made("low", "from", func(i int) Cell { return N(float64(of[i].Low)) }).kind(Number, 1),
		made("high", "to", func(i int) Cell { return N(float64(of[i].High)) }).kind(Number, 1),
		col("site", "site").key(), col("seen", "detected"), col("expected", "expected", 1), col("sd", "SD", 1),
		col("residual", "difference in SD", 2))
	bySite.CSVOnly = true
	return []Table{records("covariates", fifths,
		words("number", "number", func(i int) string { return names[i] }).key(),
		col("low", "from", 1), col("high", "to", 1), col("fish", "fish"), col("releases", "releases"),
		col("seen_again", "detected again"), col("expected", "expected", 1), col("residual", "difference in SD", 2)), bySite}
}
