package travel

import (
	"cmp"
	"math"
	"slices"

	"example.org/unseen/history"
)

// ArrivalShares are the shares of [Arrival.Seen] and [Arrival.Corrected].
var ArrivalShares = [3]float64{0.1, 0.5, 0.9}

// arrival lists the arrivals at site k; nil where there are none.
func (r *Result) arrival(t *times, k, cohort int) *Arrival {
	a := &Arrival{Site: k, Cohort: cohort, Corrected: [3]int64{history.NoTime, history.NoTime, history.NoTime}}
	came, full := r.comers(t, k, cohort)
	if len(came) == 0 {
		return nil
	}
	byTime(came)
	a.Fish, a.First, a.Last = len(came), came[0].from, came[len(came)-1].from
	alike := !slices.ContainsFunc(full, func(p float64) bool { return p != full[0] })
	switch {
	case r.Options.Seen == nil:
		a.Why = "no model was fitted"
	case !alike && r.Options.SeenKnown != nil && !r.Options.SeenKnown(k):
		a.Why = "detection here is known only as a product with survival, and differs between the fish"
	default:
		var unseen []weighted
		if unseen, a.Why = r.unwatched(t, k, cohort); a.Why == "" {
			all := slices.Concat(came, unseen)
			byTime(all)
			a.Corrected = byShares(all)
		}
	}
	for i := range came {
		came[i].weight = 1
	}
	a.Seen = byShares(came)
	return a
}

// comers are the fish of a cohort seen at site k, each for 1/(probability that it
// was seen, by the rows at work when it came), and the probability of each by all
// rows.
func (r *Result) comers(t *times, k, cohort int) (came []weighted, full []float64) {
	for i := range t.h.Len() {
		ms, there := t.at(i, k, false)
		if !there || ms == history.NoTime || !t.in(i, cohort) {
			continue
		}
		w, p := weighted{ms, ms, 1}, 1.0
		if int(t.h.Entry[i]) != k && r.Options.Seen != nil {
			p = r.Options.Seen(i, k, history.NoTime)
			w.weight = 1 / r.Options.Seen(i, k, ms)
			if p <= 0 {
				w.weight = 0 // left out of the fit
			}
		}
		came, full = append(came, w), append(full, p)
	}
	return came, full
}

// mostHidden: where the fish that passed a site are told by those seen there
// alone, more than this share of a cohort must have had the chance.
const mostHidden = 0.5

// unwatched are the fish of a cohort that passed site k while no row of it was at
// work: the fish that passed in all, times the share of the passages in each slice
// of that time. Where their number is not known, it is those seen, as weighted,
// over the share of the passages in which some row was at work; only the
// proportions count then, and detection cancels.
func (r *Result) unwatched(t *times, k, cohort int) (out []weighted, why string) {
	if k == 0 || r.Options.Unwatched == nil {
		return nil, ""
	}
	for c := range t.h.Cohorts {
		if cohort != All && cohort != c {
			continue
		}
		u := r.Options.Unwatched(k, c)
		if len(u.Spells) == 0 {
			continue
		}
		passed := u.Passed
		if math.IsNaN(passed) {
			hidden := u.Share()
			if hidden > mostHidden {
				return nil, "how many fish passed here is not known, and most of them may have while no row was at work"
			}
			passed = 0
			seen, _ := r.comers(t, k, c)
			for _, w := range seen {
				passed += w.weight / (1 - hidden)
			}
		}
		for _, s := range u.Spells {
			out = append(out, weighted{s.From, s.To, passed * s.Share})
		}
	}
	return out, ""
}

// weighted is weight that came at a time, or evenly between two.
type weighted struct {
	from, to int64
	weight   float64
}

func byTime(came []weighted) {
	slices.SortStableFunc(came, func(x, y weighted) int { return cmp.Or(cmp.Compare(x.from, y.from), cmp.Compare(x.to, y.to)) })
}

// byShares is, for each of the ArrivalShares, the first time by which at least
// that share of the weight had come.
func byShares(came []weighted) [3]int64 {
	var total float64
	for _, c := range came {
		total += c.weight
	}
	out := [3]int64{history.NoTime, history.NoTime, history.NoTime}
	for j, share := range ArrivalShares {
		// Sums of equal weights are exact only up to rounding.
		need := share * total * (1 - 1e-12)
		var sum float64
		for _, c := range came {
			if sum += c.weight; sum >= need && c.weight > 0 {
				left := (sum - need) / c.weight
				out[j] = c.to - int64(left*float64(c.to-c.from))
				break
			}
		}
	}
	return out
}
