package maximum

import (
	"math"
	"math/rand/v2"

	"example.org/unseen/cjs/model"
	"example.org/unseen/likelihood"
)

const (
	// scatterLow and scatterHigh are how far survival and detection are strewn.
	scatterLow, scatterHigh = 0.1, 0.97
	// scatterClass is how far classes of fish are strewn about what they share,
	// scatterSlope how far slopes are, for a standard deviation of their
	// numbers; both on the logit scale. scatterMove is how far drift, spread
	// and rest are strewn about what the travel times alone say, on the log scale.
	scatterClass, scatterSlope, scatterMove = 0.5, 0.7, 0.3
)

// Scatter are n starts strewn at random over what p makes possible: every
// survival and detection has a level of its own, the last of both included,
// and slopes rise or fall. The same p, n and seed give the same starts, and
// the first of many are those of few.
func Scatter(p *model.Problem, n int, seed uint64) [][]float64 {
	slopes := slopeColumns(p)
	out := make([][]float64, n)
	for i := range out {
		rnd := rand.New(rand.NewPCG(seed, uint64(i)))
		out[i] = likelihood.Project(p.Design, scatterTargets(p, rnd), nil)
		for j, slope := range slopes {
			if slope {
				out[i][j] = scatterSlope * rnd.NormFloat64() / orOne(p.Columns[j].SlotSD)
			}
		}
	}
	return out
}

// orOne is a standard deviation to divide by: 1 where there is none.
func orOne(sd float64) float64 {
	if sd > 0 {
		return sd
	}
	return 1
}

// slopeColumns tells which coefficients go with numbers of the fish.
func slopeColumns(p *model.Problem) []bool {
	out := make([]bool, p.Design.Columns)
	for g := range p.Design.Slots {
		for _, es := range p.Design.Slots[g] {
			for _, e := range es {
				out[e.Column] = out[e.Column] || e.Number != 0
			}
		}
	}
	return out
}

// scatterTargets are values of every slot of every class, drawn by rnd.
func scatterTargets(p *model.Problem, rnd *rand.Rand) [][]float64 {
	level := make([]float64, p.Layout.Slots())
	for a := range level {
		level[a] = likelihood.LogitOf(scatterLow + (scatterHigh-scatterLow)*rnd.Float64())
	}
	target := make([][]float64, len(p.Classes))
	for g := range target {
		target[g] = make([]float64, len(level))
		model.Travelled(p.Layout, p.Data.TravelTimes, g, target[g])
		for a := range target[g] {
			off := rnd.NormFloat64()
			switch part := p.PartOf(a); part {
			case model.Survival, model.Detection:
				target[g][a], _ = likelihood.Expit(level[a] + scatterClass*off)
			case model.Rest:
				target[g][a] = min(0.9, target[g][a]*math.Exp(scatterMove*off))
			default:
				target[g][a] *= math.Exp(scatterMove * off)
			}
		}
	}
	return target
}
