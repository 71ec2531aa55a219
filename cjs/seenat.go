package cjs

// SeenAt gives the probability under the fit that the fish of record i is seen
// at a site below its entry when it passes there, at any row. Where only a
// product with survival can be had, what it gives tells no more than which
// fish are alike. The function is for one goroutine at a time.
func (f *Fit) SeenAt() func(i, site int) float64 {
	p := f.Problem
	z := make([]float64, p.Design.Numbers)
	z[0] = 1
	return func(i, site int) float64 {
		g := int(p.ClassOf[i])
		if g < 0 {
			// Left out of the fit for a missing value.
			return 0
		}
		for n := range p.Z {
			z[n+1] = p.Z[n][i]
		}
		missed := 1.0
		from, to := p.Layout.SiteRows(site)
		for b := from; b < to; b++ {
			missed *= f.design.Prob(f.X, g, p.Layout.Detection(b), z).Q
		}
		return 1 - missed
	}
}

// SeenKnown tells whether the detection at a site is estimated for every group
// of fish, not only its product with survival.
func (f *Fit) SeenKnown(site int) bool {
	for i := range f.Detection {
		d := &f.Detection[i]
		if d.Site == site && (d.Status == Inseparable || d.Status == Absent) {
			return false
		}
	}
	return true
}
