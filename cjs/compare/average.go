package compare

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/cjs"
)

// Averaged are estimates over all ranked variants, each weighed by its Akaike
// weight, on the probability scale (a boundary estimate is infinite on the
// logit scale), with unconditional standard errors
//
//	se = Σ w √(se² + (θ − θ̄)²)
//
// (Burnham & Anderson 2002, eq. 4.9) and intervals on the logit scale.
type Averaged struct {
	Survival  []cjs.Survival
	Detection []cjs.Detection
	Passed    []cjs.Passed
}

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

// average fills Averaged.
func (r *Result) average(opt cjs.Options) {
	var fits []*Variant
	for _, v := range r.Variants {
		if v.Ranked() {
			fits = append(fits, v)
		}
	}
	level := opt.Level
	if level == 0 {
		level = 0.95
	}
	z := distuv.UnitNormal.Quantile(0.5 + level/2)
	a := &Averaged{}
	var doubtful []string
	note := func(disagree bool, what string) {
		if disagree {
			doubtful = append(doubtful, what)
		}
	}
	river := &fits[0].Fit.Problem.Histories.River

	survivalOf, detectionOf := widest(fits, func(f *cjs.Fit) [][]cjs.Category {
		var out [][]cjs.Category
		for _, s := range f.Survival {
			out = append(out, s.Of)
		}
		return out
	}), widest(fits, func(f *cjs.Fit) [][]cjs.Category {
		var out [][]cjs.Category
		for _, d := range f.Detection {
			out = append(out, d.Of)
		}
		return out
	})
	for _, of := range survivalOf {
		for k := range len(river.Sites) - 1 {
			var list []one
			for _, v := range fits {
				for _, s := range v.Fit.Survival {
					if s.From == k && covers(s.Of, of) {
						list = append(list, one{v.Weight, s.Estimate})
						break
					}
				}
			}
			e, disagree := mean(list, z)
			note(disagree, "survival "+river.Reach(k)+words(of))
			a.Survival = append(a.Survival, cjs.Survival{Of: of, From: k, Estimate: e, Raw: math.NaN()})
		}
	}
	for _, of := range detectionOf {
		for _, pattern := range fits[0].Fit.Detection {
			if !equal(pattern.Of, fits[0].Fit.Detection[0].Of) {
				break
			}
			var list []one
			for _, v := range fits {
				for _, d := range v.Fit.Detection {
					if d.Site == pattern.Site && d.Row == pattern.Row && covers(d.Of, of) {
						list = append(list, one{v.Weight, d.Estimate})
						break
					}
				}
			}
			e, disagree := mean(list, z)
			note(disagree, "detection at "+river.Sites[pattern.Site].Name+words(of))
			a.Detection = append(a.Detection, cjs.Detection{Of: of, Site: pattern.Site, Row: pattern.Row, Estimate: e})
		}
	}
	for _, p := range fits[0].Fit.Passed {
		var shares, fish, detection, soFar, still []one
		for _, v := range fits {
			for _, q := range v.Fit.Passed {
				if q.Site == p.Site && equal(q.Of, p.Of) {
					shares = append(shares, one{v.Weight, q.PassedShare})
					detection = append(detection, one{v.Weight, q.Detection})
					fish = append(fish, one{v.Weight, q.PassedFish})
					soFar = append(soFar, one{v.Weight, q.SoFar})
					still = append(still, one{v.Weight, q.StillToPass})
					break
				}
			}
		}
		if len(shares) < len(fits) {
			continue // a group that only some variants tell apart
		}
		var disagree bool
		p.PassedShare, disagree = mean(shares, z)
		note(disagree, "passed at "+river.Sites[p.Site].Name+words(p.Of))
		p.Detection, _ = mean(detection, z)
		if p.SoFar.Status != cjs.Absent {
			p.SoFar, _ = mean(soFar, z)
			p.StillToPass, _ = mean(still, z)
		}
		p.PassedFish = meanFish(fish, p.KnownPassed, z)
		p.WithRetention = cjs.NoEstimate(cjs.Absent)
		p.BetweenCohorts = math.NaN()
		a.Passed = append(a.Passed, p)
	}
	r.Averaged = a
	if len(doubtful) > 0 {
		if len(doubtful) > 6 {
			doubtful = append(doubtful[:6], fmt.Sprintf("%d more", len(doubtful)-6))
		}
		r.Warnings = append(r.Warnings, cjs.Warning{ID: WarnAveragedDisagree, About: "averages",
			Message: "The averaged models disagree about what these data can estimate: " + strings.Join(doubtful, "; ") + ". There the average is over the models that give a value, their weights scaled to 1; trust a single model more, or compare only models that estimate it."})
	}
	best := fits[0]
	for _, w := range best.Fit.Warnings {
		switch w.ID {
		case cjs.WarnTooEarly, cjs.WarnNotEstimable, cjs.WarnSeveralMaxima, cjs.WarnSparse, cjs.WarnBoundary:
			r.Warnings = append(r.Warnings, cjs.Warning{ID: WarnBestDoubtful, About: best.Name(),
				Message: "The best variant has warnings of its own (" + w.ID + "): " + w.Message})
		}
	}
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

// mean averages estimates; disagree is set where only some have a value.
func mean(list []one, z float64) (e cjs.Estimate, disagree bool) {
	var sum, weight float64
	for _, o := range list {
		if math.IsNaN(o.Value) {
			continue
		}
		sum += o.weight * o.Value
		weight += o.weight
	}
	if weight == 0 {
		return noPoint(list), false
	}
	e = cjs.Estimate{Value: sum / weight, SE: 0, Status: cjs.Estimated}
	for _, o := range list {
		if math.IsNaN(o.Value) {
			disagree = true
			continue
		}
		se := o.SE
		if math.IsNaN(se) {
			// At a bound: the width of the profile interval stands in.
			se = 0
			if !math.IsNaN(o.Low) && !math.IsNaN(o.High) {
				se = (o.High - o.Low) / (2 * z)
			}
		}
		d := o.Value - e.Value
		e.SE += o.weight / weight * math.Sqrt(se*se+d*d)
		if o.Status == cjs.Borrowed && e.Status == cjs.Estimated {
			e.Status = cjs.Borrowed
		}
	}
	e.Low, e.High, e.Method = cjs.Interval(e.Value, e.SE, z)
	return e, disagree
}

// noPoint is what estimates without a value say together: where it is too early
// for a point, the interval that holds all of theirs.
func noPoint(list []one) cjs.Estimate {
	e := cjs.NoEstimate(cjs.Inseparable)
	for _, o := range list {
		if o.Status == cjs.TooEarly {
			if e.Status != cjs.TooEarly {
				e = o.Estimate
			}
			e.Low, e.High = min(e.Low, o.Low), max(e.High, o.High)
		}
	}
	return e
}

// meanFish averages numbers of fish; their interval stays above those known.
func meanFish(list []one, known int, z float64) cjs.Estimate {
	e, _ := mean(list, z)
	if math.IsNaN(e.Value) {
		return e
	}
	e.Low, e.High, e.Method = max(float64(known), e.Value-z*e.SE), e.Value+z*e.SE, "wald"
	return e
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
