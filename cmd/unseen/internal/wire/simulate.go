package wire

import (
	"math"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/simulate"
)

// Simulate is the document of `unseen simulate`.
type Simulate struct {
	Head
	Source     string              `json:"source" schema:"words"` // the truth of the simulation
	Violations simulate.Violations `json:"breakers"`              // assumptions that were broken; zero breaks none
	// fitted to each replicate
	Model string `json:"model"`
	// of the intervals
	Level float64 `json:"level"`
	// of the random numbers
	Seed uint64 `json:"seed"`
	// how many were asked for
	Replicates int            `json:"replicates"`
	Failed     map[string]int `json:"failed"` // replicates without an answer, by why
	Warned     map[string]int `json:"warned"` // replicates with each warning
	// bias, standard error, coverage and width of each
	Estimates []SimulatedEstimate `json:"estimates"`
	// rows that did not work all the time
	Outages []SimulatedOutage `json:"outages"`
}

// SimulatedOutage is a row that did not work all the time.
type SimulatedOutage struct {
	At string `json:"at"` // the site, or the row of one
	// of the passages there, of living fish in all replicates, for which the row worked
	SharePercent Number `json:"share_percent"`
	// the fits know of all times at which it did not work
	Declared bool `json:"declared"`
}

// SimulatedEstimate is what became of one estimate over the replicates.
type SimulatedEstimate struct {
	Kind      string `json:"kind" schema:"enum=survival|detection|passed|passed fish|coefficient"`
	Cohort    string `json:"cohort"` // "" for all fish
	At        string `json:"at"`
	Truth     Number `json:"truth"`
	Given     int    `json:"given"` // replicates with an estimate
	Bias      Number `json:"bias"`
	BiasSE    Number `json:"bias_se"`
	SD        Number `json:"sd"`        // real spread of estimate − truth
	SE        Number `json:"se"`        // root mean square of the standard errors
	Intervals int    `json:"intervals"` // replicates with an interval
	// replicates without an interval although their data hold information on the value
	// (those that failed included); they count as not covered
	Missed int `json:"missed"`
	// replicates without an interval whose data hold no information on the value; they do
	// not count
	Impossible      int    `json:"impossible"`
	CoveragePercent Number `json:"coverage_percent"` // 100 × covered / (intervals + missed)
	Covered         int    `json:"covered"`          // intervals that contain the true value
	Low             int    `json:"low"`              // intervals wholly below it
	High            int    `json:"high"`             // intervals wholly above it
	Width           Number `json:"width"`
}

// none is a number that does not exist.
var none = Number(math.NaN())

// NewSimulate makes the document of a simulation.
func NewSimulate(head Head, s *analysis.Simulated) Simulate {
	r := s.Result
	return Simulate{head, s.Truth, s.Study.Truth.Violations, r.Model, s.Level(), r.Seed,
		r.Replicates, r.Failed, r.Warned, SimulatedOf(r.Quantities), OutagesOf(s)}
}

// OutagesOf is the rows that did not work all the time.
func OutagesOf(s *analysis.Simulated) []SimulatedOutage {
	return each(s.Result.Outages, func(o simulate.Outage) SimulatedOutage {
		return SimulatedOutage{o.At, Number(100 * (1 - o.Share())), s.Study.Knows(o.At)}
	})
}

// SimulatedOf is what became of each estimate.
func SimulatedOf(in []simulate.Quantity) []SimulatedEstimate { return each(in, simulated) }

func simulated(q simulate.Quantity) SimulatedEstimate {
	e := SimulatedEstimate{Kind: q.Kind, Cohort: q.Of, At: q.At, Given: q.Given, Intervals: q.Intervals, Missed: q.Missed, Impossible: q.Impossible,
		Covered: q.Covered, Low: q.Low, High: q.High,
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
	return e
}
