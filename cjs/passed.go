package cjs

import (
	"context"
	"math"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/likelihood"
)

// survivedTo is the mean over the newly released fish of the group that
// entered above site k of the probability to reach it; ok is false when there
// are none.
func (f *Fit) survivedTo(gr *group, k int) (q likelihood.Quantity, ok bool) {
	return f.meanOver(gr, k, func(entry int) []likelihood.Factor {
		var factors []likelihood.Factor
		for r := entry; r < k; r++ {
			factors = append(factors, likelihood.Factor{Slot: f.Problem.Layout.Survival(r)})
		}
		return factors
	})
}

// meanOver is the mean over the newly released fish of the group that entered
// above site k of the product of the factors for their entry.
func (f *Fit) meanOver(gr *group, k int, factors func(entry int) []likelihood.Factor) (q likelihood.Quantity, ok bool) {
	p := f.Problem
	total := 0
	for _, g := range gr.classes {
		total += p.Classes[g].NewAbove(k)
	}
	if total == 0 {
		return q, false
	}
	for _, g := range gr.classes {
		for e := range k {
			n := p.Classes[g].New[e]
			if n == 0 {
				continue
			}
			m := likelihood.Mean{Class: g, Factors: factors(e), Each: 1 / float64(total), N: n}
			if p.Design.Numbers == 1 {
				m.Each, m.N = float64(n)/float64(total), 1
			} else if f.numbersMatter(g, m.Factors) {
				m.Z, m.Weight, m.N = f.newFish(g, e, total)
			} else {
				m.Each, m.N, m.Z = float64(n)/float64(total), 1, f.meanNumbers()
			}
			q.Means = append(q.Means, m)
		}
	}
	return q, true
}

// numbersMatter tells whether one of the factors differs between fish of class g.
func (f *Fit) numbersMatter(g int, factors []likelihood.Factor) bool {
	for _, c := range factors {
		if f.Problem.Design.Varies(g, c.Slot) {
			return true
		}
	}
	return false
}

// newFish are the numbers of the newly released fish of class g that entered
// at e, and the weight of each when all weigh 1/total.
func (f *Fit) newFish(g, e, total int) (z [][]float64, weight []float64, n int) {
	p := f.Problem
	h := p.Histories
	z = make([][]float64, len(p.Z))
	for i, c := range p.ClassOf {
		if int(c) != g || int(h.Entry[i]) != e || !h.New(i) {
			continue
		}
		for m := range z {
			z[m] = append(z[m], p.Z[m][i])
		}
		weight = append(weight, float64(h.Weight(i))/float64(total))
	}
	return z, weight, len(weight)
}

// passedGroups: all fish, each cohort, and each combination of the other
// categories survival differs by.
func (f *Fit) passedGroups() []group {
	p := f.Problem
	out := groups(p, nil)
	add := func(names []string) {
		if len(names) == 0 {
			return
		}
		for _, gr := range groups(p, names) {
			if len(gr.of) > 0 {
				out = append(out, gr)
			}
		}
	}
	hasCohort := len(p.Histories.Cohorts) > 1
	if hasCohort {
		add([]string{model.Cohort})
	}
	own := union(p.Categories, p.SurvivalCategories)
	if len(own) > 0 && !(len(own) == 1 && own[0] == model.Cohort) {
		add(own)
	}
	return out
}

// passedShares fills only the shares that passed, for refits.
func (f *Fit) passedShares(ctx context.Context) error {
	for _, gr := range f.passedGroups() {
		for k := 1; k < f.Problem.Layout.Sites(); k++ {
			q, ok := f.survivedTo(&gr, k)
			if !ok {
				continue
			}
			e, err := f.estimate(ctx, &q)
			if err != nil {
				return err
			}
			f.Passed = append(f.Passed, Passed{Of: gr.of, Site: k, PassedShare: e})
		}
	}
	return nil
}

// passed fills the passed table.
func (f *Fit) passed(ctx context.Context) error {
	p := f.Problem
	l := p.Layout
	last := l.Sites() - 1
	for _, gr := range f.passedGroups() {
		t := gr.tally(p)
		for k := 1; k <= last; k++ {
			row := Passed{Of: gr.of, Site: k, Released: t.NewAbove(k), Removed: t.RemovedAbove(k), Seen: t.Seen[k],
				KnownPassed: t.KnownPassed(k), BetweenCohorts: math.NaN(), WithRetention: NoEstimate(Absent)}
			row.SeenShare = Wilson(t.Seen[k], row.Released-row.Removed, f.z)
			q, ok := f.survivedTo(&gr, k)
			if !ok {
				continue
			}
			var err error
			if row.PassedShare, err = f.estimate(ctx, &q); err != nil {
				return err
			}
			from, to := l.SiteRows(k)
			var rows []likelihood.Factor
			for b := from; b < to; b++ {
				rows = append(rows, likelihood.Factor{Slot: l.Detection(b), Miss: true})
			}
			dq, _ := f.meanOver(&gr, k, func(int) []likelihood.Factor { return rows })
			dq.Complement = true
			if row.Detection, err = f.estimate(ctx, &dq); err != nil {
				return err
			}
			if k == last && !ownDetection(p, last) {
				for _, e := range []*Estimate{&row.PassedShare, &row.Detection} {
					if e.Status == Estimated && !f.held(gr.classes[0], last) {
						e.Status = Borrowed
					}
				}
			}
			row.PassedFish = f.passedFish(&gr, &t, k, row.PassedShare.Status)
			if r := f.Options.Retention; r.Held > 0 && r.Kept > 0 {
				row.WithRetention = f.withRetention(row.PassedShare)
			}
			f.Passed = append(f.Passed, row)
		}
	}
	f.betweenCohorts()
	f.oneSite()
	return nil
}

// passedFish is the number of fish that really passed site k: those known to,
// and of those never seen again above it the share expected to have passed.
// The variance has a part from the parameters and Σ q(1−q) from the fish
// themselves. The interval, symmetric on the logit of the unknown share, never
// goes below the number known to have passed.
func (f *Fit) passedFish(gr *group, t *model.Tally, k int, status Status) Estimate {
	if status == Inseparable || status == Absent {
		return NoEstimate(status)
	}
	p := f.Problem
	grad := make([]float64, f.Parameters)
	chain := likelihood.NewChain(f.design)
	var sum, own float64
	unknown := 0
	z := make([]float64, p.Design.Numbers)
	z[0] = 1
	one := func(g, i int, w float64) {
		q := chain.Unseen(f.X, g, z, i, k, w, grad)
		sum += w * q
		own += w * q * (1 - q)
	}
	in := map[int32]bool{}
	for _, g := range gr.classes {
		in[int32(g)] = true
		for i := range k {
			n := p.Classes[g].Never(i)
			unknown += n
			if n > 0 && p.Design.Numbers == 1 {
				one(g, i, float64(n))
			}
		}
	}
	if p.Design.Numbers > 1 {
		h := p.Histories
		for r, g := range p.ClassOf {
			if !in[g] || h.End[r] != history.Open {
				continue
			}
			if i := p.Last(r); i < k {
				for m := range p.Z {
					z[m+1] = p.Z[m][r]
				}
				one(int(g), i, float64(h.Weight(r)))
			}
		}
	}
	known := float64(t.KnownPassed(k))
	e := Estimate{Value: known + sum, Status: status, SE: math.NaN(), Low: math.NaN(), High: math.NaN()}
	if unknown == 0 {
		e.SE, e.Low, e.High, e.Method = 0, known, known, "counted"
		return e
	}
	e.SE = math.Sqrt(f.variance(grad) + own)
	n := float64(unknown)
	if share := sum / n; share > 0 && share < 1 {
		low, high, method := f.interval(share, e.SE/n)
		e.Low, e.High, e.Method = known+n*low, known+n*high, method
	}
	return e
}

// withRetention divides a passed share by the share of tags kept, whose
// variance is binomial; the two are independent.
func (f *Fit) withRetention(e Estimate) Estimate {
	if math.IsNaN(e.Value) {
		return NoEstimate(e.Status)
	}
	r := f.Options.Retention
	kept := float64(r.Kept) / float64(r.Held)
	out := Estimate{Value: e.Value / kept, SE: math.NaN(), Low: math.NaN(), High: math.NaN(), Status: e.Status}
	rel := (1 - kept) / (kept * float64(r.Held))
	out.SE = out.Value * math.Sqrt(e.SE*e.SE/(e.Value*e.Value)+rel)
	out.Low, out.High, out.Method = f.interval(out.Value, out.SE)
	return out
}

// betweenCohorts sets the spread of the cohorts' passed shares beside the
// standard error of all fish.
func (f *Fit) betweenCohorts() {
	if len(f.Problem.Histories.Cohorts) < 5 {
		return
	}
	for i := range f.Passed {
		all := &f.Passed[i]
		if len(all.Of) > 0 {
			continue
		}
		var sum, sq, n float64
		for j := range f.Passed {
			c := &f.Passed[j]
			if c.Site == all.Site && len(c.Of) == 1 && c.Of[0].Name == model.Cohort && !math.IsNaN(c.PassedShare.Value) {
				sum += c.PassedShare.Value
				sq += c.PassedShare.Value * c.PassedShare.Value
				n++
			}
		}
		if n >= 5 {
			all.BetweenCohorts = math.Sqrt(max(0, (sq-sum*sum/n)/(n-1)))
		}
	}
}

// oneSite says what can be said with a single site and no own detection.
func (f *Fit) oneSite() {
	p := f.Problem
	if p.Layout.Sites() != 2 || ownDetection(p, 1) || len(f.Passed) == 0 || !math.IsNaN(f.Passed[0].PassedShare.Value) {
		return
	}
	seen := f.Passed[0].SeenShare
	o := &OneSite{Site: 1, Seen: seen}
	add := func(d float64) {
		o.If = append(o.If, IfDetection{d, min(1, seen.Value/d), min(1, seen.Low/d), min(1, seen.High/d)})
	}
	if seen.Value > 0 && seen.Value < 1 {
		add(seen.Value)
	}
	for step := 1; step <= 20; step++ {
		if d := float64(step) / 20; d > seen.Value+1e-9 || step == 20 {
			add(d)
		}
	}
	f.OneSite = o
}
