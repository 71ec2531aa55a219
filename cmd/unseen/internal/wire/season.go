package wire

import (
	"time"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/season"
)

// Season is the document of `unseen season`.
type Season struct {
	Head
	// fitted on each day
	Model Model `json:"model"`
	// of the intervals
	Level Number      `json:"level"`
	Days  []SeasonDay `json:"days"` // what would have been said on each day
}

// SeasonDay is what would have been said on one day.
type SeasonDay struct {
	Through   string      `json:"through"` // the moment up to which data counted (ISO 8601)
	Released  int         `json:"released"`
	Sightings int         `json:"sightings"`            // fish seen, summed over sites
	Error     string      `json:"error" schema:"words"` // why nothing could be said; empty where something could
	Verdict   cjs.Verdict `json:"verdict" schema:"empty"`
	Movement  []Movement  `json:"movement"`             // how the fish move, while the season runs; else empty
	Passed    []Passed    `json:"passed"`               // as it would have been read then
	Over      []Passed    `json:"were_the_season_over"` // season treated as complete: every fish not re-detected assumed dead or missed
	CameTo    []Passed    `json:"it_came_to"`           // of the same fish, with all that is known in the end
}

// NewSeason makes the document.
func NewSeason(head Head, s *analysis.Season) Season {
	river := &s.Histories.River
	table := func(f *cjs.Fit) []Passed {
		if f == nil {
			return []Passed{}
		}
		return PassedOf(river, f.Passed)
	}
	return Season{head, specModel(s.Spec), Number(s.Level), each(s.Days, func(d season.Day) SeasonDay {
		x := SeasonDay{Through: d.AsOf.UTC().Format(time.RFC3339), Released: d.Released, Sightings: d.Seen, Error: because(d.Err),
			Movement: []Movement{}, Passed: table(d.Running), Over: table(d.Plain), CameTo: table(d.Final)}
		if d.Running != nil {
			x.Verdict, x.Movement = d.Running.Verdict, MovementsOf(river, d.Running.Movement)
		}
		return x
	})}
}
