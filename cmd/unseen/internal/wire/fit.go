package wire

import (
	"time"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// Version of all documents. It is raised where a field changes its meaning or
// goes, not where one is added.
const Version = 1

// Head begins every document.
type Head struct {
	Kind    string          `json:"kind"`
	Version int             `json:"version"`
	Program Program         `json:"program"`
	Title   string          `json:"title"`
	Inputs  []history.Input `json:"inputs"` // every file that was read
	// the moment up to which data count (ISO 8601); null when the season is over
	AsOf *string `json:"as_of" schema:"time"`
}

// Program names the program that wrote the document.
type Program struct {
	Version string `json:"version"`
}

// Data says what the fit rests on.
type Data struct {
	Fish       int                 `json:"fish"`
	Releases   int                 `json:"releases"`
	Cohorts    []string            `json:"cohorts"`
	Sites      []Site              `json:"sites"`
	Accounting *history.Accounting `json:"accounting"`
	Findings   []history.Finding   `json:"findings"`
}

// Site is a site of the river.
type Site struct {
	Name string   `json:"name"`
	Km   Number   `json:"km"`
	Rows []string `json:"rows"`
}

// Model is the model that was fitted.
type Model struct {
	Name          string `json:"name"`
	Survival      string `json:"survival"`
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
	MinusTwoLogLikelihood Number      `json:"minus_two_log_likelihood"`
	Parameters            int         `json:"parameters"`
	Estimable             int         `json:"estimable"`
	EstimableHere         int         `json:"estimable_here"`
	AICc                  Number      `json:"aicc"`
	EffectiveSample       int         `json:"effective_sample"`
	VarianceInflation     Number      `json:"variance_inflation"`
	Verdict               cjs.Verdict `json:"verdict"`
	DistanceToMaximumSE   Number      `json:"distance_to_maximum_se"`
	Iterations            int         `json:"iterations"`
}

// Interval says how intervals were made.
type Interval struct {
	Method string `json:"method"`
	Level  Number `json:"level"`
}

// Retention are fish held to see whether their tags stay in.
type Retention struct {
	Held int `json:"held"`
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
	Data         Data          `json:"data"`
	Model        Model         `json:"model"`
	Fit          Measures      `json:"fit"`
	Interval     Interval      `json:"interval"`
	Coefficients []Coefficient `json:"coefficients"` // on the link scale, in the columns' own units
	Covariance   [][]Number    `json:"covariance"`   // of the coefficients, in their order
	// probability to reach the end of a reach alive and still migrating, given alive at
	// its start
	Survival []Survival `json:"survival"`
	// probability that a passing fish is sighted; row is left out for an undivided site
	// and for the whole of a divided one
	Detection   []Detection `json:"detection"`
	Working     []Working   `json:"working"`     // rows that did not work all the time; else empty
	Inseparable []Product   `json:"inseparable"` // survival × detection that cannot be taken apart
	Passed      []Passed    `json:"passed"`      // in percent, and in fish
	Retention   *Retention  `json:"retention"`
	// whether neighbouring rows of a site detect fish independently, on fish seen farther
	// down
	RowTests []RowTest `json:"row_tests"`
	// how the fish move, while the season runs or where a row did not work all the time;
	// else empty
	Movement []Movement `json:"movement"`
	// the estimates when every fish not re-detected is assumed dead or missed;
	// null when the season is over
	SeasonOver *SeasonOver `json:"were_the_season_over"`
	Effects    Effects     `json:"effects"`
	// what one site alone can say: the percentage passed for supposed detections; null
	// with more
	OneSite   *OneSite   `json:"one_site"`
	Bootstrap *Bootstrap `json:"bootstrap"` // what replicates say (fit --interval bootstrap)
	// what the answer hangs on (fit --what-if); null unless asked
	WhatIf *WhatIf `json:"what_if"`
	// what other optimisers say of the fit (fit --second-opinion); null unless asked
	Opinion  []Opinion `json:"second_opinion" schema:"null"`
	Warnings []Warning `json:"warnings"`
}

func sites(river *history.River) []Site {
	return each(river.Sites, func(s history.Site) Site { return Site{s.Name, Number(s.Km), list(s.Rows)} })
}

// NewHead begins a document of the given kind: "fit", "histories", "check".
func NewHead(kind, version string, from analysis.Source) Head {
	h := Head{Kind: "unseen/" + kind, Version: Version, Program: Program{version}, Title: from.Title, Inputs: list(from.Inputs)}
	if t := from.AsOf; !t.IsZero() {
		s := t.UTC().Format(time.RFC3339)
		h.AsOf = &s
	}
	return h
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
