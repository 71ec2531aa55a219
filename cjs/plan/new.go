package plan

import (
	"context"
	"math"
	"slices"
)

// New makes the forecast of a plan. It returns an error when the plan is not
// sound or its model cannot be made, or when ctx ends.
func New(ctx context.Context, p *Plan) (*Forecast, error) {
	if err := p.Check(); err != nil {
		return nil, err
	}
	if err := p.tooManyRanges(); err != nil {
		return nil, err
	}
	s, err := p.state(ctx, nil)
	if err != nil {
		return nil, err
	}
	fit, err := s.expect(ctx, 1, true)
	if err != nil {
		return nil, err
	}
	f := &Forecast{Plan: p, Estimable: fit.Estimable, state: s}
	for j := range fit.Parameters {
		// A reach that no fish of a cohort come by is no parameter.
		if fit.Information[j*fit.Parameters+j] > 0 {
			f.Parameters++
		}
	}
	f.split(s.lines(fit))
	if err := f.overRanges(ctx); err != nil {
		return nil, err
	}
	for _, lines := range [][]Line{f.Survival, f.Detection, f.Products, f.Passed} {
		for i := range lines {
			lines[i] = lines[i].told()
		}
	}
	f.cannot()
	f.cautions()
	return f, nil
}

func (f *Forecast) split(lines []Line) {
	for _, l := range lines {
		switch l.Kind {
		case Survival:
			f.Survival = append(f.Survival, l)
		case Detection:
			f.Detection = append(f.Detection, l)
		case Product:
			f.Products = append(f.Products, l)
		case Passed:
			f.Passed = append(f.Passed, l)
		}
	}
}

// overRanges widens the half-widths of all lines over the ranges.
func (f *Forecast) overRanges(ctx context.Context) error {
	widen := func(into []Line, l *Line) {
		for i := range into {
			if t := &into[i]; t.same(l) {
				t.HalfLow, t.HalfHigh = min(t.HalfLow, l.Half), max(t.HalfHigh, l.Half)
			}
		}
	}
	return f.Plan.combinations(func(ends []int) error {
		s, err := f.Plan.state(ctx, ends)
		if err != nil {
			return err
		}
		fit, err := s.expect(ctx, 1, false)
		if err != nil {
			return err
		}
		for _, l := range s.lines(fit) {
			if math.IsNaN(l.Half) {
				continue
			}
			for _, into := range [][]Line{f.Survival, f.Detection, f.Products, f.Passed} {
				widen(into, &l)
			}
		}
		return nil
	})
}

// same tells whether two lines are about the same thing.
func (l *Line) same(o *Line) bool {
	return l.Kind == o.Kind && l.From == o.From && l.Site == o.Site && l.Row == o.Row && slices.Equal(l.Of, o.Of)
}
