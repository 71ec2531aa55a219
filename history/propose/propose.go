// Package propose makes a study file by looking at a user's tables.
//
// Begin with [Study]; ExampleStudy shows it.
package propose

import (
	"context"
)

// Study looks at the tables under the paths (files, or folders with all that
// is in them) and proposes a study file that will stand in the folder base.
// Columns are told by what they hold, not by what they are called. The error
// says what is missing where no study can be proposed.
func Study(ctx context.Context, paths []string, base string) (*Proposal, error) {
	p, err := Told(ctx, paths, base, nil)
	if err != nil {
		return nil, err
	}
	return p, nil
}

// Told proposes as [Study] does where a user says what some tables are, by the
// names that [Taken] gives them. The proposal is there with an error too: then it
// has no text, and its tables as far as they are known.
func Told(ctx context.Context, paths []string, base string, said map[string]Said) (*Proposal, error) {
	g := &guess{base: base, said: said}
	for _, step := range []func(context.Context) error{
		func(ctx context.Context) error { return g.gather(ctx, paths) }, g.roles, g.mapSightings, g.laterSites,
		func(context.Context) error { g.findRelease(); return nil }, g.river,
	} {
		if err := step(ctx); err != nil {
			return &Proposal{Tables: g.taken(), Doubts: g.doubts}, err
		}
	}
	return g.render(), nil
}
