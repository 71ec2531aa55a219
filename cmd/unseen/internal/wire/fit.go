package wire

import (
	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

func (h Head) speech() func(string) string { return h.say }

// Data says what the fit rests on.
type Data struct {
	// in the study
	Fish int `json:"fish"`
	// fish released, and put back after a detection
	Releases int      `json:"releases"`
	Cohorts  []string `json:"cohorts"`
	Sites    []Site   `json:"sites"`
	// where every record ended; null without sightings
	Accounting *history.Accounting `json:"accounting"`
	// what the reading noticed
	Findings []history.Finding `json:"findings"`
}

// Model is the model that was fitted.
type Model struct {
	Name string `json:"name"`
	// terms in canonical form
	Survival string `json:"survival"`
	// terms in canonical form
	Detection     string `json:"detection"`
	SurvivalLink  string `json:"survival_link"`
	DetectionLink string `json:"detection_link"`
	Drift         string `json:"drift,omitempty"`  // terms of drift, while the season runs
	Spread        string `json:"spread,omitempty"` // terms of spread, while the season runs
	// terms of the share that rests after release, where the model has one
	Rest string `json:"rest,omitempty"`
}

// Measures are what the fit says of itself.
type Measures struct {
	MinusTwoLogLikelihood Number `json:"minus_two_log_likelihood"`
	// columns of the design
	Parameters int `json:"parameters"`
	// how many of them the design identifies, whatever the data
	Estimable int `json:"estimable"`
	// how many these data identify
	EstimableHere int `json:"estimable_here"`
	// Akaike's criterion for small samples; with a variance inflation its quasi form
	AICc Number `json:"aicc"`
	// releases and re-releases above the last site
	EffectiveSample   int         `json:"effective_sample"`
	VarianceInflation Number      `json:"variance_inflation"`
	Verdict           cjs.Verdict `json:"verdict"`
	// in standard errors
	DistanceToMaximumSE Number `json:"distance_to_maximum_se"`
	Iterations          int    `json:"iterations"`
}

// Interval says how intervals were made.
type Interval struct {
	// as asked for: auto, logit, profile or bootstrap; every estimate has its own
	Method string `json:"method"`
	Level  Number `json:"level"`
}

// Retention are fish held to see whether their tags stay in.
type Retention struct {
	// fish held
	Held int `json:"held"`
	// of these, with their tag at the end
	Kept int `json:"kept"`
}

func retention(f *cjs.Fit) *Retention {
	r := f.Options.Retention
	if r.Held == 0 {
		return nil
	}
	return &Retention{r.Held, r.Kept}
}

// Fit is the document of `unseen fit`.
type Fit struct {
	Head
	// fish, releases, cohorts, sites, where every record ended
	Data Data `json:"data"`
	// the model fitted
	Model Model `json:"model"`
	// measures of the fit, and its verdict
	Fit Measures `json:"fit"`
	// method and level of the intervals
	Interval Interval `json:"interval"`
	// on the link scale, estimates in the unit of the column; null with status boundary where
	// one goes to infinity
	Coefficients []Coefficient `json:"coefficients"`
	// of the coefficients in their order, numbers of the fish standardised
	Covariance [][]Number `json:"covariance"`
	// probability to reach the end of a reach alive and still migrating, given alive at
	// its start
	Survival []Survival `json:"survival"`
	// probability that a passing fish is detected, at full work; row is left out for an
	// undivided site and for the whole of a divided one
	Detection []Detection `json:"detection"`
	Working   []Working   `json:"working"` // rows that did not work all the time; else empty
	// survival × detection, where only the product is identifiable
	Inseparable []Product `json:"inseparable"`
	// by site and group, in percent and in fish
	Passed []Passed `json:"passed"`
	// fish held to see whether tags stay in; null where the study has none
	Retention *Retention `json:"retention"`
	// whether neighbouring rows of a site detect fish independently, on fish detected
	// downstream
	RowTests []RowTest `json:"row_tests"`
	// migration rate and spread, while the season runs or where a row did not work all the
	// time, else empty; from and to where stretches have laws of their own
	Movement []Movement `json:"movement"`
	// the estimates when every fish not re-detected is assumed dead or missed;
	// null when the season is over
	SeasonOver *SeasonOver `json:"were_the_season_over"`
	// curves over the observed range of each number, ratios, survival per length, relative
	// survival of cohorts
	Effects Effects `json:"effects"`
	// with a single site: passed % by assumed detection; else null
	OneSite *OneSite `json:"one_site"`
	// the replicates (fit --interval bootstrap); else null
	Bootstrap *Bootstrap `json:"bootstrap"`
	// how sensitive the answer is (fit --what-if); null unless asked
	WhatIf *WhatIf `json:"what_if"`
	// what other optimisers say of the fit (fit --second-opinion); null unless asked
	Opinion []Opinion `json:"second_opinion" schema:"null"`
	// all, most serious first
	Warnings []Warning `json:"warnings"`
}

// NewFit makes the document of a fit.
func NewFit(head Head, d *analysis.Fitted) Fit {
	f, h := d.Fit, d.Histories
	river := &h.River
	doc := Fit{
		Head:         head,
		Data:         Data{Fish: h.Fish(), Cohorts: h.Cohorts, Sites: sites(river), Accounting: accounting(d.Data), Findings: list(d.Findings)},
		Model:        fitModel(f),
		Fit:          measures(f),
		Interval:     Interval{f.Options.Interval, Number(f.Options.Level)},
		Coefficients: CoefficientsOf(f.Coefficients),
		Covariance:   covariance(f),
		Survival:     SurvivalOf(river, f.Survival),
		Detection:    DetectionOf(river, f.Detection),
		Working:      WorkingOf(river, f.Working),
		Inseparable:  ProductsOf(river, f.Products),
		Passed:       PassedOf(river, f.Passed),
		Retention:    retention(f),
		RowTests:     RowTestsOf(river, f.RowTests),
		Movement:     MovementsOf(river, f.Movement),
		SeasonOver:   seasonOver(river, d.Plain),
		Effects:      EffectsOf(river, d.Effects),
		OneSite:      oneSite(river, f.OneSite),
		WhatIf:       whatIf(river, d.WhatIf),
		Opinion:      OpinionsOf(d.Opinion),
		Bootstrap:    bootstrap(d.Replicates, d.Bootstrap, f.Options.Level),
		Warnings:     WarningsOf(f.Warnings),
	}
	for _, n := range h.NextSeen() {
		doc.Data.Releases += n.Released
	}
	return doc
}

func covariance(f *cjs.Fit) [][]Number {
	n := f.Parameters
	out := make([][]Number, n)
	for i := range out {
		out[i] = numbers(f.Covariance[i*n : (i+1)*n])
	}
	return out
}

func accounting(d *analysis.Data) *history.Accounting {
	if !d.HasSightings() {
		return nil
	}
	return boxes(d.Accounting)
}

func boxes(a history.Accounting) *history.Accounting {
	a.SetAside = list(a.SetAside)
	return &a
}

func specModel(s model.Spec) Model {
	return Model{s.Name, s.Survival, s.Detection, s.Link(model.Survival), s.Link(model.Detection), s.Drift, s.Spread, s.Rest}
}

func fitModel(f *cjs.Fit) Model { return specModel(f.Problem.Canonical()) }

func measures(f *cjs.Fit) Measures {
	return Measures{Number(f.MinusTwoLogLikelihood), f.Parameters, f.Estimable, f.EstimableHere, Number(f.AICc),
		f.EffectiveSample, Number(f.Options.VarianceInflation), f.Verdict, Number(f.Distance), f.Iterations}
}
