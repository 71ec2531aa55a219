package cjs

import (
	"cmp"
	"math"
	"slices"

	"example.org/unseen/history"
	"example.org/unseen/likelihood/passtime"
)

const (
	// silenceP is the probability, by chance and with Bonferroni over rows, below
	// which a silence is told of: small, as fish that go together leave gaps too.
	silenceP = 0.001
	// silenceDays: fish that move by night leave a gap each day.
	silenceDays = 1.0
	// silenceFish are the fewest detections that tell a silence, mostLawFish as
	// many as stand for all in the law, mostSilences the longest looked at.
	silenceFish, mostLawFish, mostSilences = 20, 2000, 20
	dayMs                                  = 24 * 60 * 60 * 1000
)

// silence is the largest gap between the detections at a row.
type silence struct {
	from, to int64   // Unix milliseconds
	share    float64 // of the detections that would have fallen into it
	passages float64 // of all passages, of fish as they were released
	p        float64
}

// warnSilences names the rows that may have stood still.
func (f *Fit) warnSilences() {
	p := f.Problem
	h := p.Histories
	if h.First == nil || h.Released == nil {
		return
	}
	for _, s := range h.River.Sites {
		if math.IsNaN(s.Km) {
			return
		}
	}
	rows := p.Layout.RowCount()
	for b := range rows {
		s, ok := f.silence(b)
		if !ok || s.p*float64(rows) >= silenceP {
			continue
		}
		label := h.River.RowLabel(b)
		then := "An outage that is not declared makes detection there look low, and can bias survival above and below."
		if p.Layout.Site(p.Layout.Detection(b))+1 == p.Layout.Sites()-1 {
			then = "At the last site fish that passed in an outage count as dead, and passed % is too low."
		}
		f.warning(WarnOutage, label, "%s detected no fish from %s to %s, a time into which %.0f %% of the passages there would have fallen by the law of travel (p %s). %s If it was out of service, give the times it worked, working = [[from, to], …]: the estimates then allow for the outage.",
			label, p.Moment(s.from), p.Moment(s.to), 100*s.passages, equalsP(s.p), then)
	}
}

// coming is a fish on its way to a row, and when it was detected there.
type coming struct {
	from, at int64
	km       float64
}

// silence is the gap between detections at numbered row b with the largest share
// of its detections, by the law of travel of the fish detected there: the times
// made uniform by the mean of their laws. ok is false where there is too little.
func (f *Fit) silence(b int) (worst silence, ok bool) {
	fish := f.coming(b)
	if len(fish) < silenceFish {
		return worst, false
	}
	var way, days, quick float64
	for _, c := range fish {
		t := float64(c.at-c.from) / dayMs
		way, days, quick = way+c.km, days+t, quick+c.km*c.km/t
	}
	v := way / days
	spread := math.Sqrt((quick - v*way) / float64(len(fish)))
	step := (len(fish) + mostLawFish - 1) / mostLawFish
	come := func(ms int64) float64 { // share come by then
		var sum, n float64
		for i := 0; i < len(fish); i += step {
			sum += passtime.Law{Km: fish[i].km, Drift: v, Spread: spread}.CDF(float64(ms-fish[i].from) / dayMs)
			n++
		}
		return sum / n
	}
	end := fish[len(fish)-1].at
	idle := f.Problem.IdleTimes(b, end)
	worked := func(ms int64) float64 { // share come by then while it worked
		sum := come(ms)
		for _, w := range idle {
			if w[0] < ms {
				sum -= come(min(ms, w[1])) - come(w[0])
			}
		}
		return sum
	}
	type gap struct{ from, to int64 }
	var gaps []gap
	for i, c := range fish[1:] {
		if g := (gap{fish[i].at, c.at}); float64(g.to-g.from) >= silenceDays*dayMs {
			gaps = append(gaps, g)
		}
	}
	slices.SortFunc(gaps, func(a, b gap) int { return cmp.Compare(b.to-b.from, a.to-a.from) })
	all := worked(end)
	for _, g := range gaps[:min(len(gaps), mostSilences)] {
		if share := (worked(g.to) - worked(g.from)) / all; share > worst.share {
			worst = silence{from: g.from, to: g.to, share: share, p: gapProbability(len(fish), share)}
		}
	}
	worst.passages = f.passagesWithin(b, worst.from, worst.to, v, spread)
	return worst, worst.share > 0 && spread > 0
}

// passagesWithin is, of the passages of row b by fish as they were released, the
// share from one moment to another.
func (f *Fit) passagesWithin(b int, from, to int64, drift, spread float64) float64 {
	p := f.Problem
	h := p.Histories
	k := p.Site(p.Layout.Detection(b))
	var sum, n float64
	for i, g := range p.ClassOf {
		if g < 0 || !h.New(i) || int(h.Entry[i]) >= k || h.Released[i] == history.NoTime {
			continue
		}
		law := passtime.Law{Km: math.Abs(h.River.Sites[k].Km - h.River.Sites[h.Entry[i]].Km), Drift: drift, Spread: spread}
		w := float64(h.Weight(i))
		sum += w * (law.CDF(float64(to-h.Released[i])/dayMs) - law.CDF(float64(from-h.Released[i])/dayMs))
		n += w
	}
	return sum / n
}

// coming are the fish detected at numbered row b, by the time they were.
func (f *Fit) coming(b int) (out []coming) {
	p := f.Problem
	h, rows := p.Histories, p.Layout.RowCount()
	k := p.Site(p.Layout.Detection(b))
	for i, g := range p.ClassOf {
		at := h.First[i*rows+b]
		if g < 0 || h.Seen[i]>>uint(b)&1 == 0 || at == history.NoTime || h.Released[i] == history.NoTime {
			continue
		}
		j, from := int(h.Entry[i]), h.Released[i]
		for above := j + 1; above < k; above++ {
			if t := p.Histories.FirstAt(i, above); t != history.NoTime {
				j, from = above, t
			}
		}
		if km := math.Abs(h.River.Sites[k].Km - h.River.Sites[j].Km); km > 0 && at > from {
			out = append(out, coming{from, at, km})
		}
	}
	slices.SortFunc(out, func(a, b coming) int { return cmp.Compare(a.at, b.at) })
	return out
}

// gapProbability is that the largest of the n+1 gaps that n points drawn evenly
// leave in 0..1 is g or more (Fisher 1929, Proceedings of the Royal Society A
// 125:54–59):
//
//	Σ_{j≥1} (−1)^{j+1} C(n+1, j) (1 − jg)₊ⁿ
//
// Where the first term is not small the sum is not taken, and is 1 at most.
func gapProbability(n int, g float64) float64 {
	logC, sum, sign := 0.0, 0.0, 1.0
	for j := 1; float64(j)*g < 1 && j <= n+1; j++ {
		logC += math.Log(float64(n+2-j) / float64(j))
		term := math.Exp(logC + float64(n)*math.Log1p(-float64(j)*g))
		if j == 1 && term > 0.1 {
			return min(1, term)
		}
		sum += sign * term
		if sign = -sign; term < 1e-12*sum {
			break
		}
	}
	return sum
}
