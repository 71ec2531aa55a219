package ingest

import (
	"cmp"
	"slices"

	"example.org/unseen/history"
)

// Result is what a study's tables say.
type Result struct {
	Histories *history.Histories
	// Accounting is where every sighting record ended; Read is 0 for a study
	// of ready histories.
	Accounting history.Accounting
	// Findings come ordered by how much they can move the answer, most first.
	Findings []history.Finding
	// Inputs are the files read, the study's table first.
	Inputs []history.Input
	// Notes say what was settled without being asked: delimiters, the order
	// of day and month, files passed over.
	Notes []string
	// WorkingShare is, by cohort and site, the share of the cohort's passages
	// that fell into the site's working windows, 0 to 1: when each fish passed
	// is told by its sightings at the neighbouring sites. 1 where the site has
	// no windows, NaN where no passage is known and at the first site. nil for
	// a study of ready histories.
	WorkingShare [][]float64
	// Flags are what was noticed about each fish; nil for ready histories.
	Flags []Flag
	// Sites counts the readable records of each site; nil for ready
	// histories.
	Sites []SiteActivity
}

// SiteActivity is what the readers of a site recorded, of whatever tag.
type SiteActivity struct {
	Site    string
	Records int64
	// First and Last are Unix milliseconds, [history.NoTime] without records.
	First, Last int64
}

// Flag is a set of what was noticed about a fish.
type Flag uint16

const (
	// TurnedBack: a sighting after one farther down was set aside.
	TurnedBack Flag = 1 << iota
	// TooFast: a sighting was set aside as faster than fastest_km_per_day.
	TooFast
	// Parked: its tag stayed at an antenna for days.
	Parked
	// TaggedTwice: it carries a second tag.
	TaggedTwice
	// GhostTag: its tag is listed as a ghost.
	GhostTag
	// ShedLater: it shed its tag after release.
	ShedLater
	// UncertainSpecies: its species is not certain.
	UncertainSpecies
	// BelowMinimumLength: it was shorter than its tag asks for.
	BelowMinimumLength
)

var flagNames = []string{"turned back", "too fast", "parked", "tagged twice", "ghost tag", "shed later", "uncertain species", "below minimum length"}

// Names are the flags in words; none for a fish without any.
func (f Flag) Names() []string {
	var out []string
	for i, name := range flagNames {
		if f&(1<<i) != 0 {
			out = append(out, name)
		}
	}
	return out
}

// finding is a finding with its weight: the share of the answer it can move.
type finding struct {
	history.Finding
	impact float64
}

// ordered puts findings by weight, most first; equal ones keep their order.
func ordered(f []finding) []history.Finding {
	slices.SortStableFunc(f, func(a, b finding) int { return cmp.Compare(b.impact, a.impact) })
	out := make([]history.Finding, len(f))
	for i := range f {
		out[i] = f[i].Finding
	}
	return out
}
