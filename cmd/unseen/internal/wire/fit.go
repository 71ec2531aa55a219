package wire

import (
	"time"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cmd/unseen/internal/session"
	"example.org/unseen/history"
)

// Head begins every document.
type Head struct {
	Kind    string          `json:"kind"`
	Version int             `json:"version"`
	Program Program         `json:"program"`
	Title   string          `json:"title"`
	Inputs  []history.Input `json:"inputs"`
	AsOf    *string         `json:"as_of"`
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
	// Terms of movement, while the season runs.
	Drift  string `json:"drift,omitempty"`
	Spread string `json:"spread,omitempty"`
	Rest   string `json:"rest,omitempty"`
}

// Measures are what the fit says of itself.
type Measures struct {
	MinusTwoLogLikelihood Number `json:"minus_two_log_likelihood"`
	Parameters            int    `json:"parameters"`
	Estimable             int    `json:"estimable"`
	EstimableHere         int    `json:"estimable_here"`
	AICc                  Number `json:"aicc"`
	EffectiveSample       int    `json:"effective_sample"`
	VarianceInflation     Number `json:"variance_inflation"`
	Verdict               string `json:"verdict"`
	DistanceToMaximumSE   Number `json:"distance_to_maximum_se"`
	Iterations            int    `json:"iterations"`
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
	Coefficients []Coefficient `json:"coefficients"`
	Covariance   [][]Number    `json:"covariance"`
	Survival     []Survival    `json:"survival"`
	Detection    []Detection   `json:"detection"`
	Inseparable  []Product     `json:"inseparable"`
	Passed       []Passed      `json:"passed"`
	Retention    *Retention    `json:"retention"`
	RowTests     []RowTest     `json:"row_tests"`
	// Movement and SeasonOver are there while the season runs.
	Movement   []Movement  `json:"movement"`
	SeasonOver *SeasonOver `json:"were_the_season_over"`
	Effects    Effects     `json:"effects"`
	OneSite    *OneSite    `json:"one_site"`
	Bootstrap  *Bootstrap  `json:"bootstrap"`
	WhatIf     *WhatIf     `json:"what_if"`
	Opinion    []Opinion   `json:"second_opinion"`
	Warnings   []Warning   `json:"warnings"`
}

func sites(river *history.River) []Site {
	out := make([]Site, len(river.Sites))
	for i, s := range river.Sites {
		out[i] = Site{s.Name, Number(s.Km), list(s.Rows)}
	}
	return out
}

// NewHead begins a document of the given kind: "fit", "histories", "check".
func NewHead(kind, version string, d *session.Data) Head {
	h := Head{Kind: "unseen/" + kind, Version: 1, Program: Program{version}, Title: d.Study.Title, Inputs: list(d.Inputs)}
	if t := d.Study.AsOf; !t.IsZero() {
		s := t.UTC().Format(time.RFC3339)
		h.AsOf = &s
	}
	return h
}

// NewFit makes the document of a fit.
func NewFit(head Head, d *session.Fitted) Fit {
	f, h := d.Fit, d.Histories
	river := &h.River
	doc := Fit{
		Head:         head,
		Data:         Data{Fish: h.Fish(), Cohorts: h.Cohorts, Sites: sites(river), Accounting: accounting(d.Data), Findings: list(d.Findings)},
		Model:        fitModel(f),
		Fit:          measures(f),
		Interval:     Interval{f.Options.Interval, Number(f.Options.Level)},
		Coefficients: coefficients(f.Coefficients),
		Covariance:   covariance(f),
		Survival:     survivals(river, f.Survival),
		Detection:    detections(river, f.Detection),
		Inseparable:  products(river, f.Products),
		Passed:       passed(river, f.Passed),
		Retention:    retention(f),
		RowTests:     rowTests(river, f.RowTests),
		Movement:     movements(f.Movement),
		SeasonOver:   seasonOver(river, d.Plain),
		Effects:      effects(river, d.Effects),
		OneSite:      oneSite(river, f.OneSite),
		WhatIf:       whatIf(river, d.WhatIf),
		Opinion:      opinions(d.Opinion),
		Bootstrap:    bootstrap(d.Replicates, d.Bootstrap, f.Options.Level),
		Warnings:     warnings(f.Warnings),
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
		out[i] = make([]Number, n)
		for j := range out[i] {
			out[i][j] = Number(f.Covariance[i*n+j])
		}
	}
	return out
}

func accounting(d *session.Data) *history.Accounting {
	if !d.HasSightings() {
		return nil
	}
	a := d.Accounting
	a.SetAside = list(a.SetAside)
	return &a
}

func specModel(s model.Spec) Model {
	return Model{s.Name, s.Survival, s.Detection, s.Link(model.Survival), s.Link(model.Detection), s.Drift, s.Spread, s.Rest}
}

func fitModel(f *cjs.Fit) Model { return specModel(f.Problem.Canonical()) }

func measures(f *cjs.Fit) Measures {
	return Measures{Number(f.MinusTwoLogLikelihood), f.Parameters, f.Estimable, f.EstimableHere, Number(f.AICc),
		f.EffectiveSample, Number(f.Options.VarianceInflation), string(f.Verdict), Number(f.Distance), f.Iterations}
}
