package assess_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"example.org/unseen/cjs/assess"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
	"example.org/unseen/history/study"
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

	// idle are the days (from the first release) in which numbered rows stood
	// still, as declared; nil: there are no times.
	idle map[int][2]float64
	some int // replicates; 0: as many as is usual
}

// With times fish are let go at noon of 15 days in turn, at each site the same,
// and travel 30 km between sites at 6 km/day with a spread of 9 km/√day.
const (
	reachKm   = 30.0
	driftKm   = 6.0
	spreadKm  = 9.0
	oneDay    = int64(24 * 60 * 60 * 1000)
	firstDay  = 20_180 * oneDay
	daysOfRun = 15
)

// clock is the time of one fish.
type clock struct {
	rnd  *rand.Rand
	idle map[int][2]float64
	at   float64
	seen []int64 // by row
}

// travel lets a reach go by: Michael, Schucany & Haas 1976, The American
// Statistician 30:88–90.
func (c *clock) travel() {
	if c == nil {
		return
	}
	m, shape := reachKm/driftKm, reachKm*reachKm/(spreadKm*spreadKm)
	z := c.rnd.NormFloat64()
	y := m * z * z / (2 * shape)
	x := m * (1 + y - math.Sqrt(y*(2+y)))
	if c.rnd.Float64() > m/(m+x) {
		x = m * m / x
	}
	c.at += x
}

// sees tells whether a row works now, and takes down the time.
func (c *clock) sees(row int) bool {
	if c == nil {
		return true
	}
	if w, ok := c.idle[row]; ok && c.at >= w[0] && c.at < w[1] {
		return false
	}
	c.seen[row] = c.ms()
	return true
}

func (c *clock) ms() int64 { return firstDay + int64(c.at*float64(oneDay)) }

// working are the windows of the rows.
func (d *design) working() [][]study.Window {
	river := d.river()
	out := make([][]study.Window, river.Rows())
	for b, w := range d.idle {
		at := func(day float64) time.Time { return time.UnixMilli(firstDay + int64(day*float64(oneDay))) }
		out[b] = []study.Window{{To: at(w[0])}, {From: at(w[1])}}
	}
	return out
}

// check puts a study to the test, with what it says of its rows.
func (d *design) check(h *history.Histories) *assess.Result {
	if d.idle == nil {
		r, err := assess.Check(h, assess.Options{})
		if err != nil {
			panic(err)
		}
		return r
	}
	p, err := model.Build(model.Input{Histories: h, Working: d.working()}, model.Spec{Survival: "reach by cohort", Detection: "row", Drift: "same", Spread: "same"})
	if err != nil {
		panic(err)
	}
	return assess.OfModel(p)
}

func (d *design) river() history.River {
	var r history.River
	for k := range d.Sites {
		s := history.Site{Name: fmt.Sprint("site ", k), Km: math.NaN(), Days: math.NaN()}
		if d.idle != nil {
			s.Km = reachKm * float64(k)
		}
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
			for i := range n {
				var at *clock
				if d.idle != nil {
					at = &clock{rnd, d.idle, float64(i % daysOfRun), make([]int64, h.River.Rows())}
					for b := range at.seen {
						at.seen[b] = history.NoTime
					}
					h.Released = append(h.Released, at.ms())
				}
				seen, end := d.fish(rnd, &h.River, site, at)
				if at != nil {
					h.First, h.Last = append(h.First, at.seen...), append(h.Last, at.seen...)
				}
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
func (d *design) fish(rnd *rand.Rand, river *history.River, entry int, c *clock) (seen uint64, end history.End) {
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
		c.travel()
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
			if rnd.Float64() < p && !hidden && c.sees(row) {
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
