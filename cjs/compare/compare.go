// Package compare fits several models to the same fish and says what the data
// make of them.
//
// Begin with [Run], and [Grid] for every combination of terms; ExampleRun shows
// a ranking. AICc and its differences are in units of −2 ln L; weights are from
// 0 to 1.
package compare

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/internal/cores"
	"example.org/unseen/cjs/model"
)

// Run fits every spec to in. All use the same fish, those that no variant
// lacks a value for, and all or none the times of a season that still runs
// (in.AsOf), so that their likelihoods are of the same data. known are fits of in
// made already: those of a spec, with these fish and options, are taken as they
// are. done is called after each variant and may be nil. A variant that cannot be
// fitted does not stop the others; the error is of ctx, or says that no variant
// could be fitted at all.
func Run(ctx context.Context, in model.Input, specs []model.Spec, opt cjs.Options, done func(n, of int), known ...*cjs.Fit) (*Result, error) {
	if len(specs) == 0 {
		return nil, fmt.Errorf("there is no model to compare; give [[model]] in the study file, or --survival and --detection")
	}
	if err := in.Check(); err != nil {
		return nil, err
	}
	if err := opt.Check(); err != nil {
		return nil, err
	}
	in = in.For(specs)
	r := &Result{Variants: make([]*Variant, len(specs))}
	problems := make([]*model.Problem, len(specs))
	for i, s := range specs {
		v := &Variant{Spec: s, Delta: math.NaN(), Weight: math.NaN(), Evidence: math.NaN()}
		r.Variants[i] = v
		if problems[i], v.Err = model.Build(in, s); v.Err != nil {
			continue
		}
		for j := range i {
			if problems[j] != nil && problems[i].Same(problems[j]) {
				v.Err = fmt.Errorf("the same model as %q", r.Variants[j].Name())
			}
		}
	}
	finished := cores.Counter(len(specs), done)
	cores.Each(ctx, len(specs), func() func(int) {
		return func(i int) {
			if v := r.Variants[i]; v.Err == nil {
				if v.Fit = among(known, problems[i], opt); v.Fit == nil {
					v.Fit, v.Err = cjs.New(ctx, problems[i], opt)
				}
			}
			problems[i] = nil
			finished()
		}
	})
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	r.rank()
	if !r.Variants[0].Ranked() {
		v := r.Variants[0]
		if v.Err == nil {
			return r, fmt.Errorf("no variant could be ranked: %s did not converge, or has as many parameters as there are releases", v.Name())
		}
		return r, fmt.Errorf("no variant could be fitted; the first, %s: %w", v.Name(), v.Err)
	}
	r.leftOut()
	r.importance()
	r.average(opt)
	return r, nil
}

// average fills Averaged.
func (r *Result) average(opt cjs.Options) {
	level := opt.Level
	if level == 0 {
		level = 0.95
	}
	a := &averaging{z: distuv.UnitNormal.Quantile(0.5 + level/2)}
	for _, v := range r.Variants {
		if v.Ranked() {
			a.fits = append(a.fits, v)
		}
	}
	// Passed first: it settles the models of all.
	out := &Averaged{Passed: a.passed(), Survival: a.survival(), Detection: a.detection(), Over: a.over}
	r.Averaged = out
	if message := a.message(); message != "" {
		r.Warnings = append(r.Warnings, cjs.Warning{ID: WarnAveragedDisagree, About: "averages", Message: message})
	}
	best := a.fits[0]
	for _, w := range best.Fit.Warnings {
		switch w.ID {
		case cjs.WarnTooEarly, cjs.WarnNotEstimable, cjs.WarnSeveralMaxima, cjs.WarnSparse, cjs.WarnBoundary:
			r.Warnings = append(r.Warnings, cjs.Warning{ID: WarnBestDoubtful, About: best.Name(),
				Message: fmt.Sprintf("The best model, %q, has warnings of its own: %s [%s]", best.Name(), w.Message, w.ID)})
		}
	}
}

// among is the fit of p with opt among those known; nil where there is none.
func among(known []*cjs.Fit, p *model.Problem, opt cjs.Options) *cjs.Fit {
	for _, f := range known {
		if f.Check() == nil && f.Of(p, opt) {
			return f
		}
	}
	return nil
}

// rank sorts the variants and weighs them.
func (r *Result) rank() {
	slices.SortStableFunc(r.Variants, func(a, b *Variant) int {
		switch ra, rb := a.Ranked(), b.Ranked(); {
		case ra && !rb:
			return -1
		case rb && !ra:
			return 1
		case ra && a.Fit.AICc < b.Fit.AICc:
			return -1
		case ra && a.Fit.AICc > b.Fit.AICc:
			return 1
		}
		return 0
	})
	var aicc []float64
	for _, v := range r.Variants {
		if v.Ranked() {
			aicc = append(aicc, v.Fit.AICc)
		}
	}
	for i, w := range Weights(aicc) {
		v := r.Variants[i]
		v.Delta = aicc[i] - aicc[0]
		v.Weight = w
		v.Evidence = math.Exp(v.Delta / 2)
	}
}

// Weights are Akaike weights: exp(−Δ/2) over their sum (Burnham & Anderson
// 2002, eq. 2.9).
func Weights(aicc []float64) []float64 {
	if len(aicc) == 0 {
		return nil
	}
	best := slices.Min(aicc)
	out := make([]float64, len(aicc))
	var sum float64
	for i, a := range aicc {
		out[i] = math.Exp((best - a) / 2)
		sum += out[i]
	}
	for i := range out {
		out[i] /= sum
	}
	return out
}

func (r *Result) importance() {
	for _, part := range model.Parts() {
		sums := map[string]float64{}
		var names []string
		for _, v := range r.Variants {
			if !v.Ranked() {
				continue
			}
			for _, n := range v.Fit.Problem.TermsOf(part).Names() {
				if _, ok := sums[n]; !ok {
					names = append(names, n)
				}
				sums[n] += v.Weight
			}
		}
		slices.Sort(names)
		for _, n := range names {
			r.Importance = append(r.Importance, Importance{part, n, sums[n]})
		}
	}
}

// Grid crosses terms into specs, every combination once. A part without terms
// keeps those of base.
func Grid(parts map[model.Part][]string, base model.Spec) []model.Spec {
	base.Name = ""
	out := []model.Spec{base}
	for _, part := range model.Parts() {
		if len(parts[part]) == 0 {
			continue
		}
		var wider []model.Spec
		for _, m := range out {
			for _, terms := range parts[part] {
				m.SetTerms(part, terms)
				wider = append(wider, m)
			}
		}
		out = wider
	}
	return out
}
