// Package propose makes a study file by looking at a user's tables.
package propose

import (
	"context"
)

// Proposal is a study file made by looking at a user's tables.
type Proposal struct {
	// Study is the text of the study file, with what is not sure as comments.
	Study string
	// Doubts are what the user should confirm, a sentence each.
	Doubts []string
	// Fish is the tagging table and Sightings the array files, from the folder
	// of the study file; Other are tables that seem to be neither.
	Fish      string
	Sightings []string
	Other     []string
}

// Study looks at the tables under the paths (files, or folders with all that
// is in them) and proposes a study file that will stand in the folder base.
// Columns are told by what they hold, not by what they are called. The error
// says what is missing where no study can be proposed.
func Study(ctx context.Context, paths []string, base string) (*Proposal, error) {
	g := &guess{base: base}
	if err := g.gather(ctx, paths); err != nil {
		return nil, err
	}
	if err := g.roles(); err != nil {
		return nil, err
	}
	if err := g.mapSightings(); err != nil {
		return nil, err
	}
	if err := g.river(ctx); err != nil {
		return nil, err
	}
	return g.render(), nil
}
