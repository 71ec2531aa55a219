package session

import (
	"context"
	"slices"

	"example.org/unseen/cjs/opinion"
)

// AskOthers fits the model again with other optimisers. What they hold against
// the fit stands before its own warnings. done is called after each run.
func (f *Fitted) AskOthers(ctx context.Context, done func(n, of int)) error {
	r, err := opinion.Run(ctx, f.Fit, opinion.Options{Done: done})
	if err != nil {
		return err
	}
	f.Opinion = r
	f.Fit.Warnings = slices.Concat(r.Warnings, f.Fit.Warnings)
	return nil
}
