package likelihood

// Redetection gives the probability to be seen again from every site on.
type Redetection struct {
	design *Design
	chain  *chain
	p      []float64
}

// NewRedetection is for fish under design d. It is for one goroutine at a time.
func NewRedetection(d *Design) *Redetection {
	return &Redetection{d, newChain(d.Layout), make([]float64, d.Layout.Sites())}
}

// At is 1 − χ_k for every site k, that a fish of class g with numbers z, alive
// at k, is seen at least once below it; 0 at the last site. The slice is
// overwritten by the next call.
func (a *Redetection) At(x []float64, g int, z []float64) []float64 {
	a.chain.set(a.design, x, g, z)
	l := a.design.Layout
	for k := range l.sites - 1 {
		a.p[k] = a.chain.probs[l.survival[k]].P * a.chain.again[k+1]
	}
	return a.p
}
