package cjs

// WarnAgain looks over f anew, as after a fit: for tests that spoil a finished
// fit to see what is said of it.
func (f *Fit) WarnAgain() {
	f.Warnings = nil
	f.warn()
}

// Accuse says that a profile met a better point than f, at x.
func (f *Fit) Accuse(x []float64) {
	f.accused = x
	f.warnAccused()
}
