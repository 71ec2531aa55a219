package cjs

import "example.org/unseen/likelihood"

// Objective is the log-likelihood that f maximises, as a function of the
// coefficients of Problem.Design: nothing is at a bound there. Each is for one
// goroutine at a time.
func (f *Fit) Objective() likelihood.Objective {
	return likelihood.NewCJS(f.Problem.Design, f.data)
}

// Starts are the starts the search has without [Options.Start], the first of
// them near the closed form.
func (f *Fit) Starts() [][]float64 {
	return append([][]float64{startValues(f.Problem)}, otherStarts(f.Problem)...)
}

// Quantities are what [Fit.Watched] are the values of, in that order, as
// functions of the coefficients of Problem.Design; fish that differ in their
// numbers each have a part in what passed.
func (f *Fit) Quantities() []likelihood.Quantity {
	fresh, _ := f.fishGroups()
	var out []likelihood.Quantity
	f.watch(func(w Watched) {
		if w.Kind != "passed" {
			out = append(out, f.quantity(w))
			return
		}
		var gr group
		for g := range f.Problem.Classes {
			if f.belongs(g, w.Of) {
				gr.classes = append(gr.classes, g)
			}
		}
		out = append(out, *meanQuantity(&gr, fresh, w.Site, f.above(w.Site)))
	})
	return out
}
