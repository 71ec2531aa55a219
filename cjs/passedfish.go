package cjs

// leastUnseen: of the share of the unknown that passed the logit tells nothing
// where a binomial of the same share and standard error would have fewer than
// this on the rarer side.
const leastUnseen = 1

// FishInterval is the interval of a number of fish that passed a site: known
// are known to have, and of unknown others passing are expected to, se their
// standard error. It is that of the share passing of the unknown (see
// [Interval]), so that it never goes below the known nor above all; where that
// share is too near 0 or 1 for its logit, z standard errors wide within the same
// ends. Where the share is 0 or 1 there is none: low and high are NaN.
func FishInterval(known, unknown, passing, se, z float64) (low, high float64, method string) {
	if unknown == 0 {
		return known, known, "counted"
	}
	share := passing / unknown
	if !(share > 0 && share < 1) {
		e := NoEstimate(Absent)
		return e.Low, e.High, ""
	}
	if n := share * (1 - share) / (se * se / (unknown * unknown)); n*min(share, 1-share) < leastUnseen {
		return known + max(0, passing-z*se), known + min(unknown, passing+z*se), "wald"
	}
	low, high, method = Interval(share, se/unknown, z)
	return known + unknown*low, known + unknown*high, method
}

// FishShare is a number of fish that passed as a share of those released.
func FishShare(fish Estimate, released int) Estimate {
	n := float64(released)
	fish.Value, fish.SE, fish.Low, fish.High = fish.Value/n, fish.SE/n, fish.Low/n, fish.High/n
	return fish
}
