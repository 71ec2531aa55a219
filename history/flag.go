package history

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
func (f Flag) Names() []string { return FlagNames(f, flagNames) }

// FlagNames are the names of the flags in a set, the lowest first.
func FlagNames[F ~uint8 | ~uint16](set F, names []string) []string {
	var out []string
	for i, name := range names {
		if set&(1<<i) != 0 {
			out = append(out, name)
		}
	}
	return out
}
