package cjs

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/unseen/cjs/internal/maximum"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// warnPassedBelowSeen names the rows of the passed table whose passed % (while
// the season runs, passed so far) ends below the share seen, which is survival
// times detection and cannot truly be higher.
func (f *Fit) warnPassedBelowSeen() {
	river := &f.Problem.Histories.River
	var names []string
	for i := range f.Passed {
		row := &f.Passed[i]
		passed, what := row.PassedShare, "passed"
		if f.running != nil {
			passed, what = row.SoFar, "passed so far"
		}
		high, said := passed.High, fmt.Sprintf("%.1f–%.1f %%", 100*passed.Low, 100*passed.High)
		if math.IsNaN(high) {
			// What the study holds has no interval.
			high, said = passed.Value, fmt.Sprintf("%.1f %%", 100*passed.Value)
		}
		// Rounding alone parts two that are equal by no more.
		if seen := row.SeenShare.Value; high < seen-1e-9 {
			names = append(names, fmt.Sprintf("%s%s (seen %.1f %%, %s %s)", river.Sites[row.Site].Name, forWords(row.Of), 100*seen, what, said))
		}
	}
	if len(names) > 0 {
		f.warning(WarnPassedBelowSeen, "passed", "By the model fewer fish passed than were seen: %s. A model that shares values between cohorts, reaches or sites, or one with values held, may say less of some fish than was seen of them; for these fish it does not fit. Fish passed counts all that are known to have passed. Try a model that lets them differ (\"by cohort\"); unseen assess says where else it does not fit.",
			list(names, 6))
	}
}

// warnSpeeds tells where the model has fish travel alike in stretches in which
// they do not.
func (f *Fit) warnSpeeds() {
	s := f.Problem.Speeds()
	if !s.Differ() {
		return
	}
	sites := f.Problem.Histories.River.Sites
	drift, spread := f.Problem.TermsOf(model.Drift), f.Problem.TermsOf(model.Spread)
	var names []string
	for i, from := range s.From {
		names = append(names, fmt.Sprintf("%.3g km/day (spread %.3g km/√day) from %s to %s", s.Drift[i], s.Spread[i], sites[from].Name, sites[s.To[i]].Name))
	}
	then := "What is still to pass, and with it what will have passed by the season's end, may be too high or too low."
	switch first, last := s.Drift[0], s.Drift[len(s.Drift)-1]; {
	case last < first && !drift.ByReach():
		then = "Where they are slower downstream, fish still on their way are counted as dead: what will have passed by the season's end is too low."
	case last > first && !drift.ByReach():
		then = "Where they are faster downstream, dead fish are counted as still on their way: what will have passed by the season's end is too high."
	}
	f.warning(WarnSpeeds, "travel", "Migration differs between reaches: %s (likelihood ratio %.1f, %d df, p %s), but the model has drift %s and spread %s. %s Use drift %s and spread %s (%s).",
		strings.Join(names, ", "), s.Statistic, s.DF, equalsP(s.P), drift, spread, then, drift.PerReach(), spread.PerReach(),
		f.flagsWith(func(s *model.Spec) { s.Drift, s.Spread = drift.PerReach().String(), spread.PerReach().String() }))
}

// flagsWith are the flags that ask for the model with a change.
func (f *Fit) flagsWith(change func(*model.Spec)) string {
	s := f.Problem.Canonical()
	change(&s)
	return s.Flags()
}

// equalsP is p as it stands after "p".
func equalsP(p float64) string {
	if p < 0.001 {
		return pWords(p)
	}
	return "= " + pWords(p)
}

// warnBoundary names the estimates at 0 or 1.
func (f *Fit) warnBoundary() {
	if len(f.limits) == 0 {
		return
	}
	river := &f.Problem.Histories.River
	var names []string
	for _, s := range f.Survival {
		if s.Status == Boundary {
			n := fmt.Sprintf("survival %s%s is %.0f", river.Reach(s.From), forWords(s.Of), s.Value)
			if s.Raw > 1 {
				n += fmt.Sprintf(" (closed form %.3f)", s.Raw)
			}
			names = append(names, n)
		}
	}
	for _, d := range f.Detection {
		if d.Status == Boundary {
			names = append(names, fmt.Sprintf("detection at %s%s is %.0f", f.rowName(d.Site, d.Row), forWords(d.Of), d.Value))
		}
	}
	if len(names) == 0 {
		return // the fish are parted by a number, of which another warning speaks
	}
	f.warning(WarnBoundary, "estimates", "Estimate(s) on the boundary (0 or 1): %s. The data are compatible with the boundary, no more; read the interval, not the point. The standard errors of the others treat these values as known.", list(names, 6))
}

// warnLimits names the intervals of which an end could not be found.
func (f *Fit) warnLimits() {
	river := &f.Problem.Histories.River
	var names []string
	look := func(what string, of []Category, e *Estimate) {
		if e.Method != "profile" {
			return
		}
		var ends []string
		if math.IsNaN(e.Low) {
			ends = append(ends, "lower")
		}
		if math.IsNaN(e.High) {
			ends = append(ends, "upper")
		}
		if len(ends) > 0 {
			names = append(names, fmt.Sprintf("%s%s (%s end)", what, forWords(of), strings.Join(ends, " and ")))
		}
	}
	for i := range f.Survival {
		s := &f.Survival[i]
		look("survival "+river.Reach(s.From), s.Of, &s.Estimate)
	}
	for i := range f.Detection {
		d := &f.Detection[i]
		look("detection at "+f.rowName(d.Site, d.Row), d.Of, &d.Estimate)
	}
	for i := range f.Products {
		x := &f.Products[i]
		look("survival × detection at "+river.Sites[x.Site].Name, x.Of, &x.Estimate)
	}
	for i := range f.Passed {
		x := &f.Passed[i]
		look("passed "+river.Sites[x.Site].Name, x.Of, &x.PassedShare)
	}
	if len(names) > 0 {
		f.warning(WarnLimit, "estimates", "No limit was found for: %s. The search for a profile limit ended before it could be shown to be one, so that end is left out; the other end holds. Try a simpler model.", list(names, 6))
	}
}

const (
	// onASide: fish with a probability this near to 0 or 1 are on that side of
	// the value at which a number parts them.
	onASide = 0.1
	// fewBetween: where p(1 − p) over all fish adds up to less than this, too
	// few are between the sides for the slope to be known.
	fewBetween = 5
)

// warnSeparated tells where the fish are parted by a number: those on one side
// of some value have probability 0, those on the other 1, or nearly.
func (f *Fit) warnSeparated() {
	var names, numbers []string
	exact := false
	f.parting = f.partings()
	for _, p := range f.parting {
		var by []string
		for _, n := range p.numbers {
			by = append(by, f.Problem.Numbers[n].Name)
		}
		for _, n := range by {
			if !slices.Contains(numbers, n) {
				numbers = append(numbers, n)
			}
		}
		var sides []string
		for v, n := range p.fish {
			if n == 0 {
				continue
			}
			s := history.Say("%s for %d fish", p.side(v), n)
			if len(by) == 1 {
				s += fmt.Sprintf(" with %s %s to %s", by[0], short(p.low[v]), short(p.high[v]))
			}
			sides = append(sides, s)
		}
		exact = exact || p.exact
		names = append(names, f.slotName(p.slot)+" is "+strings.Join(sides, " and "))
	}
	if len(names) == 0 {
		return
	}
	with, how, slope := strings.Join(numbers, " and "), "all but completely", "so its coefficient is poorly known"
	if exact {
		how, slope = "completely", "so its coefficient has no value"
	}
	f.warning(WarnSeparated, with, "%s separates the fish %s: %s. The data show the direction of its effect, %s, but not how steep it is; intervals of shares that rest on it are rough. More fish with values between would show it; or use a model without %s.", with, how, list(names, 4), slope, with)
}

func (p *parted) side(v int) string {
	switch {
	case p.exact:
		return fmt.Sprint(v)
	case v == 0:
		return fmt.Sprintf("below %.1f", onASide)
	default:
		return fmt.Sprintf("above %.1f", 1-onASide)
	}
}

// partings are the slots at which a number parts the fish, or all but does.
func (f *Fit) partings() []parted {
	var out []parted
	if len(f.Problem.Numbers) == 0 {
		return nil
	}
	for a := range f.Problem.Layout.Slots() {
		if f.Problem.PartOf(a).Moves() {
			continue
		}
		p := f.partedAt(a)
		if p.exact && p.fish[0]+p.fish[1] > 0 || p.fish[0] >= fewBetween && p.fish[1] >= fewBetween && p.between < fewBetween {
			out = append(out, p)
		}
	}
	return out
}

// partedAt is how a number parts the fish at slot a.
func (f *Fit) partedAt(a int) parted {
	p := f.Problem
	out := parted{slot: a, low: [2]float64{math.Inf(1), math.Inf(1)}, high: [2]float64{math.Inf(-1), math.Inf(-1)}}
	for g := range p.Classes {
		out.exact = out.exact || f.design.Parts(g, a)
	}
	near := onASide
	if out.exact {
		near = 0
	}
	z := maximum.Constant(p.Design.Numbers)
	for i, g := range p.ClassOf {
		if g < 0 || !f.design.Varies(int(g), a) || int(p.Histories.Entry[i]) > p.Layout.Site(a) {
			continue
		}
		for n := range p.Z {
			z[n+1] = p.Z[n][i]
		}
		if out.numbers == nil {
			out.numbers = f.numbersOf(int(g), a)
		}
		pr := f.design.Prob(f.X, int(g), a, z)
		w := p.Histories.Weight(i)
		out.between += float64(w) * pr.P * pr.Q
		v := 0
		switch {
		case pr.P <= near:
		case pr.Q <= near:
			v = 1
		default:
			continue
		}
		out.fish[v] += w
		x := p.Histories.Column(p.Numbers[out.numbers[0]].Name).Value[i]
		out.low[v], out.high[v] = min(out.low[v], x), max(out.high[v], x)
	}
	return out
}

func (f *Fit) slotName(a int) string {
	p := f.Problem
	if k := p.Layout.Reach(a); k >= 0 {
		return "survival " + p.Histories.River.Reach(k)
	}
	if b := p.Layout.Row(a); b >= 0 {
		return "detection at " + p.Histories.River.RowLabel(b)
	}
	return "the share that rests"
}

// numbersOf are the numbers of the fish that the predictor of slot a has.
func (f *Fit) numbersOf(g, a int) []int {
	var out []int
	for _, e := range f.Problem.Design.Slots[g][a] {
		for _, n := range f.Problem.Products[e.Number] {
			if !slices.Contains(out, n) {
				out = append(out, n)
			}
		}
	}
	return out
}

func short(v float64) string { return fmt.Sprintf("%.4g", v) }

// oneLawP is the probability, with Bonferroni over two tests, below which fish are
// taken to differ.
const oneLawP = 0.01

// warnOneLaw tells where working windows lean on a law of travel that does not hold
// for each fish.
func (f *Fit) warnOneLaw() {
	speeds, rests := f.Problem.OneLaw()
	p := 2 * min(speeds, rests)
	if math.IsNaN(rests) {
		p = speeds
	}
	if !(p < oneLawP) {
		return
	}
	var sites []string
	for _, w := range f.Working {
		if name := f.Problem.Histories.River.Sites[w.Site].Name; !slices.Contains(sites, name) {
			sites = append(sites, name)
		}
	}
	seen, try := "Some fish migrate faster than others", "drift by cohort, release_day or a number of the fish, such as length"
	next := f.flagsWith(func(s *model.Spec) {
		if t := f.Problem.TermsOf(model.Drift).With(model.Cohort); len(f.Problem.Histories.Cohorts) > 1 {
			s.Drift = t.String()
		}
	})
	if rests < speeds {
		seen, try = "Some fish seem to rest after release", "a rest for some of them"
		next = f.flagsWith(func(s *model.Spec) { s.Rest = "same" })
	}
	if now := f.Problem.Canonical(); next != now.Flags() {
		try += ": " + next
	}
	f.warning(WarnOneLaw, "travel", "%s (score test, p %s), but the model has one law of travel for all fish alike. How many passed %s while a row there did not work comes from that law: what passed there may come out too high, or too low, and its interval may be too short. Try %s; if the warning stays, report what passed there with this reservation.",
		seen, equalsP(p), strings.Join(sites, " and "), try)
}
