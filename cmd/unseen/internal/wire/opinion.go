package wire

import "example.org/unseen/cjs/opinion"

// Opinion is what one other optimiser says of the fit.
type Opinion struct {
	Method string `json:"method"`
	// LeftOut says why it was not used, or is "".
	LeftOut string `json:"left_out"`
	Starts  int    `json:"starts"`
	// Reached the best of all, the fit included; Failed came to no value.
	Reached               int       `json:"reached"`
	Failed                int       `json:"failed"`
	Evaluations           int       `json:"evaluations"`
	MinusTwoLogLikelihood BestWorst `json:"minus_two_log_likelihood"`
	// How far the estimates of the runs that reached the best are from the
	// fit's: in standard errors, and in percentage points where at a bound.
	LargestDifferenceSE      Number `json:"largest_difference_se"`
	LargestDifferencePercent Number `json:"largest_difference_percent"`
}

// BestWorst are −2 ln L where the runs ended.
type BestWorst struct {
	Best  Number `json:"best"`
	Worst Number `json:"worst"`
}

// opinions is nil, which is null, when nobody was asked.
func opinions(r *opinion.Result) []Opinion {
	if r == nil {
		return nil
	}
	out := make([]Opinion, len(r.Methods))
	for i, m := range r.Methods {
		out[i] = Opinion{m.Name, m.LeftOut, m.Starts, m.Reached, m.Failed, m.Evaluations,
			BestWorst{Number(m.Best), Number(m.Worst)}, Number(m.DifferenceSE), Number(m.DifferencePercent)}
	}
	return out
}
