package wire

import "example.org/unseen/cjs/opinion"

// Opinion is what one other optimiser says of the fit.
type Opinion struct {
	Method  string `json:"method"`                  // Newton, BFGS or Nelder–Mead
	LeftOut string `json:"left_out" schema:"words"` // why the method was not used, or empty
	Starts  int    `json:"starts"`
	// runs that ended within 0.00001 of the lowest −2 ln L of all, the fit included
	Reached               int       `json:"reached"`
	Failed                int       `json:"failed"`                   // runs that came to no value
	Evaluations           int       `json:"evaluations"`              // evaluations of the log-likelihood in all runs
	MinusTwoLogLikelihood BestWorst `json:"minus_two_log_likelihood"` // where the runs ended
	// of a passed share, survival, detection or product from the fit's, in its standard
	// errors, over the runs that reached the best
	LargestDifferenceSE Number `json:"largest_difference_se"`
	// likewise of those at 0 or 1, which have no standard error, in percentage points
	LargestDifferencePercent Number `json:"largest_difference_percent"`
}

// BestWorst are −2 ln L where the runs ended.
type BestWorst struct {
	Best  Number `json:"best"`
	Worst Number `json:"worst"`
}

// opinions is nil, which is null, when nobody was asked.
func OpinionsOf(r *opinion.Result) []Opinion {
	if r == nil {
		return nil
	}
	return each(r.Methods, func(m opinion.Method) Opinion {
		return Opinion{m.Name, m.LeftOut, m.Starts, m.Reached, m.Failed, m.Evaluations,
			BestWorst{Number(m.Best), Number(m.Worst)}, Number(m.DifferenceSE), Number(m.DifferencePercent)}
	})
}
