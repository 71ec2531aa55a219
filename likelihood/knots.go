package likelihood

import (
	"cmp"
	"math"
	"slices"
)

// Where laws differ along the river each time costs an inversion. Sums over
// many fish alike of a smooth function of their times are then taken at a few
// times, with weights that give the same sum for every polynomial in log t of
// degree below [knotCount] on each panel; derivatives are those of that sum.

const (
	// knotCount times stand for more of a panel, which spans a factor of
	// knotRatio. Where times spread by a tenth of their mean, as hardly any
	// do so little, log χ of a fish is off by 1e-7; mostly by less than 1e-11.
	knotCount = 12
	knotRatio = 1.5
)

// timed is a time with a weight.
type timed struct{ days, weight float64 }

// knots are the times to take for all, in rising order.
func knots(all []timed) []timed {
	slices.SortFunc(all, func(a, b timed) int { return cmp.Or(cmp.Compare(a.days, b.days), cmp.Compare(a.weight, b.weight)) })
	panel := func(i int) float64 { return math.Floor(math.Log(all[i].days) / math.Log(knotRatio)) }
	var out []timed
	for from := 0; from < len(all); {
		to := from + 1
		for to < len(all) && panel(to) == panel(from) {
			to++
		}
		if of := all[from:to]; to-from <= knotCount || !(of[0].days > 0 && of[0].days < of[len(of)-1].days) {
			out = append(out, of...)
		} else {
			out = append(out, panelKnots(of)...)
		}
		from = to
	}
	return out
}

// panelKnots are Chebyshev points between the first time and the last, each
// with the sum of its Lagrange polynomial over the times (barycentric form:
// Berrut & Trefethen 2004, SIAM Review 46:501–517).
func panelKnots(of []timed) []timed {
	low, high := math.Log(of[0].days), math.Log(of[len(of)-1].days)
	out := make([]timed, knotCount)
	c := chebyshevOn(low, high)
	for m := range out {
		out[m].days = math.Exp(c.at[m])
	}
	for _, t := range of {
		for m, share := range c.shares(math.Log(t.days)) {
			out[m].weight += t.weight * share
		}
	}
	return out
}

// chebyshev are knotCount points of a stretch with their barycentric weights.
type chebyshev struct{ at, weight [knotCount]float64 }

func chebyshevOn(low, high float64) (c chebyshev) {
	for m := range c.at {
		angle := math.Pi * (float64(knotCount-m) - 0.5) / knotCount
		c.at[m] = (low+high)/2 + (high-low)/2*math.Cos(angle)
		c.weight[m] = math.Sin(angle)
		if m%2 == 1 {
			c.weight[m] = -c.weight[m]
		}
	}
	return c
}

// shares are the Lagrange polynomials at u.
func (c *chebyshev) shares(u float64) (share [knotCount]float64) {
	if m := slices.Index(c.at[:], u); m >= 0 {
		share[m] = 1
		return share
	}
	var sum float64
	for m := range share {
		share[m] = c.weight[m] / (u - c.at[m])
		sum += share[m]
	}
	for m := range share {
		share[m] /= sum
	}
	return share
}

// few puts knots in place of the items of which key tells that they are alike
// but for time and weight; ok false: an item stays as it is.
func few[T any, K comparable](items []T, key func(*T) (k K, t timed, ok bool), with func(T, timed) T) []T {
	var out []T
	var order []K
	groups := map[K][]timed{}
	first := map[K]T{}
	for i := range items {
		k, t, ok := key(&items[i])
		if !ok {
			out = append(out, items[i])
			continue
		}
		if _, had := groups[k]; !had {
			order = append(order, k)
			first[k] = items[i]
		}
		groups[k] = append(groups[k], t)
	}
	for _, k := range order {
		for _, t := range knots(groups[k]) {
			out = append(out, with(first[k], t))
		}
	}
	return out
}

type alikeKey struct {
	class, from, to int
	fresh           bool
}

// fewTravelTimes are the travel times to go through under d; days is the time of one that
// can be put together with others: its own, or that within which it ended.
func fewTravelTimes(d *Design, travelTimes []TravelTime, days func(*TravelTime) *float64) []TravelTime {
	return few(travelTimes, func(t *TravelTime) (alikeKey, timed, bool) {
		return alikeKey{t.Class, t.From, t.To, t.Fresh}, timed{*days(t), t.Weight}, !d.Differs(t.Class)
	}, func(t TravelTime, k timed) TravelTime {
		*days(&t), t.Weight = k.days, k.weight
		return t
	})
}

func (t *TravelTime) days() *float64 { return &t.Days }

func (t *TravelTime) within() *float64 { return &t.Within }

func fewWaits(d *Design, waits []Wait) []Wait {
	return few(waits, func(w *Wait) (alikeKey, timed, bool) {
		return alikeKey{w.Class, w.Site, -1, w.Fresh}, timed{w.Days, w.Weight}, !d.Differs(w.Class)
	}, func(w Wait, k timed) Wait {
		w.Days, w.Weight = k.days, k.weight
		return w
	})
}
