package changes

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/unseen/cmd/unseen/internal/wire"
)

// item is a number of one answer.
type item struct {
	what, place string
	of          map[string]string
	wire.Estimate
	digits int
}

// running tells whether an answer is of a season that still ran.
func running(f *wire.Fit) bool { return f.SeasonOver != nil }

// items are the numbers of an answer besides passed %, survival and detection.
func items(f *wire.Fit) (out []item) {
	nan := wire.Number(math.NaN())
	add := func(what string, of map[string]string, place string, digits int, e wire.Estimate) {
		// An earlier version may lack a number; then it has no status either.
		if e.Status != "" && e.Status != "absent" {
			out = append(out, item{what, place, of, e, digits})
		}
	}
	bare := func(what string, of map[string]string, place string, digits int, n wire.Number) {
		if !math.IsNaN(float64(n)) {
			out = append(out, item{what, place, of, wire.Estimate{Estimate: n, SE: nan, Low: nan, High: nan}, digits})
		}
	}
	soFar := ""
	if running(f) {
		soFar = " so far"
	}
	for _, p := range f.Passed {
		add("passed so far %", p.Of, p.Site, 1, p.SoFar)
		add("still to pass %", p.Of, p.Site, 1, p.StillToPass)
		add("passed % had no tag been lost", p.Of, p.Site, 1, p.WithRetention)
		add("fish passed"+soFar, p.Of, p.Site, 0, p.PassedFish)
		add("fish passed"+soFar+", % of those released", p.Of, p.Site, 1, p.PassedFishPercent)
		add("seen"+soFar+" %", p.Of, p.Site, 1, p.SeenPercent)
		add("detection %", p.Of, p.Site, 1, p.DetectionPercent)
		bare("passed % between cohorts, standard deviation", p.Of, p.Site, 1, p.BetweenCohorts)
		for _, n := range []struct {
			what string
			n    int
		}{{"fish released above", p.Released}, {"fish removed above", p.RemovedAbove}, {"fish seen" + soFar, p.Seen}, {"fish known to have passed" + soFar, p.KnownPassed}} {
			bare(n.what, p.Of, p.Site, 0, wire.Number(n.n))
		}
	}
	for _, s := range f.Survival {
		bare("survival, closed form", s.Of, s.From+" to "+s.To, 3, s.Raw)
	}
	for _, p := range f.Inseparable {
		add("survival × detection", p.Of, p.From+" to "+p.To, 3, p.Product)
	}
	for _, m := range f.Movement {
		add("drift km/day", m.Of, "", 1, m.Drift)
		add("spread km/√day", m.Of, "", 1, m.Spread)
		add("rest after release %", m.Of, "", 1, m.Rest)
		add("rest after release, days", m.Of, "", 1, m.RestDays)
	}
	if s := f.SeasonOver; s != nil {
		for _, p := range s.Passed {
			add("passed %, season treated as complete", p.Of, p.Site, 1, p.PassedPercent)
		}
		for _, x := range s.Survival {
			add("survival, season treated as complete", x.Of, x.From+" to "+x.To, 3, x.Estimate)
		}
	}
	if o := f.OneSite; o != nil {
		for _, x := range o.If {
			bare(fmt.Sprintf("passed %%, at a detection of %.0f %%", float64(x.DetectionPercent)), nil, o.Site, 1, x.PassedPercent)
			out[len(out)-1].Low, out[len(out)-1].High = x.Low, x.High
		}
	}
	for _, t := range f.RowTests {
		place := t.Site + "/" + t.RowA + " and " + t.RowB
		bare("rows alike, p", nil, place, 3, t.P)
		for _, n := range []struct {
			by string
			n  int
		}{{"both rows", t.Both}, {t.RowA + " alone", t.OnlyA}, {t.RowB + " alone", t.OnlyB}, {"neither row", t.Neither}} {
			bare("fish detected downstream, detected by "+n.by, nil, place, 0, wire.Number(n.n))
		}
	}
	for _, c := range f.Coefficients {
		place := string(c.Part) + ": " + against(c.Term, c.Against)
		bare("coefficient", nil, place, 3, c.Estimate)
		if !math.IsNaN(float64(c.Estimate)) {
			out[len(out)-1].SE = c.SE
		}
		bare("coefficient, per standard deviation", nil, place, 3, c.PerSD)
	}
	for _, r := range f.Effects.Ratios {
		place := string(r.Part) + ": " + against(r.Term, r.Against)
		add(r.Kind, nil, place, 3, r.PerUnit)
		add(r.Kind+", per standard deviation", nil, place, 3, r.PerSD)
	}
	for _, p := range f.Effects.Paces {
		add(fmt.Sprintf("survival per %g %s", float64(p.Length), p.Unit), p.Of, p.From+" to "+p.To, 3, p.Survival)
	}
	for _, r := range f.Effects.Relative {
		add("share passed, relative to "+r.Against, map[string]string{"cohort": r.Cohort}, r.Site, 3, r.Ratio)
	}
	return out
}

func against(term, level string) string {
	if level == "" {
		return term
	}
	return term + " against " + level
}

// numbers are all of [items] before and now.
func numbers(before, now *wire.Fit) []Number {
	out := []Number{}
	old, cur := items(before), items(now)
	byWhat := map[string]int{}
	for _, list := range [][]item{cur, old} {
		for _, x := range list {
			byWhat[x.what] = x.digits
		}
	}
	// The number's name is part of where it stands while they are paired.
	const cut = "\x00"
	read := func(x item) (map[string]string, string, wire.Estimate) {
		return x.of, x.what + cut + x.place, x.Estimate
	}
	for _, e := range pair(old, cur, read) {
		what, place, _ := strings.Cut(e.Place, cut)
		e.Place = place
		if e.Of == nil {
			e.Of = map[string]string{}
		}
		out = append(out, Number{what, e, byWhat[what]})
	}
	// Those of one name stand together, names in the order in which they come.
	order := map[string]int{}
	for _, n := range out {
		if _, known := order[n.What]; !known {
			order[n.What] = len(order)
		}
	}
	slices.SortStableFunc(out, func(a, b Number) int { return order[a.What] - order[b.What] })
	return out
}

// passedName is what passed % of an answer is.
func passedName(running bool) string {
	if running {
		return "passed % at the season's end"
	}
	return "passed %"
}

// Moved tells whether the number differs in the digits shown.
func (n *Number) Moved() bool { return n.Pair.Moved(0.5 * math.Pow10(-n.digits)) }
