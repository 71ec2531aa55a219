package cjs

import (
	"context"
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/likelihood"
)

// A trial with fish held tells the share κ of tags kept: kept ~ Binomial(held, κ).
// Tags are lost before the fish leave the release site, so that of a share σ of
// the fish that passed κσ = P could be seen to. P and κ are known from different
// fish: the likelihood of the two is a product, that of P the profile of the fit,
// and σ = P/κ has limits by its profile, nowhere above 1. Where the interval of P
// is one of large samples, so is its likelihood here: normal on its scale.

// warnRetention names the rows at which fish and trial contradict each other.
func (f *Fit) warnRetention() {
	r := f.Options.Retention
	if r.Held == 0 {
		return
	}
	kept := float64(r.Kept) / float64(r.Held)
	river := &f.Problem.Histories.River
	var names []string
	for i := range f.Passed {
		if row := &f.Passed[i]; row.WithRetention.Status != Absent && row.PassedShare.Value > kept+1e-9 { // beyond rounding
			names = append(names, fmt.Sprintf("%s%s (%.1f %%)", river.Sites[row.Site].Name, forWords(row.Of), 100*row.PassedShare.Value))
		}
	}
	if len(names) > 0 {
		f.warning(WarnRetention, "passed", "%d of %d fish held kept their tags (%.1f %%), and more are estimated to have passed with theirs: %s. Both cannot be; where chance alone parts them, the two together say that all fish passed, with or without a tag, and how few it may have been. Look at the trial: were the same tags put in by the same hands, and the fish held as long as the others swim?",
			r.Kept, r.Held, 100*kept, list(names, 6))
	}
}

// trial is the profile of σ for one quantity P, along the constrained maxima: for
// each P the κ that makes the likelihood of their ratio greatest.
type trial struct {
	fit        *Fit
	tied       *tied
	held, kept float64
	from       solution // the constrained maximum found last
	// profiler of P, nil where its likelihood is taken as normal, and its limits.
	profiler *profiler
	limits   *pending
	// se is the standard error of P on its scale around mean where its
	// likelihood is taken as normal; 0: the profile is sought.
	mean, se float64
	stride   float64 // how far along P a limit should lie
}

// tried is a point of it: P and κ, on the scale of P t, and how far both
// together have fallen off their maximum.
type tried struct {
	t, p, kept, loss float64
	// more is what κ loses as it falls with σ given, over what there is to
	// lose: beyond 1 no κ is low enough.
	more float64
}

func (x *tried) share() float64 { return x.p / x.kept }

// withRetention is the share e, of quantity q, that would have passed had no tag
// been lost; limits are those of its interval by profile likelihood, if it has that.
func (f *Fit) withRetention(ctx context.Context, e Estimate, q *likelihood.Quantity, limits *pending) (Estimate, error) {
	if math.IsNaN(e.Value) {
		return NoEstimate(e.Status), nil
	}
	r := f.Options.Retention
	tr := &trial{fit: f, held: float64(r.Held), kept: float64(r.Kept), stride: 0.25}
	kept := tr.kept / tr.held
	out := NoEstimate(e.Status)
	out.Value = min(1, e.Value/kept)
	if e.Value <= 0 && kept <= 0 {
		return NoEstimate(Inseparable), nil // nothing passed, and no tag was kept
	}
	if e.Status == Held {
		return out, nil
	}
	if out.Value < 1 && r.Kept < r.Held && e.SE > 0 {
		relative := (1 - kept) / (kept * tr.held)
		own := e.SE * e.SE / (e.Value * e.Value)
		out.SE = out.Value * math.Sqrt(own+relative)
		tr.stride = 1.02 * f.z * own / math.Sqrt(own+relative) / max(1e-3, 1-e.Value)
	}
	out.Method = e.Method
	tr.tied = newTied(f.free(), q, f.isLinear(q) || e.Method == "wald")
	tr.mean = tr.tied.onScale(e.Value)
	switch e.Method {
	case "logit":
		tr.se = e.SE / (e.Value * (1 - e.Value))
	case "wald":
		tr.se = e.SE
	default:
		pr, err := f.profiler(ctx, q)
		if err != nil {
			return out, err
		}
		tr.profiler, tr.limits, tr.from = pr, limits, solution{x: pr.start}
		defer func() { f.accuse(pr.accused) }()
		if pr.held != nil {
			tr.from.soft = pr.start
		}
	}
	need := distuv.ChiSquared{K: 1}.Quantile(f.Options.Level) / 2
	top := tried{t: tr.mean, p: e.Value, kept: kept}
	if top.share() >= 1 {
		// The trial kept fewer tags than fish are known to have passed with
		// theirs: the two together say 1.
		out.Status, out.Method = Boundary, "profile"
		one, ok, err := tr.root(ctx, top, -1, func(x *tried) float64 { return -math.Log(x.share()) })
		if err != nil || !ok {
			return out, err
		}
		top, need = one, need+one.loss
		out.High = 1
	}
	fall := func(x *tried) float64 { return math.Sqrt(max(0, x.loss)) - math.Sqrt(need) }
	limit := func(side float64, g func(*tried) float64) (tried, bool, error) {
		x, ok, err := tr.straight(ctx, side, need)
		if err == nil && !ok {
			x, ok, err = tr.root(ctx, top, side, g)
		}
		return x, ok, err
	}
	if e.Value <= 0 && !tr.tied.linear {
		out.Low = 0
	} else if low, ok, err := limit(-1, fall); err != nil {
		return out, err
	} else if ok {
		out.Low = low.share()
	}
	if out.High == 1 {
		return out, nil
	}
	high, ok, err := limit(1, func(x *tried) float64 { return max(fall(x), x.share()-1, x.more-1) })
	if err == nil && ok {
		share := high.share()
		if left := need - high.loss; r.Kept == r.Held && left > 0 {
			// No tag was lost: from here on P stands and κ alone falls.
			share = high.p * math.Exp(left/tr.held)
		}
		out.High = min(1, share)
	}
	return out, err
}

// at is the point with P at t on its scale. With σ given the likelihood is
// greatest where the rise of its two factors with ln P is the same: slope/(dt/d
// ln P) = −κ d ln B/dκ, which gives κ.
func (tr *trial) at(ctx context.Context, t float64) (x tried, ok bool, err error) {
	c := tr.fit.Options.VarianceInflation
	s := solution{t: t}
	if tr.se > 0 {
		off := (t - tr.mean) / tr.se
		// The standard error is already inflated.
		s.f, s.slope = tr.fit.LogLikelihood-c*off*off/2, -c*off/tr.se
	} else {
		if s, ok, err = tr.tied.maximum(ctx, tr.from, t); err != nil || !ok {
			return x, false, err
		}
		tr.from = s
	}
	x = tr.beside(s)
	x.t = t
	return x, true, nil
}

// beside is the point with the κ that goes with a constrained maximum of P.
func (tr *trial) beside(s solution) tried {
	c := tr.fit.Options.VarianceInflation
	x := tried{t: s.t, p: tr.tied.value(s.t)}
	perLog := 1 - x.p // d ln P / d logit P
	if tr.tied.linear {
		perLog = 1 / x.p
	}
	pull := -s.slope / (c * perLog)
	x.more = pull / tr.kept
	x.kept = max(0, tr.kept-pull) / (tr.held - min(pull, tr.kept))
	if tr.kept == tr.held {
		x.kept = 1
	}
	x.loss = (tr.fit.LogLikelihood-s.f)/c + tr.chance(tr.kept/tr.held) - tr.chance(x.kept)
	return x
}

// straight goes for the point where both have lost need, as for the limit of P
// alone, which is not far.
func (tr *trial) straight(ctx context.Context, side, need float64) (tried, bool, error) {
	pr := tr.profiler
	if pr == nil || tr.tied.linear {
		return tried{}, false, nil
	}
	to := aim{side, tr.mean, false, 0, func(t *tied, s *tiedStep) (left, d float64) {
		// ahead is how much is left to lose at d, as it looks from here.
		ahead := func(d float64) float64 {
			x := tr.beside(solution{t: t.q.F + d, f: t.p.F + s.gain/2 + s.slope*d - s.curve*d*d/2, slope: s.slope - s.curve*d})
			return need - x.loss
		}
		left = ahead(0)
		end := side // no farther at once
		if left < 0 {
			end = -side
			if s.curve > 0 {
				end = s.slope / s.curve // back to the top
			}
		}
		return left, halved(ahead, end)
	}}
	try := func(t *tied, from []float64) (tried, bool, error) {
		s, ok, err := pr.straight(ctx, t, from, to)
		if err != nil || !ok {
			return tried{}, false, err
		}
		x := tr.beside(s)
		return x, x.share() < 1 && x.more < 1, nil
	}
	if pr.held != nil {
		if x, ok, err := try(pr.held, tr.fit.X); ok || err != nil {
			return x, ok, err
		}
	}
	if tr.limits != nil && tr.limits.ends[int(side+1)/2] != nil {
		return try(pr.tied, tr.limits.ends[int(side+1)/2])
	}
	if pr.held != nil {
		return tried{}, false, nil
	}
	return try(pr.tied, tr.fit.X)
}

// halved is where g changes its sign between 0 and end; end where it does not.
func halved(g func(float64) float64, end float64) float64 {
	inner, outer, above := 0.0, end, g(0) > 0
	if g(end) > 0 == above {
		return end
	}
	for range 52 {
		if m := (inner + outer) / 2; g(m) > 0 == above {
			inner = m
		} else {
			outer = m
		}
	}
	return (inner + outer) / 2
}

// chance is the log-likelihood of the trial at κ.
func (tr *trial) chance(kept float64) float64 {
	times := func(n, p float64) float64 {
		if n == 0 {
			return 0
		}
		return n * math.Log(p)
	}
	return times(tr.kept, kept) + times(tr.held-tr.kept, 1-kept)
}

// root is the point to one side of from where g, below 0 there, comes to 0; at
// the end of the scale of P where it does not.
func (tr *trial) root(ctx context.Context, from tried, side float64, g func(*tried) float64) (tried, bool, error) {
	const near = 1e-6
	inner, outer := from, tried{}
	below, above := g(&inner), math.NaN()
	if below >= 0 {
		return inner, true, nil
	}
	for stride := tr.stride; math.IsNaN(above); {
		next := inner.t + side*stride
		if !tr.tied.linear {
			next = max(-openEnd, min(openEnd, next))
		}
		x, ok, err := tr.at(ctx, next)
		if err != nil || !ok {
			return x, false, err
		}
		switch v := g(&x); {
		case v >= 0:
			outer, above = x, v
		case math.Abs(next) >= openEnd && !tr.tied.linear || math.IsNaN(v):
			return x, !math.IsNaN(v), nil
		default:
			// The root of the fall is nearly straight: a little beyond where
			// the line through the two comes to 0, no more than twice as far.
			further := 1.02 * -v / (v - below) * math.Abs(x.t-inner.t)
			if !(further > 0 && further < 2*stride) {
				further = 2 * stride
			}
			inner, below, stride = x, v, further
		}
	}
	last := 0.0 // the side the last point came to lie on
	for range 60 {
		if outer.t == inner.t || math.Abs(above) < near {
			break
		}
		share := 0.5
		if !math.IsInf(above, 0) && !math.IsInf(below, 0) {
			share = min(0.95, max(0.05, below/(below-above)))
		}
		x, ok, err := tr.at(ctx, inner.t+share*(outer.t-inner.t))
		if err != nil || !ok {
			return x, false, err
		}
		switch v := g(&x); {
		case math.Abs(v) < near:
			return x, true, nil
		// An end that stays is taken for half as far (the Illinois rule).
		case v > 0:
			if outer, above = x, v; last > 0 {
				below /= 2
			}
			last = 1
		default:
			if inner, below = x, v; last < 0 {
				above /= 2
			}
			last = -1
		}
	}
	return outer, true, nil
}
