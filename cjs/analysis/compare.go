package analysis

import (
	"context"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/cjs/compare"
	"example.org/unseen/cjs/model"
)

// Compare fits several models to the same fish. done is called after each and
// may be nil.
func (d *Data) Compare(ctx context.Context, specs []model.Spec, options Options, done func(n, of int)) (*compare.Result, error) {
	in, opt, err := d.several(options)
	if err != nil {
		return nil, err
	}
	return compare.Run(ctx, in, specs, opt, done)
}

// several is what more than one fit is made of: variance inflation is then
// that of the histories, whatever the models.
func (d *Data) several(options Options) (model.Input, cjs.Options, error) {
	in, err := d.Input()
	if err != nil {
		return in, cjs.Options{}, err
	}
	check, err := assess.Check(d.Histories, assess.Options{})
	if err != nil {
		return in, cjs.Options{}, err
	}
	opt, err := d.complete(options, check)
	return in, opt, err
}
