package wire

import (
	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history"
)

// Effects are what the coefficients mean.
type Effects struct {
	Ratios []Ratio `json:"ratios"` // the coefficients' exponentials
	// survival per standard length, under the links per km and per day
	Paces    []Pace     `json:"paces"`
	Relative []Relative `json:"relative"` // passed share of each cohort over that of the first
	// predictions over the observed range of a number, the others at their mean
	Curves []Curve `json:"curves"`
}

// Ratio is an odds or rate ratio.
type Ratio struct {
	Part    model.Part `json:"part"`
	Term    string     `json:"term"`
	Against string     `json:"against"`
	Kind    string     `json:"kind" schema:"enum=odds ratio|rate ratio|ratio"`
	PerUnit Estimate   `json:"per_unit"`
	PerSD   Estimate   `json:"per_standard_deviation"`
}

// Pace is survival per standard length of a reach.
type Pace struct {
	Of       Of       `json:"of"`
	From     string   `json:"from"`
	To       string   `json:"to"`
	Length   Number   `json:"length"`
	Unit     string   `json:"unit"`
	Survival Estimate `json:"survival"`
}

// Relative is the passed share of a cohort over that of another.
type Relative struct {
	Cohort  string   `json:"cohort"`
	Against string   `json:"against"`
	Site    string   `json:"site"`
	Ratio   Estimate `json:"ratio"`
}

// Curve is a predicted probability over the observed range of a number.
type Curve struct {
	Part   model.Part   `json:"part"`
	Of     Of           `json:"of"`
	From   string       `json:"from"` // the reach's upper site, or the site
	Row    string       `json:"row,omitempty"`
	Number string       `json:"number"`
	Points []CurvePoint `json:"points"`
}

// CurvePoint is the prediction at one value.
type CurvePoint struct {
	Value Number `json:"value"`
	Estimate
}

func EffectsOf(river *history.River, e *cjs.Effects) Effects {
	return Effects{
		Ratios: each(e.Ratios, func(r cjs.Ratio) Ratio {
			return Ratio{r.Part, r.Term, r.Against, r.Kind, estimate(r.PerUnit, 1), estimate(r.PerSD, 1)}
		}),
		Paces: each(e.Paces, func(p cjs.Pace) Pace {
			return Pace{of(p.Of), river.Sites[p.From].Name, river.Sites[p.From+1].Name, Number(p.Length), p.Unit, estimate(p.Estimate, 1)}
		}),
		Relative: each(e.Relative, func(r cjs.Relative) Relative {
			return Relative{r.Cohort, r.Against, river.Sites[r.Site].Name, estimate(r.Estimate, 1)}
		}),
		Curves: each(e.Curves, func(c cjs.Curve) Curve {
			return Curve{c.Part, of(c.Of), river.Sites[c.From].Name, rowName(river, c.From, c.Row), c.Number,
				each(c.Points, func(p cjs.CurvePoint) CurvePoint { return CurvePoint{Number(p.Value), estimate(p.Estimate, 1)} })}
		}),
	}
}
