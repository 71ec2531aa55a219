package wire

import (
	"math"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/simulate"
)

// Simulate is the document of `unseen simulate`.
type Simulate struct {
	Head
	Source     string              `json:"source"`
	Breakers   simulate.Breakers   `json:"breakers"`
	Model      string              `json:"model"`
	Level      Number              `json:"level"`
	Seed       uint64              `json:"seed"`
	Replicates int                 `json:"replicates"`
	Failed     map[string]int      `json:"failed"`
	Warned     map[string]int      `json:"warned"`
	Estimates  []SimulatedEstimate `json:"estimates"`
}

// SimulatedEstimate is what became of one estimate over the replicates.
type SimulatedEstimate struct {
	Kind      string `json:"kind"`
	Cohort    string `json:"cohort"`
	At        string `json:"at"`
	Truth     Number `json:"truth"`
	Given     int    `json:"given"`
	Bias      Number `json:"bias"`
	BiasSE    Number `json:"bias_se"`
	SD        Number `json:"sd"`
	SE        Number `json:"se"`
	Intervals int    `json:"intervals"`
	// Missed and Impossible: replicates without an interval though their data
	// could tell, and those whose data could not.
	Missed     int `json:"missed"`
	Impossible int `json:"impossible"`
	// CoveragePercent counts the missed as not covered.
	CoveragePercent Number `json:"coverage_percent"`
	Covered         int    `json:"covered"`
	Low             int    `json:"low"`
	High            int    `json:"high"`
	Width           Number `json:"width"`
}

// none is a number that does not exist.
var none = Number(math.NaN())

// NewSimulate makes the document of a simulation.
func NewSimulate(head Head, s *analysis.Simulated) Simulate {
	r := s.Result
	doc := Simulate{Head: head, Source: s.Truth, Breakers: s.Study.Truth.Breakers, Model: r.Model, Level: Number(s.Level()), Seed: r.Seed,
		Replicates: r.Replicates, Failed: r.Failed, Warned: r.Warned, Estimates: []SimulatedEstimate{}}
	for _, q := range r.Quantities {
		e := SimulatedEstimate{Kind: q.Kind, Cohort: q.Of, At: q.At, Given: q.Given, Intervals: q.Intervals, Missed: q.Missed, Impossible: q.Impossible, Covered: q.Covered, Low: q.Low, High: q.High,
			Truth: none, Bias: none, BiasSE: none, SD: none, SE: none, Width: none, CoveragePercent: none}
		if q.Given+q.Intervals > 0 {
			e.Truth = Number(q.Truth)
		}
		if q.Given > 0 {
			e.Bias, e.SE = Number(q.Bias), Number(q.SE)
		}
		if q.Given > 1 { // one tells no spread
			e.BiasSE, e.SD = Number(q.BiasSE), Number(q.SD)
		}
		if q.Answerable() > 0 {
			e.CoveragePercent = Number(100 * q.Coverage())
		}
		if q.Intervals > 0 {
			e.Width = Number(q.Width)
		}
		doc.Estimates = append(doc.Estimates, e)
	}
	return doc
}
