package analysis

import (
	"context"
	"errors"
	"fmt"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/cjs/compare"
	"example.org/unseen/cjs/model"
)

// Compare fits several models to the same fish. done is called after each and
// may be nil; known are fits of d made already (see [compare.Run]).
func (d *Data) Compare(ctx context.Context, specs []model.Spec, options Options, done func(n, of int), known ...*cjs.Fit) (*compare.Result, error) {
	in, err := d.Input()
	if err != nil {
		return nil, err
	}
	var check *assess.Result
	if options.EstimateInflation {
		if check, err = assess.OfModels(in, specs); err != nil {
			return nil, err
		}
	}
	opt, err := d.complete(options, check)
	if err != nil {
		return nil, err
	}
	return compare.Run(ctx, in, specs, opt, done, known...)
}

// Mistyped is an error of the first of specs that cannot be read, or names what the
// study does not have: a comparison would leave it out.
func (d *Data) Mistyped(specs []model.Spec) error {
	in, err := d.Input()
	if err != nil {
		return err
	}
	for _, s := range specs {
		var fault *model.Fault
		if _, err := model.Build(in, s); errors.As(err, &fault) && fault.Mistyped {
			if s.Name != "" {
				return fmt.Errorf("[[model]] %q: %w", s.Name, fault)
			}
			return fault
		}
	}
	return nil
}
