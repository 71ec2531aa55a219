package compare

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/unseen/cjs"
)

// leastWeight is the share of the weight that the models of an average hold at
// least: an average over what is left where the best model has no value would
// be of the poorest.
const leastWeight = 0.95 - 1e-9 // of sums of weights that rounding parts from 0.95

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

// averages tells whether v is one of the models that passed % is averaged over.
func (a *averaging) averages(v *Variant) bool { return slices.Contains(a.over, v) }

// chosen are those of a list, one a ranked variant, that are averaged over.
func (a *averaging) chosen(list []one) (out []one) {
	for i, v := range a.fits {
		if a.averages(v) {
			out = append(out, list[i])
		}
	}
	return out
}

// each averages one value by itself, over the models of passed % that have it.
// A warning calls it what; "" raises none.
func (a *averaging) each(what string, value func(*Variant) cjs.Estimate) cjs.Estimate {
	var all, with []one
	var held float64
	var lack, without []*Variant
	for _, v := range a.fits {
		o := one{v.Weight, value(v)}
		all = append(all, o)
		if math.IsNaN(o.Value) {
			lack = append(lack, v)
		}
		switch {
		case !a.averages(v):
		case math.IsNaN(o.Value):
			without = append(without, v)
		default:
			with = append(with, o)
			held += v.Weight
		}
	}
	if held >= leastWeight {
		if len(without) > 0 && what != "" {
			a.without(without, what)
		}
		return mean(with, a.z)
	}
	if len(lack) < len(a.fits) && what != "" {
		a.none(lack, what)
	}
	return noAverage(all)
}

func weight(of []*Variant) (sum float64) {
	for _, v := range of {
		sum += v.Weight
	}
	return sum
}

// doubts are what the models disagree about being estimable.
type doubts struct{ missing, thinner []doubt }

// doubt: the models lack all that is in what.
type doubt struct {
	models string
	what   []string
}

// none notes that there is no average of what, which the models lack.
func (d *doubts) none(models []*Variant, what string) { note(&d.missing, models, what) }

// without notes that what is averaged without the models, which lack it.
func (d *doubts) without(models []*Variant, what string) { note(&d.thinner, models, what) }

func note(list *[]doubt, models []*Variant, what string) {
	var names []string
	for _, v := range models {
		names = append(names, fmt.Sprintf("%q (weight %s)", v.Name(), percent(v.Weight)))
	}
	said := strings.Join(names, ", ")
	for i := range *list {
		if x := &(*list)[i]; x.models == said {
			x.what = append(x.what, what)
			return
		}
	}
	*list = append(*list, doubt{said, []string{what}})
}

func percent(weight float64) string {
	if weight < 0.001 {
		return "below 0.1 %"
	}
	return fmt.Sprintf("%.1f %%", 100*weight)
}

// message says where there is no average and why, what is averaged over fewer
// models, and what to do; "" where the models agree.
func (d *doubts) message() string {
	var said []string
	for _, x := range d.missing {
		said = append(said, fmt.Sprintf("There is no average of %s: %s cannot give it, and without them an average would hold less than 95 %% of the weight.", listed(x.what), x.models))
	}
	if len(said) > 0 {
		said = append(said, "Report a single model there, or compare only models that estimate it.")
	}
	for _, x := range d.thinner {
		said = append(said, fmt.Sprintf("Averaged without %s, which cannot give %s: the others hold 95 %% of the weight or more. Compare only models that give it to average over all.", x.models, listed(x.what)))
	}
	return strings.Join(said, " ")
}

func listed(what []string) string {
	const most = 6
	if len(what) > most {
		return fmt.Sprintf("%s; %d more", strings.Join(what[:most], "; "), len(what)-most)
	}
	return strings.Join(what, "; ")
}
