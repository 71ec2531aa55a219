package maximum

import (
	"math"
	"math/rand/v2"
	"slices"

	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
)

const (
	// fewFishApart: with no more fish than this starts are tried that part
	// them at a value of a number.
	fewFishApart = 500
	// stepSlope is the slope, for a standard deviation, of a start that parts.
	stepSlope = 8
)

// StepStarts are starts at which a number parts the fish, at several of its
// values: of few fish those seen again can be parted so well from the others
// that the slope goes to infinity, and from a gentle slope the climb can end
// elsewhere.
func StepStarts(p *model.Problem) [][]float64 {
	if len(p.ClassOf) > fewFishApart || p.Z == nil {
		return nil
	}
	var out [][]float64
	for n := range p.Z {
		values := slices.Clone(p.Z[n])
		slices.Sort(values)
		values = slices.Compact(values)
		if len(values) < 3 {
			continue
		}
		for _, slots := range slotsWith(p, n+1) {
			for _, q := range []float64{0.15, 0.3, 0.5, 0.7, 0.85} {
				k := int(q * float64(len(values)-1))
				for _, slope := range []float64{stepSlope, -stepSlope} {
					out = append(out, stepAt(p, n+1, slots, (values[k]+values[k+1])/2, slope))
				}
			}
		}
	}
	return out
}

// slotsWith are the slots of survival, and of detection, whose predictor has
// number n: all of a part together, and each by itself where it has a slope of
// its own.
func slotsWith(p *model.Problem, n int) [][]int {
	var out [][]int
	for _, part := range []model.Part{model.Survival, model.Detection} {
		var all []int
		var own [][]int
		columns := map[int]bool{}
		for a := range p.Layout.Slots() {
			if p.PartOf(a) != part {
				continue
			}
			for _, e := range p.Design.Slots[0][a] {
				if e.Number == n {
					all = append(all, a)
					if !columns[e.Column] {
						columns[e.Column] = true
						own = append(own, []int{a})
					}
					break
				}
			}
		}
		if len(all) > 0 {
			out = append(out, all)
		}
		if len(own) > 1 {
			out = append(out, own...)
		}
	}
	return out
}

// stepAt is a start whose probabilities of slots step at a value of number n.
func stepAt(p *model.Problem, n int, slots []int, value, slope float64) []float64 {
	base := StartValues(p)
	z := Constant(p.Design.Numbers)
	target := make([][]float64, len(p.Classes))
	for g := range target {
		target[g] = make([]float64, p.Layout.Slots())
		for a := range target[g] {
			link := p.Design.Links[g][a]
			eta := p.Design.Predictor(base, g, a, z)
			if slices.Contains(slots, a) {
				eta -= slope * value
			}
			if link.Kind == likelihood.Fixed || len(p.Design.Slots[g][a]) == 0 {
				target[g][a] = math.NaN()
				continue
			}
			pr := link.At(eta)
			target[g][a] = pr.P
			if link.Bounded() {
				target[g][a] = min(1-1e-9, max(1e-9, pr.P))
			}
		}
	}
	x := likelihood.Project(p.Design, target, nil)
	for g := range p.Classes {
		for _, a := range slots {
			for _, e := range p.Design.Slots[g][a] {
				if e.Number == n {
					x[e.Column] = slope
				}
			}
		}
	}
	return x
}

const (
	// steepStart is the slope, on the scale of the link for a standard
	// deviation, from which slopes start.
	steepStart = 1.0
	// everySign: with so many slopes each combination of rising and falling
	// is tried, with more some of them.
	everySign = 3
	someSigns = 10
)

// slopeStarts are starts with slopes that rise and fall: where reaches have
// slopes of their own, one reach's can take the place of another's.
func slopeStarts(p *model.Problem) [][]float64 {
	var columns []int
	for j, slope := range slopeColumns(p) {
		if slope {
			columns = append(columns, j)
		}
	}
	if len(columns) == 0 {
		return nil
	}
	n := 1 << min(len(columns), everySign)
	if len(columns) > everySign {
		n = someSigns
	}
	rnd := rand.New(rand.NewPCG(1, uint64(len(columns))))
	base := StartValues(p)
	var out [][]float64
	for i := range n {
		x := append([]float64(nil), base...)
		for k, j := range columns {
			up := i>>k&1 == 1
			if len(columns) > everySign && i >= 2 {
				up = rnd.IntN(2) == 1
			} else if len(columns) > everySign {
				up = i == 1 // all fall, all rise
			}
			x[j] = steepStart / orOne(p.Columns[j].SlotSD)
			if !up {
				x[j] = -x[j]
			}
		}
		out = append(out, x)
	}
	return out
}

// OtherStarts are further starting points, the same for the same model: the
// likelihood of models that share values can have several maxima, most often
// one with the last detection and one with the last survival near 1.
func OtherStarts(p *model.Problem) [][]float64 {
	l := p.Layout
	last := l.Sites() - 1
	even := func(survival, detection, lastSurvival, lastDetection float64) []float64 {
		target := make([][]float64, len(p.Classes))
		for g := range target {
			target[g] = make([]float64, l.Slots())
			model.Travelled(l, p.Data.TravelTimes, g, target[g])
			for a := range target[g] {
				v := detection
				if p.PartOf(a).Moves() {
					continue
				}
				if k := l.Reach(a); k == last-1 {
					v = lastSurvival
				} else if k >= 0 {
					v = survival
				} else if p.Site(a) == last {
					v = lastDetection
				}
				target[g][a] = v
			}
		}
		return likelihood.Project(p.Design, target, nil)
	}
	return append([][]float64{
		even(0.6, 0.6, 0.6, 0.6),
		even(0.6, 0.6, 0.6, 0.97),
		even(0.6, 0.6, 0.97, 0.6),
		even(0.9, 0.3, 0.9, 0.3),
	}, append(slopeStarts(p), StepStarts(p)...)...)
}
