package wire

import (
	"example.org/unseen/cjs/replicate"
)

// Bootstrap is what replicates say of a fit.
type Bootstrap struct {
	Method     string         `json:"method" schema:"enum=parametric|by fish"`
	Seed       uint64         `json:"seed"`
	Level      float64        `json:"level"`
	Replicates int            `json:"replicates"`
	Failed     map[string]int `json:"failed"` // replicates without estimates, by why
	// null where fish differ by numbers: there is no saturated model
	Deviance *SimulatedDeviance `json:"deviance"`
	// bias and standard error over the replicates, percentile and bias-corrected intervals
	Estimates []ReplicateEstimate `json:"estimates"`
}

// SimulatedDeviance sets the deviance of a fit among simulated ones.
type SimulatedDeviance struct {
	Value         float64 `json:"value"`
	SimulatedMean Number  `json:"simulated_mean"`
	P             Number  `json:"p"`
}

// ReplicateEstimate is what replicates say of one estimate.
type ReplicateEstimate struct {
	Name          string `json:"name"`
	Estimate      Number `json:"estimate"`
	Given         int    `json:"given"`
	Bias          Number `json:"bias"`
	SE            Number `json:"se"`
	Low           Number `json:"low"`
	High          Number `json:"high"`
	CorrectedLow  Number `json:"corrected_low"`
	CorrectedHigh Number `json:"corrected_high"`
}

func bootstrap(s *replicate.Set, sum *replicate.Summary, level float64) *Bootstrap {
	if s == nil {
		return nil
	}
	b := &Bootstrap{Method: s.Method, Seed: s.Seed, Level: level, Replicates: sum.Replicates, Failed: sum.Failed}
	if sum.Deviance == sum.Deviance {
		b.Deviance = &SimulatedDeviance{sum.Deviance, Number(sum.MeanDeviance), Number(sum.P)}
	}
	b.Estimates = ReplicatesOf(sum.Estimates)
	return b
}

// ReplicatesOf is what replicates say of each estimate.
func ReplicatesOf(in []replicate.Estimate) []ReplicateEstimate {
	return each(in, func(e replicate.Estimate) ReplicateEstimate {
		return ReplicateEstimate{e.Name, Number(e.Value), e.Given, Number(e.Bias), Number(e.SE),
			Number(e.Low), Number(e.High), Number(e.CorrectedLow), Number(e.CorrectedHigh)}
	})
}

// Merge is the document of `unseen merge`.
type Merge struct {
	Head
	// of the data that all parts share
	Data string `json:"data_sha256"`
	// of the model that all parts share
	ModelSHA string `json:"model_sha256"`
	// in words
	Model     string    `json:"model"`
	Bootstrap Bootstrap `json:"bootstrap"` // what the replicates say
}

// NewMerge makes the document of merged replicates.
func NewMerge(head Head, s *replicate.Set, sum *replicate.Summary, level float64) Merge {
	return Merge{head, s.Data, s.Model, s.Words, *bootstrap(s, sum, level)}
}
