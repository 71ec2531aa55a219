// Package propose makes a study file by looking at a user's tables.
package propose

import (
	"context"
)

// Study looks at the tables under the paths (files, or folders with all that
// is in them) and proposes a study file that will stand in the folder base.
// Columns are told by what they hold, not by what they are called. The error
// says what is missing where no study can be proposed.
func Study(ctx context.Context, paths []string, base string) (*Proposal, error) {
	g := &guess{base: base}
	if err := g.gather(ctx, paths); err != nil {
		return nil, err
	}
	if err := g.roles(ctx); err != nil {
		return nil, err
	}
	if err := g.mapSightings(ctx); err != nil {
		return nil, err
	}
	if err := g.laterSites(ctx); err != nil {
		return nil, err
	}
	g.findRelease()
	if err := g.river(ctx); err != nil {
		return nil, err
	}
	return g.render(), nil
}
