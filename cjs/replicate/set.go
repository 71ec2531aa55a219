package replicate

import "example.org/unseen/cjs/internal/plain"

// Set is replicates of one fit.
type Set struct {
	// Method, Seed, Data and Model (SHA-256, hex) say what they are
	// replicates of: only those with all four the same belong together.
	Method string
	Seed   uint64
	Data   string
	Model  string
	// Words is the model as shown on screen, Names the estimates, Estimates
	// their values in the fit.
	Words     string
	Names     []string
	Estimates []float64
	// Deviance of the fit; NaN where fish differ by numbers or their times count, so
	// that there is no saturated model.
	Deviance float64
	// Replicates stand in the order of their indices, each once.
	Replicates []Replicate
}

// Replicate is what one refit gave.
type Replicate struct {
	// Index of the replicate, from 1: with the seed it settles what was drawn.
	Index int
	// Estimates in the order of Set.Names; NaN where the data did not tell.
	// nil where the replicate failed.
	Estimates []float64
	Deviance  float64
	// Failure says why there are no estimates, or "".
	Failure string
}

// Results as JSON: every exported field, its name in lower case with
// underscores, null where a value does not exist.

func (s Set) MarshalJSON() ([]byte, error)       { return plain.JSON(s) }
func (r Replicate) MarshalJSON() ([]byte, error) { return plain.JSON(r) }
