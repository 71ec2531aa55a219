package cjs

import (
	"context"
	"math"
	"slices"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/likelihood"
)

// fishGroups are the newly released fish of each class by entry, and the fish
// never seen again by the site they were last seen at.
func (f *Fit) fishGroups() (fresh, never []likelihood.FishGroup) {
	p := f.Problem
	sites := p.Layout.Sites()
	if p.Design.Numbers == 1 {
		for g := range p.Classes {
			t := &p.Classes[g].Tally
			for k := range sites - 1 {
				if n := t.New[k]; n > 0 {
					fresh = append(fresh, likelihood.FishGroup{Class: g, Site: k, Weight: []float64{float64(n)}, N: 1})
				}
				if n := t.Never(k); n > 0 {
					never = append(never, likelihood.FishGroup{Class: g, Site: k, Weight: []float64{float64(n)}, N: 1})
				}
			}
		}
		return fresh, never
	}
	h := p.Histories
	make2 := func() []likelihood.FishGroup {
		out := make([]likelihood.FishGroup, len(p.Classes)*sites)
		for i := range out {
			out[i] = likelihood.FishGroup{Class: i / sites, Site: i % sites, Z: make([][]float64, len(p.Z))}
		}
		return out
	}
	fresh, never = make2(), make2()
	add := func(b *likelihood.FishGroup, i int) {
		for m, z := range p.Z {
			b.Z[m] = append(b.Z[m], z[i])
		}
		if h.Count != nil {
			b.Weight = append(b.Weight, float64(h.Count[i]))
		}
		b.N++
	}
	for i, g := range p.ClassOf {
		if g < 0 {
			continue
		}
		if h.New(i) {
			add(&fresh[int(g)*sites+int(h.Entry[i])], i)
		}
		if h.End[i] == history.Open {
			add(&never[int(g)*sites+p.Last(i)], i)
		}
	}
	return fresh, never
}

// mean is the mean over the group's newly released fish that entered above
// site k of a probability made of the factors given for each entry.
func (f *Fit) mean(ctx context.Context, gr *group, ps []likelihood.PassedSums, fresh []likelihood.FishGroup, k int, complement bool, factors func(entry int) []likelihood.Factor) (e Estimate, grad []float64, err error) {
	grad = make([]float64, f.Parameters)
	value, _, fish := f.sumOver(gr, ps, k, grad)
	for j := range grad {
		grad[j] /= fish
	}
	// The quantity with its fish is needed only for a profile.
	q := meanQuantity(gr, fresh, k, factors)
	q.Complement = complement
	e, err = f.conclude(ctx, value/fish, grad, q, func() *likelihood.Quantity { return q })
	return e, grad, err
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

// passing is a row of the passed table that waits for intervals by profile
// likelihood; ends are those at whose limits the fish that passed are counted too.
type passing struct {
	Passed
	group *group
	tally *model.Tally
	ends  []*pending
}

// passed fills the passed table; with only the shares, for refits, the rest
// stays empty.
func (f *Fit) passed(ctx context.Context, sharesOnly bool) error {
	p := f.Problem
	fresh, never := f.fishGroups()
	survived := likelihood.Survived(f.design, f.X, fresh)
	var detected, unseen []likelihood.PassedSums
	switch {
	case sharesOnly:
	case f.running != nil:
		unseen = f.running.unseen
	default:
		unseen = f.unseen(f.design, f.X, never, nil)
	}
	if !sharesOnly {
		detected = likelihood.Detected(f.design, f.X, fresh)
	}
	var rows []passing
	for _, gr := range f.passedGroups() {
		t := gr.tally(p)
		for k := 1; k < p.Layout.Sites(); k++ {
			row := passing{group: &gr, tally: &t, Passed: Passed{Of: gr.of, Site: k, Released: t.NewAbove(k), Removed: t.RemovedAbove(k), Seen: t.Seen[k],
				KnownPassed: t.KnownPassed(k), BetweenCohorts: math.NaN(),
				WithRetention: NoEstimate(Absent), SoFar: NoEstimate(Absent), StillToPass: NoEstimate(Absent)}}
			if row.Released == 0 {
				continue
			}
			row.SeenShare = Wilson(t.Seen[k], row.Released-row.Removed, f.z)
			var err error
			if row.PassedShare, row.grad, err = f.mean(ctx, &gr, survived, fresh, k, false, f.above(k)); err != nil {
				return err
			}
			value, _, n := f.sumOver(&gr, survived, k, nil)
			row.point = value / n
			if !sharesOnly {
				if err := f.seenAndFish(ctx, &row, detected, unseen, fresh); err != nil {
					return err
				}
			}
			rows = append(rows, row)
		}
	}
	if err := f.find(ctx); err != nil || f.accused != nil && f.mayTry() {
		return err // or the fit will be made again
	}
	for i := range rows {
		row := &rows[i]
		share := row.PassedShare.pending
		settle(&row.PassedShare, &row.Detection)
		if f.running != nil {
			f.running.row(row.group, &row.Passed, fresh, share)
		}
		if !sharesOnly {
			for _, at := range row.ends {
				f.passedFishAt(at.ends, row, never)
			}
			if row.PassedFish.Status == TooEarly {
				row.PassedFish.Value, row.PassedFish.SE = math.NaN(), math.NaN()
			}
			row.PassedFishShare = FishShare(row.PassedFish, row.Released)
			if f.Options.Retention.Held > 0 && row.PassedShare.Method != "bounds" {
				var err error
				if row.WithRetention, err = f.withRetention(ctx, row.PassedShare, meanQuantity(row.group, fresh, row.Site, f.above(row.Site)), share); err != nil {
					return err
				}
			}
		}
		f.Passed = append(f.Passed, row.Passed)
	}
	f.tooEarlyFor()
	f.betweenCohorts()
	if !sharesOnly {
		f.oneSite()
	}
	return nil
}

// seenAndFish sets the detection of a row and the fish that passed.
func (f *Fit) seenAndFish(ctx context.Context, row *passing, detected, unseen []likelihood.PassedSums, fresh []likelihood.FishGroup) (err error) {
	var missed []likelihood.Factor
	from, to := f.Problem.Layout.SiteRows(row.Site)
	for b := from; b < to; b++ {
		missed = append(missed, likelihood.Factor{Slot: f.Problem.Layout.Detection(b), Miss: true})
	}
	if row.Detection, _, err = f.mean(ctx, row.group, detected, fresh, row.Site, true, func(int) []likelihood.Factor { return missed }); err != nil || row.PassedShare.Method == "bounds" {
		return err
	}
	status := row.PassedShare.Status
	if status == TooEarly && f.running != nil { // they are those by the end of the data
		status = f.running.comeStatus(row.group, row.Site, fresh)
	}
	row.PassedFish = f.passedFish(row.group, row.tally, unseen, row.Site, status)
	for _, e := range []*Estimate{&row.PassedShare, &row.Detection} {
		if e.Method == "profile" {
			row.ends = append(row.ends, e.pending)
		}
	}
	if f.running == nil && row.ends == nil && math.IsNaN(row.PassedFish.Low) && row.PassedShare.Method == "logit" {
		// All of the unseen passed, or none, as far as the estimates go: the
		// limits of the share tell how sure that is.
		row.ends = append(row.ends, f.ask(meanQuantity(row.group, fresh, row.Site, f.above(row.Site)), row.PassedShare).pending)
	}
	return nil
}

// passedFishAt widens the interval of the fish that passed where something has an
// interval by profile likelihood: at a bound the covariance says nothing of how far
// the parameters may be off, so the number is taken at both of its limits (ends)
// instead.
func (f *Fit) passedFishAt(ends [2][]float64, row *passing, never []likelihood.FishGroup) {
	e := &row.PassedFish
	if math.IsNaN(e.Value) || e.Method == "counted" {
		return
	}
	known := float64(row.KnownPassed)
	low, high := e.Low, e.High
	if math.IsNaN(low) || e.Method == "wald" {
		low, high = e.Value, e.Value
	}
	for _, x := range ends {
		d := f.Problem.Design
		if x == nil {
			x, d = f.X, f.design
		}
		sum, own, unknown := f.sumOver(row.group, f.unseen(d, x, never, row.group.classes), row.Site, nil)
		// Off by the parameters, and by chance of these fish.
		off := math.Hypot(known+sum-e.Value, f.z*math.Sqrt(own))
		if known+sum <= e.Value {
			low = min(low, max(known, e.Value-off))
		}
		if known+sum >= e.Value {
			high = max(high, min(known+unknown, e.Value+off))
		}
	}
	if math.IsNaN(e.Low) || e.Method == "wald" || low < e.Low || high > e.High {
		e.Low, e.High, e.Method = low, high, "profile"
	}
}

// unseen are the fish never seen again (also as never), by what they have passed;
// of some classes, or nil for all.
func (f *Fit) unseen(d *likelihood.Design, x []float64, never []likelihood.FishGroup, classes []int) []likelihood.PassedSums {
	others := func(class int) bool { return classes != nil && !slices.Contains(classes, class) }
	if f.Problem.Timed() {
		waits := slices.Clone(f.Problem.Data.Waits)
		return likelihood.UnseenBy(d, x, slices.DeleteFunc(waits, func(w likelihood.Wait) bool { return others(w.Class) }))
	}
	return likelihood.Unseen(d, x, slices.DeleteFunc(slices.Clone(never), func(g likelihood.FishGroup) bool { return others(g.Class) }))
}

// tooEarlyFor names the cohorts for which it is too early at a site where it is not
// for all fish together.
func (f *Fit) tooEarlyFor() {
	for i := range f.Passed {
		all := &f.Passed[i]
		if len(all.Of) > 0 || math.IsNaN(all.PassedShare.Value) {
			continue
		}
		for j := range f.Passed {
			c := &f.Passed[j]
			if c.Site == all.Site && len(c.Of) == 1 && c.Of[0].Name == model.Cohort && c.PassedShare.Status == TooEarly {
				all.TooEarlyFor = append(all.TooEarlyFor, c.Of[0].Level)
			}
		}
	}
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

// FishShare is a number of fish that passed as a share of those released.
func FishShare(fish Estimate, released int) Estimate {
	n := float64(released)
	fish.Value, fish.SE, fish.Low, fish.High = fish.Value/n, fish.SE/n, fish.Low/n, fish.High/n
	return fish
}
