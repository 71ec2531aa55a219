package wire

import (
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
	Warnings     []Warning     `json:"warnings"`
}

func sites(river *history.River) []Site {
	out := make([]Site, len(river.Sites))
	for i, s := range river.Sites {
		out[i] = Site{s.Name, Number(s.Km), list(s.Rows)}
	}
	return out
}
