package assess

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/internal/plain"
	"example.org/unseen/history"
)

// parts: a covariate is cut into fifths.
const parts = 5

// Quintile is a fifth of the newly released fish by a number of theirs, or
// what is nearest to one where many share a value.
type Quintile struct {
	// Low and High are the least and greatest value in it.
	Low, High float64
	Fish      int
	// Releases counts the releases and the sightings after which fish were
	// at large, above the last site; SeenAgain how many of these fish were
	// seen again, Expected how many the fit expects.
	Releases, SeenAgain int
	Expected            float64
	// SE is the standard deviation of SeenAgain were the fit the truth; with
	// coefficients fitted to the data, the true one is a little smaller.
	SE float64
	// Sites are the sites below the first, in their order: SeenAgain, Expected
	// and SE taken apart by the site of the next sighting.
	Sites []SeenAt
}

// SeenAt is how many fish were seen at a site, and how many the fit expects there
// of where each was last seen, or released, before.
type SeenAt struct {
	Site     int // index in the river
	Seen     int
	Expected float64
	SE       float64 // as of [Quintile]
}

// Residual is observed minus expected, in standard deviations.
func (q *Quintile) Residual() float64 { return (float64(q.SeenAgain) - q.Expected) / q.SE }

// Residual is observed minus expected, in standard deviations; NaN where none can
// be seen.
func (a *SeenAt) Residual() float64 { return (float64(a.Seen) - a.Expected) / a.SE }

// Covariate is a number of the fish with observed and expected by its fifths.
type Covariate struct {
	Name string // of the column
	// Quintiles are at most five, lowest values first.
	Quintiles []Quintile
	// Missing is the number of fish without a value, left out here.
	Missing int
}

// Covariates compares, for every numeric column in the model of f, how many
// fish were seen with how many the fit expects, by fifths of the column and by site.
// What becomes of a fish after a release does not depend on what went before,
// so each release counts by itself: its fish is next seen at a site, or never again,
// with the fit's probability, by the end of the data and while rows worked. The
// variances π(1 − π) of releases add up, for given what went before none tells of
// another.
func Covariates(f *cjs.Fit) []Covariate {
	if f.Check() != nil {
		return nil
	}
	p := f.Problem
	h := p.Histories
	masks := h.River.SiteMasks()
	sites := len(masks)
	out := make([]Covariate, len(p.Numbers))
	of := make([][]int8, len(p.Numbers)) // record → quintile
	for n := range p.Numbers {
		out[n].Name = p.Numbers[n].Name
		of[n] = out[n].cut(h, p.ClassOf)
		for q := range out[n].Quintiles {
			out[n].Quintiles[q].Sites = newSeenAt(sites)
		}
	}
	if len(out) == 0 {
		return nil
	}
	next := f.NextSeen()
	for i, g := range p.ClassOf {
		if g < 0 {
			continue
		}
		prob := next(i)
		w, last := h.Weight(i), p.Last(i)
		one := Quintile{Sites: newSeenAt(sites)} // of this record
		for k := int(h.Entry[i]); k <= last && k < sites-1; k++ {
			if k > int(h.Entry[i]) && h.Seen[i]&masks[k] == 0 || k == last && h.End[i] != history.Open {
				continue
			}
			one.release(w, prob[k])
		}
		for k := int(h.Entry[i]) + 1; k < sites; k++ {
			if h.Seen[i]&masks[k] != 0 {
				one.SeenAgain += w
				one.Sites[k-1].Seen += w
			}
		}
		for n := range out {
			if q := of[n][i]; q >= 0 {
				out[n].Quintiles[q].add(&one)
			}
		}
	}
	for n := range out {
		for q := range out[n].Quintiles {
			out[n].Quintiles[q].settle()
		}
	}
	return out
}

func newSeenAt(sites int) []SeenAt {
	out := make([]SeenAt, max(0, sites-1))
	for k := range out {
		out[k].Site = k + 1
	}
	return out
}

// release takes in w fish let go, next seen at the sites with the probabilities
// prob. Until settle, SE is a variance.
func (q *Quintile) release(w int, prob []float64) {
	q.Releases += w
	again := 0.0
	for k := range q.Sites {
		x := prob[k+1]
		again += x
		q.Sites[k].Expected += float64(w) * x
		q.Sites[k].SE += float64(w) * x * (1 - x)
	}
	q.Expected += float64(w) * again
	q.SE += float64(w) * again * (1 - again)
}

func (q *Quintile) add(one *Quintile) {
	q.Releases += one.Releases
	q.SeenAgain += one.SeenAgain
	q.Expected += one.Expected
	q.SE += one.SE
	for k := range q.Sites {
		q.Sites[k].Seen += one.Sites[k].Seen
		q.Sites[k].Expected += one.Sites[k].Expected
		q.Sites[k].SE += one.Sites[k].SE
	}
}

func (q *Quintile) settle() {
	q.SE = math.Sqrt(q.SE)
	for k := range q.Sites {
		q.Sites[k].SE = math.Sqrt(q.Sites[k].SE)
	}
}

// Chance is the range in which chance alone leaves about 95 % of the counts, were
// the fit the truth: by the normal approximation, rough where few are expected.
func (a *SeenAt) Chance() (low, high float64) {
	z := -distuv.UnitNormal.Quantile(Level / 2)
	return max(0, a.Expected-z*a.SE), a.Expected + z*a.SE
}

// cut makes the quintiles and gives each record its own, −1 where it has no
// value or is left out. Fish of one value stay together.
func (c *Covariate) cut(h *history.Histories, classOf []int32) []int8 {
	of := make([]int8, h.Len())
	column := h.Column(c.Name)
	var order []int
	total := 0
	for i, v := range column.Value {
		of[i] = -1
		switch {
		case classOf[i] < 0:
		case math.IsNaN(v):
			if h.New(i) {
				c.Missing += h.Weight(i)
			}
		default:
			order = append(order, i)
			if h.New(i) {
				total += h.Weight(i)
			}
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch x, y := column.Value[a], column.Value[b]; {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	before := 0 // new fish of smaller values
	previous := -1
	for at := 0; at < len(order); {
		v := column.Value[order[at]]
		end, fish := at, 0
		for ; end < len(order) && column.Value[order[end]] == v; end++ {
			if h.New(order[end]) {
				fish += h.Weight(order[end])
			}
		}
		// A value belongs to the fifth its middle fish is in.
		q := min(parts-1, (2*before+fish)*parts/max(1, 2*total))
		if q != previous || len(c.Quintiles) == 0 {
			c.Quintiles = append(c.Quintiles, Quintile{Low: v})
			previous = q
		}
		x := &c.Quintiles[len(c.Quintiles)-1]
		x.High = v
		x.Fish += fish
		for ; at < end; at++ {
			of[order[at]] = int8(len(c.Quintiles) - 1)
		}
		before += fish
	}
	return of
}

func (c Covariate) MarshalJSON() ([]byte, error) { return plain.JSON(c) }

func (q Quintile) MarshalJSON() ([]byte, error) { return plain.JSON(q) }

// CovariateWarnings names the covariates of which a fifth lies farther from
// what the fit expects than chance would have it in one of twenty fits, all
// fifths together (Bonferroni).
func CovariateWarnings(list []Covariate) []cjs.Warning {
	fifths := 0
	for _, c := range list {
		fifths += len(c.Quintiles)
	}
	limit := -distuv.UnitNormal.Quantile(Level / 2 / float64(max(1, fifths)))
	var out []cjs.Warning
	for _, c := range list {
		worst := -1
		for i := range c.Quintiles {
			if r := math.Abs(c.Quintiles[i].Residual()); r > limit && (worst < 0 || r > math.Abs(c.Quintiles[worst].Residual())) {
				worst = i
			}
		}
		if worst < 0 {
			continue
		}
		q := &c.Quintiles[worst]
		out = append(out, cjs.Warning{ID: WarnCovariate, About: c.Name, Message: history.Say("Of the fish with %s from %g to %g, %d were detected again where the fit expects %.1f (%+.1f standard deviations): its effect is not linear on the link scale, or acts on another part of the model. Try it on detection as well, or by reach, or cut it into categories.", c.Name, q.Low, q.High, q.SeenAgain, q.Expected, q.Residual())})
	}
	return out
}

func (a SeenAt) MarshalJSON() ([]byte, error) { return plain.JSON(a) }
