package compare

import (
	"math"

	"example.org/unseen/cjs"
)

// line is a line of the passed table in every fit.
type line struct {
	what string
	of   []cjs.Category
	site int
	in   []*cjs.Passed // of the ranked variants, in their order
}

// lines are those of the passed tables that all ranked variants have: groups
// that only some tell apart have no average. All fish come first, and each
// group's sites in downstream order.
func (a *averaging) lines() (out []line) {
	river := &a.fits[0].Fit.Problem.Histories.River
next:
	for _, p := range a.fits[0].Fit.Passed {
		x := line{what: river.Sites[p.Site].Name + words(p.Of), of: p.Of, site: p.Site}
		for _, v := range a.fits {
			q := passedOf(v.Fit, p.Of, p.Site)
			if q == nil {
				continue next
			}
			x.in = append(x.in, q)
		}
		out = append(out, x)
	}
	return out
}

func passedOf(f *cjs.Fit, of []cjs.Category, site int) *cjs.Passed {
	for i := range f.Passed {
		if p := &f.Passed[i]; p.Site == site && equal(p.Of, of) {
			return p
		}
	}
	return nil
}

// list is a value of a line by every ranked variant.
func (a *averaging) list(x line, value func(*cjs.Passed) cjs.Estimate) []one {
	out := make([]one, len(a.fits))
	for i, v := range a.fits {
		out[i] = one{v.Weight, value(x.in[i])}
	}
	return out
}

func share(p *cjs.Passed) cjs.Estimate { return p.PassedShare }
func soFar(p *cjs.Passed) cjs.Estimate { return p.SoFar }
func still(p *cjs.Passed) cjs.Estimate { return p.StillToPass }
func fish(p *cjs.Passed) cjs.Estimate  { return p.PassedFish }

// passed averages the passed table over one set of models, which it settles:
// each model's passed % falls downstream, so that their averages do.
func (a *averaging) passed() (out []cjs.Passed) {
	lines := a.lines()
	a.over = a.fits
	running := len(lines) > 0 && lines[0].in[0].SoFar.Status != cjs.Absent
	var come []bool
	if running {
		come = a.choose(lines, "passed so far at ", soFar)
	}
	told := a.choose(lines, "passed at ", share)
	for i, x := range lines {
		p := *x.in[0]
		at := func(has bool, value func(*cjs.Passed) cjs.Estimate) cjs.Estimate {
			list := a.list(x, value)
			if !has {
				return noAverage(list)
			}
			return mean(a.chosen(list), a.z)
		}
		p.PassedShare = at(told[i], share)
		p.Detection = a.each("", func(v *Variant) cjs.Estimate { return passedOf(v.Fit, x.of, x.site).Detection })
		// Fish are counted up to where the data end.
		now, status := told[i], p.PassedShare.Status
		if running {
			p.SoFar, p.StillToPass = at(come[i], soFar), at(told[i], still)
			now, status = come[i], p.SoFar.Status
		}
		p.PassedFish = cjs.NoEstimate(status)
		if now {
			p.PassedFish = meanFish(a.chosen(a.list(x, fish)), p.KnownPassed, p.Released-p.Removed-p.KnownPassed, a.z)
		}
		p.PassedFishShare = cjs.FishShare(p.PassedFish, p.Released)
		p.WithRetention = cjs.NoEstimate(cjs.Absent)
		p.BetweenCohorts = math.NaN()
		out = append(out, p)
	}
	return out
}

// choose tells at which lines there is an average, and leaves in over the
// models that give a value at all of them. Group by group it goes down the
// river and leaves out models without a value for as long as the others hold
// enough weight; where they do not, this group has no average, nor below: the
// longest run of sites from upstream. A site of which no model gives a value
// tells the models from each other no more than one that is not there.
func (a *averaging) choose(lines []line, what string, value func(*cjs.Passed) cjs.Estimate) []bool {
	has := make([]bool, len(lines))
	stopped := false
	for i, x := range lines {
		if i > 0 && !equal(x.of, lines[i-1].of) {
			stopped = false
		}
		var with, without, lack []*Variant
		for k, v := range a.fits {
			switch valued := !math.IsNaN(value(x.in[k]).Value); {
			case !valued:
				lack = append(lack, v)
				if a.averages(v) {
					without = append(without, v)
				}
			case a.averages(v):
				with = append(with, v)
			}
		}
		switch {
		case stopped || len(lack) == len(a.fits):
		case weight(with) >= leastWeight:
			if len(without) > 0 {
				a.without(without, what+x.what)
			}
			a.over, has[i] = with, true
		default:
			stopped = true
			below := ""
			if i+1 < len(lines) && equal(x.of, lines[i+1].of) {
				below = " and below"
			}
			a.none(lack, what+x.what+below)
		}
	}
	return has
}

// chosen are those of a list, one a ranked variant, that are averaged over.
func (a *averaging) chosen(list []one) (out []one) {
	for i, v := range a.fits {
		if a.averages(v) {
			out = append(out, list[i])
		}
	}
	return out
}

func weight(of []*Variant) (sum float64) {
	for _, v := range of {
		sum += v.Weight
	}
	return sum
}
