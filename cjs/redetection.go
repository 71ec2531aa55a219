package cjs

import "example.org/unseen/likelihood"

// SeenAgain gives, for a fish of class g with numbers z (z[0] = 1, as in
// [model.Problem.Z]), the probability under the fit to be seen again from every
// site on, were it alive and at large there. The slice is overwritten by the
// next call; the function is for one goroutine at a time.
func (f *Fit) SeenAgain() func(g int, z []float64) []float64 {
	again := likelihood.NewRedetection(f.design)
	return func(g int, z []float64) []float64 { return again.At(f.X, g, z) }
}
