package wire

import (
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/history"
)

// Assess is the document of `unseen assess`.
type Assess struct {
	Head
	// the one put to the test
	Model Model    `json:"model"`
	Words []string `json:"words" schema:"words"` // what the checks found, in plain words
	// statistic, df and p of each check
	Checks []CheckSum `json:"checks"`
	// of all checks together
	Total Sum `json:"total"`
	// chi-square over df, at least 1; null where nothing could be tested
	VarianceInflation Number `json:"variance_inflation"`
	// whether numbers of the fish were not allowed for
	BeforeCovariates bool `json:"before_covariates"`
	// how many tables count
	Tested     int `json:"tables_tested"`
	Below      int `json:"tables_below"`      // of the tested: p < 0.05
	BelowLevel int `json:"tables_below_0.05"` // the same, by its older name
	// how many chance alone would bring below 0.05
	ByChance Number `json:"expected_by_chance"`
	// fish split by their past in lines, by their future in columns
	Tables []ContingencyTable `json:"tables"`
	// cohorts compared: a hypothesis, no part of the total
	Likeness []ContingencyTable `json:"likeness"`
	// observed minus expected, by fifths of each number
	Covariates []CovariateFit `json:"covariates"`
	// docs/checks.md explains each
	Warnings []Warning `json:"warnings"`
}

// Sum is the statistic of several tables together.
type Sum struct {
	ChiSquare Number `json:"chi_square"`
	DF        int    `json:"df"`
	P         Number `json:"p"`
}

// CheckSum is one check over all sites and groups.
type CheckSum struct {
	ID   string `json:"id"`
	Name string `json:"name" schema:"words"`
	Sum
	Why string `json:"why" schema:"words"` // why it was not tested
}

// ContingencyTable is fish split by their past in lines, by their future in columns.
type ContingencyTable struct {
	Check   string   `json:"check"`
	Of      Of       `json:"of"`
	Site    string   `json:"site"`
	Lines   []string `json:"lines" schema:"words"`
	Columns []string `json:"columns" schema:"words"`
	Counts  [][]int  `json:"counts"`
	Tested  [][]int  `json:"tested"` // as pooled; empty where nothing was tested
	Method  string   `json:"method"`
	Sum
	Counted bool   `json:"counted"`
	Why     string `json:"why" schema:"words"`
	Words   string `json:"words" schema:"words"`
	// Allowance is how the table allows for rows that did not always work.
	Allowance string `json:"allowance" schema:"enum=|like-times|at-work"`
}

// CovariateFit is a number of the fish with observed and expected by its fifths.
type CovariateFit struct {
	Name      string     `json:"name"`
	Missing   int        `json:"missing"`
	Quintiles []Quintile `json:"quintiles"`
}

// Quintile is a fifth of the fish.
type Quintile struct {
	Low       Number `json:"low"`
	High      Number `json:"high"`
	Fish      int    `json:"fish"`
	Releases  int    `json:"releases"`
	SeenAgain int    `json:"seen_again"`
	Expected  Number `json:"expected"`
	Residual  Number `json:"residual"`
	// Sites are the sites below the first: seen_again and expected taken apart by
	// where a fish was next seen.
	Sites []FifthAt `json:"sites"`
}

// FifthAt is a fifth of the fish at a site.
type FifthAt struct {
	Site     string `json:"site"`
	Seen     int    `json:"seen"`
	Expected Number `json:"expected"`
	SD       Number `json:"sd"`   // of seen, were the fit the truth
	Low      Number `json:"low"`  // from here
	High     Number `json:"high"` // to here chance alone leaves about 95 % of the counts
	Residual Number `json:"residual"`
}

// NewAssess makes the document.
func NewAssess(head Head, d *analysis.Fitted, r *assess.Result, covariates []assess.Covariate) Assess {
	river := &d.Histories.River
	doc := Assess{Head: head, Model: fitModel(d.Fit), Words: list(r.Words()), Total: sum(r.Total), VarianceInflation: none,
		BeforeCovariates: r.BeforeCovariates, Tested: r.Tested, Below: r.BelowLevel, BelowLevel: r.BelowLevel, ByChance: Number(r.ByChance),
		Tables: contingencies(river, r.Tables), Likeness: contingencies(river, r.Likeness),
		Warnings: WarningsOf(append(r.Warnings(), assess.CovariateWarnings(covariates)...))}
	if factor, ok := r.VarianceInflation(); ok {
		doc.VarianceInflation = Number(factor)
	}
	doc.Checks = each(r.Components, func(c assess.Component) CheckSum { return CheckSum{c.ID, c.Name, sum(c.Sum), c.Why} })
	doc.Covariates = CovariatesOf(river, covariates)
	return doc
}

// CovariatesOf are the numbers of the fish by their fifths.
func CovariatesOf(river *history.River, covariates []assess.Covariate) []CovariateFit {
	return each(covariates, func(c assess.Covariate) CovariateFit {
		return CovariateFit{c.Name, c.Missing, each(c.Quintiles, func(q assess.Quintile) Quintile {
			return Quintile{Number(q.Low), Number(q.High), q.Fish, q.Releases, q.SeenAgain, Number(q.Expected), Number(q.Residual()),
				each(q.Sites, func(a assess.SeenAt) FifthAt {
					low, high := a.Chance()
					return FifthAt{river.Sites[a.Site].Name, a.Seen, Number(a.Expected), Number(a.SE), Number(low), Number(high), Number(a.Residual())}
				})}
		})}
	})
}

func sum(s assess.Sum) Sum { return Sum{Number(s.Statistic), s.DF, Number(s.P)} }

func contingencies(river *history.River, in []assess.Table) []ContingencyTable {
	return each(in, func(t assess.Table) ContingencyTable {
		x := ContingencyTable{Check: t.Check, Of: of(t.Of), Site: river.Sites[t.Site].Name, Lines: t.Lines, Columns: t.Columns,
			Counts: t.Counts, Tested: [][]int{}, Method: t.Method, Sum: Sum{Number(t.Statistic), t.DF, Number(t.P)},
			Counted: t.Counted, Why: t.Why, Words: t.Sentence(river), Allowance: t.Allowance}
		if t.Pooled != nil {
			x.Tested = list(t.Tested())
		}
		return x
	})
}
