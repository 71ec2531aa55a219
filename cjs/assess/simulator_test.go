package assess_test

import (
	"fmt"
	"math"
	"math/rand/v2"

	"example.org/unseen/history"
)

// design is a study to simulate, with what breaks the model. Fish live by
// survival and detection, the same in all reaches and at all rows unless a
// breaker says otherwise.
type design struct {
	Name                string  `json:"name"`
	Fish                []int   `json:"fish"` // newly tagged at each site, of each cohort
	Cohorts             int     `json:"cohorts"`
	Sites               int     `json:"sites"`
	Survival, Detection float64 `json:"-"`
	// Rows is the number of rows at every site below the first but the last.
	Rows    int     `json:"-"`
	Removed float64 `json:"-"` // share of the fish seen at site 2 that is taken out there

	taggingDeath  float64 // share of the newly tagged that die before anything else
	shy           float64 // newly tagged: detection at the next site less by that share
	otherKind     float64 // share of fish of another kind
	kindDetection float64 // their detection
	kindSurvival  float64 // and survival
	memory        float64 // seen at one site: detection at the next less by that share
	// longMemory: seen at a site, missed at the next: detection at the one
	// after less by that share, and at the one after that, if missed again,
	// more by longBack, so that as many as ever are seen again.
	longMemory, longBack float64
	// turns: seen at a site and the one above it: detection at the next less
	// by that share; seen here only: more by turnsBack.
	turns, turnsBack float64
	lateHarm         float64 // seen at a site: survival of the reach after next less
	shadow           float64 // share of passages that no row of the site can see
}

func (d *design) river() history.River {
	var r history.River
	for k := range d.Sites {
		s := history.Site{Name: fmt.Sprint("site ", k), Km: math.NaN(), Days: math.NaN()}
		for i := range d.Rows {
			if d.Rows > 1 && k > 0 && k < d.Sites-1 {
				s.Rows = append(s.Rows, fmt.Sprint("row ", i+1))
			}
		}
		r.Sites = append(r.Sites, s)
	}
	return r
}

// simulate draws one study.
func (d *design) simulate(rnd *rand.Rand) *history.Histories {
	h := &history.Histories{River: d.river()}
	for c := range max(1, d.Cohorts) {
		h.Cohorts = append(h.Cohorts, fmt.Sprint(c+1))
		for site, n := range d.Fish {
			for range n {
				seen, end := d.fish(rnd, &h.River, site)
				h.Cohort = append(h.Cohort, int32(c))
				h.Entry = append(h.Entry, uint8(site))
				h.Seen = append(h.Seen, seen)
				h.End = append(h.End, end)
			}
		}
	}
	return h
}

// fish draws one history.
func (d *design) fish(rnd *rand.Rand, river *history.River, entry int) (seen uint64, end history.End) {
	survival, detection := d.Survival, d.Detection
	if d.otherKind > 0 && rnd.Float64() < d.otherKind {
		survival, detection = d.kindSurvival, d.kindDetection
	}
	if d.taggingDeath > 0 && rnd.Float64() < d.taggingDeath {
		return 0, history.Open
	}
	row := 0
	for k := 1; k <= entry; k++ {
		row += river.Sites[k].RowCount()
	}
	// Seen at the last site, at the one before it, at the one before that.
	var last, before, third bool
	for k := entry + 1; k < d.Sites; k++ {
		s := survival
		if before {
			s *= 1 - d.lateHarm
		}
		if rnd.Float64() >= s {
			break
		}
		p := detection
		if last {
			p *= 1 - d.memory
		}
		switch {
		case before && !last:
			p *= 1 - d.longMemory
		case third && !before && !last:
			p *= 1 + d.longBack
		}
		switch {
		case last && before:
			p *= 1 - d.turns
		case last && k > entry+2:
			p *= 1 + d.turnsBack
		}
		if k == entry+1 {
			p *= 1 - d.shy
		}
		hidden := d.shadow > 0 && rnd.Float64() < d.shadow
		here := false
		for range river.Sites[k].RowCount() {
			if rnd.Float64() < p && !hidden {
				seen |= 1 << uint(row)
				here = true
			}
			row++
		}
		last, before, third = here, last, before
		if here && k == 2 && d.Removed > 0 && rnd.Float64() < d.Removed {
			return seen, history.Removed
		}
	}
	return seen, history.Open
}
