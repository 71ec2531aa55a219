package plan

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
)

// Comparison is what an option would bring.
type Comparison struct {
	Option Option // the change of the plan
	Name   string // in words
	// Fish is how many more are tagged than in the plan.
	Fish int
	// Half is the half-width of the target with the option, Gain by how much
	// it is less than without; NaN where one of them does not exist, or would
	// be wider than the whole scale.
	Half, Gain float64
	// Worth is the number of further fish that would bring the same without
	// the option: +Inf where no number would, NaN where the option leaves
	// nothing to estimate.
	Worth float64
	// Cost of the option, and gain in percentage points per 1000 of it; NaN
	// where costs are not known (or, for the gain, not above 0).
	Cost, GainPerCost float64
	// Why the option is not possible; else "".
	Why string
	// Note says what else there is to know of it; else "".
	Note string
}

// Compare ranks options by what they bring for a target: by gain per cost
// where the plan gives costs, else by what they are worth in fish.
func (f *Forecast) Compare(ctx context.Context, t Target, options []Option) ([]Comparison, error) {
	if err := f.asked(&t); err != nil {
		return nil, err
	}
	p := f.Plan
	base, err := f.state.half(ctx, t, 1)
	if err != nil {
		return nil, err
	}
	var out []Comparison
	for i := range options {
		o := &options[i]
		c := Comparison{Option: *o, Name: p.OptionName(o), Half: math.NaN(), Gain: math.NaN(), Worth: math.NaN(), GainPerCost: math.NaN()}
		c.Cost = p.cost(o)
		q, err := p.Apply(o)
		if err != nil {
			c.Why = err.Error()
			out = append(out, c)
			continue
		}
		c.Fish = q.Fish() - p.Fish()
		goal, ok := p.moved(t, q)
		if !ok {
			c.Why = "the question is about a site that is not there any more"
			out = append(out, c)
			continue
		}
		s, err := q.state(ctx, nil)
		if err != nil {
			if ctx.Err() != nil {
				return nil, err
			}
			c.Why = err.Error()
			out = append(out, c)
			continue
		}
		if s.off > max(0.005, f.state.off) {
			c.Note = fmt.Sprintf("planned with values up to %.2f off those assumed: the model cannot represent them", math.Ceil(100*s.off)/100)
		}
		fit, err := s.expect(ctx, 1, false)
		if err != nil {
			return nil, err
		}
		with := widest(goal.pick(s.lines(fit))).told()
		if c.Half = with.Half; math.IsNaN(c.Half) {
			c.Why = s.whyNot(&with, &goal)
			out = append(out, c)
			continue
		}
		if base <= widestHalf {
			c.Gain = base - c.Half
		}
		if c.Worth, err = f.worth(ctx, t, base, c.Half); err != nil {
			return nil, err
		}
		if c.Cost > 0 {
			c.GainPerCost = 100 * c.Gain / c.Cost * 1000
		}
		out = append(out, c)
	}
	slices.SortStableFunc(out, func(a, b Comparison) int { return compare(&a, &b, p.Costs.Given) })
	return out, nil
}

// compare orders two options, the better first.
func compare(a, b *Comparison, costs bool) int {
	grade := func(c *Comparison) int {
		switch {
		case c.Why != "":
			return 3 // cannot be had
		case math.IsNaN(c.Gain):
			return 0 // makes estimable what was not
		case costs && c.Gain < 0:
			return 2 // loses
		}
		return 1
	}
	g, h := grade(a), grade(b)
	if g != h {
		return cmp.Compare(g, h)
	}
	switch g {
	case 0:
		return cmp.Compare(a.Half, b.Half)
	case 1:
		if !costs {
			return cmp.Compare(b.Worth, a.Worth)
		}
		return cmp.Compare(b.value(), a.value())
	case 2:
		return cmp.Compare(b.Gain, a.Gain)
	}
	return 0
}

// value is the gain per cost, infinite where a gain costs nothing.
func (c *Comparison) value() float64 {
	switch {
	case c.Cost > 0:
		return c.GainPerCost
	case c.Gain > 0 && c.Cost <= 0:
		return math.Inf(1)
	}
	return math.Inf(-1) // not known
}

// worth is how many further fish bring the half-width from base to half.
func (f *Forecast) worth(ctx context.Context, t Target, base, half float64) (float64, error) {
	if math.IsNaN(base) {
		return math.Inf(1), nil
	}
	t.HalfWidth = half
	factor, why, err := f.state.factor(ctx, t)
	if err != nil {
		return math.NaN(), err
	}
	if why != "" {
		return math.Inf(1), nil
	}
	return float64(f.Plan.Fish()) * (factor - 1), nil
}

// moved is the target in a changed plan; ok is false where it is gone. The
// survival of a reach that a new site parts is gone too, as is a cohort that
// was spread.
func (p *Plan) moved(t Target, q *Plan) (Target, bool) {
	name := p.River.Sites[t.Site].Name
	k := q.River.SiteIndex(name)
	if k < 1 {
		return t, false
	}
	if t.Kind == Survival {
		if q.River.Reach(k-1) != p.River.Reach(t.Reach) {
			return t, false
		}
		t.Reach = k - 1
	}
	if t.Of != "" && !slices.Contains(q.CohortNames(), t.Of) {
		return t, false
	}
	t.Site = k
	return t, true
}

// cost is that of an option: its own, or from the plan's costs; NaN when not
// known.
func (p *Plan) cost(o *Option) float64 {
	if !math.IsNaN(o.Cost) {
		return o.Cost
	}
	c := &p.Costs
	known := func(each float64, n int) float64 {
		if each == 0 {
			return math.NaN()
		}
		return each * float64(n)
	}
	switch o.What {
	case "fish":
		return known(c.Fish, o.Fish)
	case "row":
		return known(c.Row, 1)
	case "site":
		return known(c.Site, 1)
	case "antennas":
		return known(c.Antennas, 1)
	case "drop":
		return known(c.Site, -1)
	case "spread":
		return known(c.Cohort, (o.Cohorts-1)*len(p.CohortNames()))
	default:
		return known(c.Test, o.Passes)
	}
}

// Curve is the half-width of a target against the number of fish.
type Curve struct {
	// Name is that of the option, "" for the plan as it is.
	Name string
	Fish []int
	// Half is NaN where the design has none, or the fish are too few.
	Half []float64
}

// Curve is the half-width of the target with factor times the plan's fish.
func (f *Forecast) Curve(ctx context.Context, t Target, factors []float64) (Curve, error) {
	var out Curve
	if err := f.asked(&t); err != nil {
		return out, err
	}
	for _, x := range factors {
		if !(x > 0 && x*float64(f.Plan.Fish()) <= math.MaxInt32) {
			return out, fmt.Errorf("%v times the fish of the plan; a factor is above 0, and the fish at most %d", x, math.MaxInt32)
		}
		h, err := f.state.half(ctx, t, x)
		if err != nil {
			return out, err
		}
		out.Fish = append(out.Fish, int(math.Round(x*float64(f.Plan.Fish()))))
		if h > widestHalf {
			h = math.NaN()
		}
		out.Half = append(out.Half, h)
	}
	return out, nil
}

// Curves are those of the plan and of each option that changes more than the
// number of fish and can be had.
func (f *Forecast) Curves(ctx context.Context, t Target, options []Option, factors []float64) ([]Curve, error) {
	base, err := f.Curve(ctx, t, factors)
	if err != nil {
		return nil, err
	}
	out := []Curve{base}
	for i := range options {
		q, err := f.Plan.Apply(&options[i])
		if err != nil || options[i].What == "fish" {
			continue
		}
		goal, ok := f.Plan.moved(t, q)
		if !ok {
			continue
		}
		s, err := q.state(ctx, nil)
		if err != nil {
			if ctx.Err() != nil {
				return nil, err
			}
			continue // its comparison says why
		}
		c, err := (&Forecast{Plan: q, state: s}).Curve(ctx, goal, factors)
		if err != nil {
			return nil, err
		}
		c.Name = f.Plan.OptionName(&options[i])
		out = append(out, c)
	}
	return out, nil
}
