package travel

import (
	"math"
	"slices"

	"example.org/unseen/history"
)

// Arrival is when the fish of a cohort came to a site: its releases there and
// first sightings. Times are Unix milliseconds.
type Arrival struct {
	Site, Cohort int
	// Fish is the number with a known time.
	Fish        int
	First, Last int64
	// Seen are the times by which a tenth, half and nine tenths of the fish
	// seen had come.
	Seen [3]int64
	// Corrected are the same of all that passed: every fish seen stands for
	// 1/(probability that it was seen). NoTime where that cannot be had, with
	// Why. First and last cannot be corrected: who came unseen before the
	// first is not known.
	Corrected [3]int64
	Why       string
}

// ArrivalShares are the shares of [Arrival.Seen] and [Arrival.Corrected].
var ArrivalShares = [3]float64{0.1, 0.5, 0.9}

// arrival lists the arrivals at site k; nil where there are none.
func (r *Result) arrival(t *times, k, cohort int) *Arrival {
	a := &Arrival{Site: k, Cohort: cohort}
	var came []weighted
	alike := true
	for i := range t.h.Len() {
		ms, there := t.at(i, k, false)
		if !there || ms == history.NoTime || !t.in(i, cohort) {
			continue
		}
		w := weighted{ms, 1}
		if int(t.h.Entry[i]) != k && r.Options.Seen != nil {
			p := r.Options.Seen(i, k)
			if p <= 0 {
				// Left out of the fit.
				p = math.Inf(1)
			}
			w.weight = 1 / p
		}
		alike = alike && (len(came) == 0 || w.weight == came[0].weight)
		came = append(came, w)
	}
	if len(came) == 0 {
		return nil
	}
	slices.SortStableFunc(came, func(x, y weighted) int {
		switch {
		case x.ms < y.ms:
			return -1
		case x.ms > y.ms:
			return 1
		}
		return 0
	})
	a.Fish, a.First, a.Last = len(came), came[0].ms, came[len(came)-1].ms
	a.Corrected = [3]int64{history.NoTime, history.NoTime, history.NoTime}
	switch {
	case r.Options.Seen == nil:
		a.Why = "no model was fitted"
	case !alike && r.Options.SeenKnown != nil && !r.Options.SeenKnown(k):
		a.Why = "detection here is known only as a product with survival, and differs between the fish"
	default:
		a.Corrected = byShares(came)
	}
	for i := range came {
		came[i].weight = 1
	}
	a.Seen = byShares(came)
	return a
}

type weighted struct {
	ms     int64
	weight float64
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
				out[j] = c.ms
				break
			}
		}
	}
	return out
}
