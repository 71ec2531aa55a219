package cjs

// FishInterval is the interval of a number of fish that passed a site: known
// are known to have, and of unknown others passing are expected to, se their
// standard error. It is that of the share passing of the unknown (see
// [Interval]), so that it never goes below the known nor above all. Where that
// share is 0 or 1 and so has no such interval, low and high are NaN.
func FishInterval(known, unknown, passing, se, z float64) (low, high float64, method string) {
	if unknown == 0 {
		return known, known, "counted"
	}
	share := passing / unknown
	if !(share > 0 && share < 1) {
		e := NoEstimate(Absent)
		return e.Low, e.High, ""
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
