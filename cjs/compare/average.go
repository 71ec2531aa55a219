package compare

import (
	"math"
	"slices"
	"strings"

	"example.org/unseen/cjs"
)

// leastWeight is the share of the weight that the models of an average hold at
// least: an average over what is left where the best model has no value would
// be of the poorest.
const leastWeight = 0.95 - 1e-9 // of sums of weights that rounding parts from 0.95

const (
	// WarnAveragedDisagree: averaged models disagree about what is estimable.
	WarnAveragedDisagree = "averaged-models-disagree"
	// WarnBestDoubtful: the best variant has warnings of its own.
	WarnBestDoubtful = "best-variant-doubtful"
)

// one is a variant's estimate with its weight.
type one struct {
	weight float64
	cjs.Estimate
}

// averaging makes the averages.
type averaging struct {
	fits []*Variant // ranked, best first
	over []*Variant // of these, those passed % is averaged over
	z    float64
	doubts
}

func (a *averaging) survival() (out []cjs.Survival) {
	river := &a.fits[0].Fit.Problem.Histories.River
	for _, of := range widest(a.fits, func(f *cjs.Fit) (all [][]cjs.Category) {
		for _, s := range f.Survival {
			all = append(all, s.Of)
		}
		return all
	}) {
		for k := range len(river.Sites) - 1 {
			e := a.each("survival "+river.Reach(k)+words(of), func(v *Variant) cjs.Estimate {
				for _, s := range v.Fit.Survival {
					if s.From == k && covers(s.Of, of) {
						return s.Estimate
					}
				}
				return cjs.NoEstimate(cjs.Absent)
			})
			out = append(out, cjs.Survival{Of: of, From: k, Estimate: e, Raw: math.NaN()})
		}
	}
	return out
}

func (a *averaging) detection() (out []cjs.Detection) {
	river := &a.fits[0].Fit.Problem.Histories.River
	first := a.fits[0].Fit.Detection
	for _, of := range widest(a.fits, func(f *cjs.Fit) (all [][]cjs.Category) {
		for _, d := range f.Detection {
			all = append(all, d.Of)
		}
		return all
	}) {
		for _, pattern := range first {
			if !equal(pattern.Of, first[0].Of) {
				break
			}
			e := a.each("detection at "+river.Sites[pattern.Site].Name+words(of), func(v *Variant) cjs.Estimate {
				for _, d := range v.Fit.Detection {
					if d.Site == pattern.Site && d.Row == pattern.Row && covers(d.Of, of) {
						return d.Estimate
					}
				}
				return cjs.NoEstimate(cjs.Absent)
			})
			out = append(out, cjs.Detection{Of: of, Site: pattern.Site, Row: pattern.Row, Estimate: e})
		}
	}
	return out
}

// averages tells whether v is one of the models that passed % is averaged over.
func (a *averaging) averages(v *Variant) bool { return slices.Contains(a.over, v) }

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

// widest are the categories of the variant that tells most apart.
func widest(fits []*Variant, of func(*cjs.Fit) [][]cjs.Category) [][]cjs.Category {
	var best [][]cjs.Category
	for _, v := range fits {
		var unique [][]cjs.Category
		for _, o := range of(v.Fit) {
			known := false
			for _, u := range unique {
				known = known || equal(o, u)
			}
			if !known {
				unique = append(unique, o)
			}
		}
		if len(unique) > len(best) {
			best = unique
		}
	}
	return best
}

// covers tells whether fish of categories of are among those of group.
func covers(group, of []cjs.Category) bool {
	for _, c := range group {
		for _, o := range of {
			if o.Name == c.Name && o.Level != c.Level {
				return false
			}
		}
	}
	return true
}

func equal(a, b []cjs.Category) bool { return len(a) == len(b) && covers(a, b) }

// mean averages estimates that all have a value.
func mean(list []one, z float64) cjs.Estimate {
	if len(list) == 1 {
		return list[0].Estimate
	}
	var sum, weight float64
	for _, o := range list {
		sum += o.weight * o.Value
		weight += o.weight
	}
	if atBound(list) {
		e := cjs.NoEstimate(cjs.Boundary)
		e.Value = list[0].Value
		e.Low, e.High, e.Method = hull(list)
		return e
	}
	e := cjs.Estimate{Value: sum / weight, Status: cjs.Estimated}
	for _, o := range list {
		se := o.SE
		if math.IsNaN(se) {
			se = 0
		}
		if o.Method == "profile" && !math.IsNaN(o.Low) && !math.IsNaN(o.High) {
			// At a bound the standard error says too little, if there is one:
			// the width of the profile interval stands in.
			se = max(se, (o.High-o.Low)/(2*z))
		}
		d := o.Value - e.Value
		e.SE += o.weight / weight * math.Sqrt(se*se+d*d)
		if o.Status == cjs.Borrowed {
			e.Status = cjs.Borrowed
		}
	}
	e.Low, e.High, e.Method = cjs.Interval(e.Value, e.SE, z)
	if room := e.Value * (1 - e.Value); room > 0 && e.SE*e.SE > room {
		// Nothing between 0 and 1 of this mean has so large a standard deviation:
		// where some say 1 and the others nearly so, the logit scale would make
		// 0 to 1 of it.
		e.Low, e.High, e.Method = hull(list)
	}
	return e
}

// atBound tells whether all say that a probability is 0, or all that it is 1:
// around that there is no interval on the logit scale.
func atBound(list []one) bool {
	for _, o := range list {
		if o.Status != cjs.Boundary || o.Value != list[0].Value {
			return false
		}
	}
	return list[0].Value == 0 || list[0].Value == 1
}

// meanFish averages numbers of fish of which known are known to have passed
// and unknown others may have; its interval is made as that of one fit.
func meanFish(list []one, known, unknown int, z float64) cjs.Estimate {
	e := mean(list, z)
	if len(list) == 1 {
		return e
	}
	e.Low, e.High, e.Method = cjs.FishInterval(float64(known), float64(unknown), e.Value-float64(known), e.SE, z)
	if math.IsNaN(e.Low) {
		// All say that all, or none, of the unknown passed.
		e.Low, e.High, e.Method = hull(list)
	}
	return e
}

// noAverage is what estimates say together where too few have a value: nothing,
// or where the day is too early for a point, and models of enough weight have
// an interval at least, the interval that holds all of theirs.
func noAverage(list []one) cjs.Estimate {
	e := cjs.NoEstimate(cjs.Inseparable)
	var bounded float64
	early := false
	for _, o := range list {
		if !math.IsNaN(o.Low) && !math.IsNaN(o.High) {
			bounded += o.weight
			early = early || o.Status == cjs.TooEarly
		}
	}
	if early && bounded >= leastWeight {
		e.Status = cjs.TooEarly
		e.Low, e.High, e.Method = hull(list)
	}
	return e
}

// hull is the interval that holds those of all that have one, and the method
// of the first.
func hull(list []one) (low, high float64, method string) {
	low, high = math.NaN(), math.NaN()
	for _, o := range list {
		if math.IsNaN(o.Low) || math.IsNaN(o.High) {
			continue
		}
		if math.IsNaN(low) {
			low, high, method = o.Low, o.High, o.Method
		}
		low, high = min(low, o.Low), max(high, o.High)
	}
	return low, high, method
}

func words(of []cjs.Category) string {
	if len(of) == 0 {
		return ""
	}
	var parts []string
	for _, c := range of {
		parts = append(parts, c.Name+" "+c.Level)
	}
	return " for " + strings.Join(parts, ", ")
}
