package history

import (
	"fmt"
	"math"
	"slices"
	"time"
)

// Conditions are numbers of a site on a day, such as flow or temperature.
type Conditions struct {
	Names []string // of the conditions
	// Value[name][site] maps a day (see [Day]) to the number; sites without
	// any have a nil map.
	Value [][]map[int32]float64
	// Zone of each site: the day of an instant is the day there.
	Zone []*time.Location
}

// check: a table of days for every name and site, and a zone for every site.
func (c *Conditions) check(river *River) error {
	if c == nil {
		return fmt.Errorf("there are no conditions of the sites")
	}
	sites := len(river.Sites)
	if len(c.Value) != len(c.Names) || len(c.Zone) != sites {
		return fmt.Errorf("conditions have %d names, tables of %d and zones of %d sites; there are %d sites", len(c.Names), len(c.Value), len(c.Zone), sites)
	}
	for n, name := range c.Names {
		if len(c.Value[n]) != sites {
			return fmt.Errorf("%s has tables of %d sites; there are %d", name, len(c.Value[n]), sites)
		}
	}
	for k, zone := range c.Zone {
		if zone == nil {
			return fmt.Errorf("the conditions at %s have no zone; a day is the day there", river.Sites[k].Name)
		}
	}
	return nil
}

// Day numbers the calendar day of t where t's zone puts it: days since
// 1970-01-01.
func Day(t time.Time) int32 {
	y, m, d := t.Date()
	return int32(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// DayDate is the date of a day number.
func DayDate(day int32) string {
	return time.Unix(int64(day)*86400, 0).UTC().Format(time.DateOnly)
}

// CohortCondition is one condition as models use it: a cohort's mean at a site.
type CohortCondition struct {
	Name string // of the condition
	// Mean[cohort][site] over the days of the cohort's fish; NaN without any.
	Mean [][]float64
	// Fish[cohort][site] is how many fish the mean is over.
	Fish [][]int
	// Within and Between are the standard deviation of the condition among
	// the fish of a cohort at a site, and among the cohorts at a site, both
	// pooled over the sites.
	Within, Between float64
}

// CohortConditions gives every cohort its mean condition at every site below
// the first. A fish that passed unseen has no known day, and the days of those
// that were seen depend on the condition itself; so the days are interpolated,
// by distance, between the nearest sightings (or release) above and below, for
// all fish seen farther down, seen here or not. At the last site, which has
// nothing below, the days are those of the last sighting above plus the
// cohort's median pace over the way, taken from the fish seen there. It
// returns an error when the histories have no times or a day has no value.
func (h *Histories) CohortConditions(c *Conditions) ([]CohortCondition, error) {
	if err := h.Check(); err != nil {
		return nil, err
	}
	if err := c.check(&h.River); err != nil {
		return nil, err
	}
	if h.First == nil || h.Released == nil {
		return nil, fmt.Errorf("conditions need the times of releases and sightings, which these histories do not have")
	}
	sites := len(h.River.Sites)
	out := make([]CohortCondition, len(c.Names))
	for n := range out {
		out[n] = CohortCondition{Name: c.Names[n], Mean: make([][]float64, len(h.Cohorts)), Fish: make([][]int, len(h.Cohorts))}
		for g := range h.Cohorts {
			out[n].Mean[g] = make([]float64, sites)
			out[n].Fish[g] = make([]int, sites)
			for k := range sites {
				out[n].Mean[g][k] = math.NaN()
			}
		}
	}
	p := newPassageDays(h)
	type spread struct{ within, df, between, sets float64 }
	spreads := make([]spread, len(out))
	for k := 1; k < sites; k++ {
		days := p.at(k)
		for n := range out {
			var means []float64
			for g := range h.Cohorts {
				var sum, sq, count float64
				for _, ms := range days[g] {
					day := Day(time.UnixMilli(ms).In(c.Zone[k]))
					v, ok := c.Value[n][k][day]
					if !ok {
						if c.Value[n][k] == nil {
							break // no such condition at this site
						}
						return nil, fmt.Errorf("%s at %s has no value for %s, when fish of cohort %q passed", c.Names[n], h.River.Sites[k].Name, DayDate(day), h.Cohorts[g])
					}
					sum += v
					sq += v * v
					count++
				}
				if count == 0 {
					continue
				}
				mean := sum / count
				out[n].Mean[g][k] = mean
				out[n].Fish[g][k] = int(count)
				means = append(means, mean)
				spreads[n].within += max(0, sq-count*mean*mean)
				spreads[n].df += count - 1
			}
			if len(means) > 1 {
				spreads[n].between += variance(means) * float64(len(means)-1)
				spreads[n].sets += float64(len(means) - 1)
			}
		}
	}
	for n, s := range spreads {
		out[n].Within, out[n].Between = math.Sqrt(s.within/max(1, s.df)), math.Sqrt(s.between/max(1, s.sets))
	}
	return out, nil
}

func variance(v []float64) float64 {
	var sum, sq float64
	for _, x := range v {
		sum += x
	}
	mean := sum / float64(len(v))
	for _, x := range v {
		sq += (x - mean) * (x - mean)
	}
	return sq / float64(len(v)-1)
}

// passageDays finds when fish passed a site, whether seen there or not.
type passageDays struct {
	h     *Histories
	masks []uint64
	place []float64 // of each site along the river: km, or its number
}

func newPassageDays(h *Histories) *passageDays {
	p := &passageDays{h: h, masks: h.River.SiteMasks()}
	km := true
	for i := range h.River.Sites {
		km = km && !math.IsNaN(h.River.Sites[i].Km)
	}
	for i := range h.River.Sites {
		if km {
			p.place = append(p.place, math.Abs(h.River.Sites[i].Km-h.River.Sites[0].Km))
		} else {
			p.place = append(p.place, float64(i))
		}
	}
	return p
}

// at gives for each cohort the times (Unix milliseconds) at which its fish
// passed site k.
func (p *passageDays) at(k int) [][]int64 {
	h := p.h
	sites := len(h.River.Sites)
	out := make([][]int64, len(h.Cohorts))
	type start struct {
		cohort, site int
		time         int64
	}
	var waiting []start
	pace := make([][]float64, len(h.Cohorts)) // ms per unit of distance
	for i := range h.Len() {
		if int(h.Entry[i]) >= k {
			continue
		}
		up, above := int(h.Entry[i]), h.Released[i]
		for j := k - 1; j > int(h.Entry[i]); j-- {
			if h.Seen[i]&p.masks[j] != 0 {
				up, above = j, h.FirstAt(i, j)
				break
			}
		}
		if above == NoTime {
			continue
		}
		g := int(h.Cohort[i])
		if k == sites-1 {
			waiting = append(waiting, start{g, up, above})
			if h.Seen[i]&p.masks[k] != 0 {
				pace[g] = append(pace[g], float64(h.FirstAt(i, k)-above)/(p.place[k]-p.place[up]))
			}
			continue
		}
		for j := k + 1; j < sites; j++ {
			if h.Seen[i]&p.masks[j] == 0 {
				continue
			}
			share := (p.place[k] - p.place[up]) / (p.place[j] - p.place[up])
			below := h.FirstAt(i, j)
			if below != NoTime {
				out[g] = append(out[g], above+int64(share*float64(below-above)))
			}
			break
		}
	}
	for g := range pace {
		slices.Sort(pace[g])
	}
	for _, s := range waiting {
		if v := pace[s.cohort]; len(v) > 0 {
			out[s.cohort] = append(out[s.cohort], s.time+int64(v[len(v)/2]*(p.place[k]-p.place[s.site])))
		}
	}
	return out
}
