package travel

import (
	"context"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/cjs"
	"example.org/unseen/history"
	"example.org/unseen/likelihood"
	"example.org/unseen/likelihood/passtime"
)

const (
	// fewest fish a law is fitted to.
	fewest = 5
	// profileFrom is the half width of the interval of log v from which on it is
	// made by profile likelihood.
	profileFrom = 0.05
	// thinned: with many more fish than this the climb starts with some.
	thinned = 4096
	// checkFewest: with fewer fish the classes hold fewer than five each.
	checkFewest = 50
	classes     = 10
)

// fitLaw fits the law to journeys over km. Where no law can be fitted it says why.
func fitLaw(ctx context.Context, km float64, j *journeys, opt Options) (*Law, string, error) {
	switch {
	case math.IsNaN(km):
		return nil, "the study gives no km", nil
	case !(km > 0):
		return nil, "both ends lie at the same km", nil
	case len(j.days) < fewest:
		return nil, history.Say("only %d fish were detected at both ends; a law needs %d", len(j.days), fewest), nil
	}
	o := &lawObjective{km: km, journeys: *j}
	start, ok := o.closedForm()
	if !ok {
		return nil, "all fish took the same time", nil
	}
	if thin := o.thin(thinned); thin != nil {
		m, err := cjs.Maximise(ctx, thin, start)
		if err != nil {
			return nil, "", err
		}
		start = m.X
	}
	m, err := cjs.Maximise(ctx, o, start)
	if err != nil {
		return nil, "", err
	}
	l := &Law{LogLikelihood: m.Point.F, Verdict: m.Verdict, Truncated: opt.AsOf != 0 || j.open != nil || len(j.room) > 0 && j.ends(), Correlation: math.NaN(), Hidden: math.NaN()}
	z := distuv.UnitNormal.Quantile(0.5 + opt.Level/2)
	law := passtime.Law{Km: km, Drift: math.Exp(m.X[0]), Spread: math.Exp(m.X[1])}
	if !law.Valid() {
		return nil, "the days follow no such law", nil
	}
	l.Check = check(law, j, opt.Shares)
	info := [4]float64{-m.Point.H[0], -m.Point.H[1], -m.Point.H[2], -m.Point.H[3]}
	det := info[0]*info[3] - info[1]*info[2]
	var low, high float64
	// A drift known to a few percent has the same interval either way.
	profile := j.ends() && !(z*math.Sqrt(info[3]/det) < profileFrom)
	if profile {
		if low, high, err = o.profileDrift(ctx, m, z*z/2); err != nil {
			return nil, "", err
		}
		if low == 0 {
			// The information on log v says nothing here; σ is given v.
			l.Drift, l.Mean, l.Median = cjs.NoEstimate(cjs.Absent), cjs.NoEstimate(cjs.Absent), cjs.NoEstimate(cjs.Absent)
			l.Drift.Low, l.Drift.High, l.Drift.Method = 0, high, "profile"
			l.Mean.Low, l.Mean.High, l.Mean.Method = km/high, math.Inf(1), "profile"
			l.Spread = onLog(math.Log(law.Spread), 1/math.Sqrt(info[3]), z)
			return l, "", nil
		}
	}
	cov := [4]float64{info[3] / det, -info[1] / det, -info[2] / det, info[0] / det}
	se := func(v, s float64) float64 { return math.Sqrt(v*v*cov[0] + 2*v*s*cov[1] + s*s*cov[3]) }
	l.Drift = onLog(m.X[0], se(1, 0), z)
	l.Spread = onLog(m.X[1], se(0, 1), z)
	l.Correlation = cov[1] / math.Sqrt(cov[0]*cov[3])
	l.Mean = onLog(math.Log(law.Mean()), se(-1, 0), z)
	if profile {
		l.Drift.Low, l.Drift.High, l.Drift.Method = low, high, "profile"
		l.Mean.Low, l.Mean.High, l.Mean.Method = km/high, km/low, "profile"
	}
	median := law.Quantile(0.5)
	// F(median; v, σ) = ½ throughout: d median = −(∂F/∂v, ∂F/∂σ)/f.
	d, f := law.CDFDerivatives(median), law.Density(median)*median
	l.Median = onLog(math.Log(median), se(-d.V*law.Drift/f, -d.S*law.Spread/f), z)
	l.Hidden = 0
	for i, w := range j.room {
		late := law.Tail(w)
		if j.opens(i) != nil {
			late = 1 - j.came(law, i, w)
		}
		l.Hidden += late / float64(len(j.room))
	}
	return l, "", nil
}

// onLog is the estimate whose logarithm is y with standard error se.
func onLog(y, se, z float64) cjs.Estimate {
	v := math.Exp(y)
	return cjs.Estimate{Value: v, SE: v * se, Low: v * math.Exp(-z*se), High: v * math.Exp(z*se), Status: cjs.Estimated, Method: "log"}
}

// lawObjective is the log-likelihood of log v and log σ: Σ log f(days) −
// log F(room), each fish given that it arrived when it could be seen.
type lawObjective struct {
	km float64
	journeys
}

func (o *lawObjective) Columns() int { return 2 }

func (o *lawObjective) Eval(x []float64, order int, p *likelihood.Point) {
	l := law{passtime.Law{Km: o.km, Drift: math.Exp(x[0]), Spread: math.Exp(x[1])}}
	var sum passtime.Derivatives
	for i, t := range o.days {
		sum.Add(1, l.LogDensityDerivatives(t))
		if open := o.opens(i); open != nil {
			sum.Add(-1, l.cameDerivatives(open))
		} else if w := o.room[i]; !l.arrived(w) {
			sum.Add(-1, l.LogCDFDerivatives(w))
		}
	}
	v, s := l.Drift, l.Spread
	p.F = sum.Value
	if order >= 1 {
		p.G = []float64{v * sum.V, s * sum.S}
	}
	if order >= 2 {
		vs := v * s * sum.VS
		p.H = []float64{v*v*sum.VV + v*sum.V, vs, vs, s*s*sum.SS + s*sum.S}
	}
}

// arrived tells that no fish is still under way after w days: 1 − F is below
// 1e-18, and so are its derivatives against those of the density.
func (l law) arrived(w float64) bool {
	const far = 9 // Φ(−9) is 1e-19
	return math.IsInf(w, 1) || l.Drift*w-l.Km > far*l.Spread*math.Sqrt(w)
}

// thin is the likelihood of about most of the fish, taken evenly; nil where
// there are not many more.
func (o *lawObjective) thin(most int) *lawObjective {
	every := len(o.days) / most
	if every < 4 {
		return nil
	}
	return &lawObjective{km: o.km, journeys: o.journeys.thin(every)}
}

// closedForm is the maximum where nothing is hidden: v = Σd/Σt, σ² the mean of
// (d − vt)²/t (Tweedie 1957). ok is false where σ is 0.
func (o *lawObjective) closedForm() (x []float64, ok bool) {
	n := float64(len(o.days))
	var sum, spread float64
	for _, t := range o.days {
		sum += t
	}
	v := o.km * n / sum
	for _, t := range o.days {
		spread += (o.km - v*t) * (o.km - v*t) / t
	}
	s := math.Sqrt(spread / n)
	return []float64{math.Log(v), math.Log(s)}, s > 1e-9*o.km
}

// noDrift: a drift that moves fish by less than this share of the distance in
// the longest time any had cannot be told from none.
const noDrift = 1e-6

// profileDrift is where the log-likelihood, highest for σ given v, falls by
// drop below its maximum; low is 0 where it never does.
func (o *lawObjective) profileDrift(ctx context.Context, m *cjs.Maximum, drop float64) (low, high float64, err error) {
	longest := 0.0
	for _, w := range o.room {
		longest = max(longest, w)
	}
	least := math.Log(noDrift * o.km / longest)
	limit := func(side float64) (float64, error) {
		inner, step := max(m.X[0], least), 0.5
		x := []float64{inner, m.X[1]}
		short := func(v float64) (float64, error) {
			x[0] = v
			f, err := o.bestSpread(ctx, x)
			return math.Sqrt(max(0, m.Point.F-f)) - math.Sqrt(drop), err
		}
		fi := -math.Sqrt(drop)
		outer, fo := inner, fi
		for fo <= 0 {
			if inner, fi = outer, fo; outer < least {
				return math.Inf(-1), nil
			}
			outer += side * step
			step *= 1.5
			var err error
			if fo, err = short(outer); err != nil {
				return 0, err
			}
		}
		// Regula falsi with the Illinois correction.
		for range 60 {
			if math.Abs(outer-inner) < 1e-9 {
				break
			}
			v := (inner*fo - outer*fi) / (fo - fi)
			f, err := short(v)
			switch {
			case err != nil:
				return 0, err
			case math.Abs(f) < 1e-9:
				return v, nil
			case f > 0:
				outer, fo, fi = v, f, fi/2
			default:
				inner, fi, fo = v, f, fo/2
			}
		}
		return (inner + outer) / 2, nil
	}
	a, err := limit(-1)
	if err != nil {
		return 0, 0, err
	}
	b, err := limit(1)
	return math.Exp(a), math.Exp(b), err
}

// bestSpread maximises over x[1] = log σ with x[0] = log v given.
func (o *lawObjective) bestSpread(ctx context.Context, x []float64) (float64, error) {
	var p, q likelihood.Point
	o.Eval(x, 2, &p)
	for range 100 {
		if err := ctx.Err(); err != nil {
			return 0, err
		}
		step := p.G[1] / math.Abs(p.H[3])
		if !(math.Abs(step) > 1e-9) {
			break
		}
		step = max(-1, min(1, step))
		from := x[1]
		for {
			x[1] = from + step
			if o.Eval(x, 2, &q); q.F >= p.F || math.Abs(step) < 1e-9 {
				break
			}
			step /= 2
		}
		p, q = q, p
	}
	return p.F, nil
}

// check compares days with the law, each fish given that it was seen.
func check(law passtime.Law, j *journeys, shares []float64) Check {
	days := j.days
	c := Check{Expected: shares, Seen: make([]float64, len(shares)), Days: make([]float64, len(shares)), ChiSquare: math.NaN(), PLow: math.NaN(), PHigh: math.NaN()}
	n := float64(len(days))
	var count [classes]float64
	for i, t := range days {
		u := j.came(law, i, t) / j.came(law, i, j.room[i])
		if !(u <= 1) { // 0/0: both are farther out than numbers go
			u = 1
		}
		for j, share := range shares {
			if u <= share {
				c.Seen[j]++
			}
		}
		count[min(classes-1, int(u*classes))]++
	}
	for j, share := range shares {
		c.Seen[j] /= n
		c.Days[j] = law.Quantile(share)
	}
	if len(days) < checkFewest {
		return c
	}
	c.Classes, c.ChiSquare = classes, 0
	for _, k := range count {
		c.ChiSquare += (k - n/classes) * (k - n/classes) / (n / classes)
	}
	c.PLow = distuv.ChiSquared{K: classes - 3}.Survival(c.ChiSquare)
	c.PHigh = distuv.ChiSquared{K: classes - 1}.Survival(c.ChiSquare)
	return c
}
