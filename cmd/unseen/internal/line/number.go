package line

import (
	"fmt"
	"math"
	"strconv"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs"
	"example.org/unseen/cmd/unseen/internal/view"
)

// span is where a number of the line must lie. No span holds a number that is
// not finite.
type span struct {
	holds func(float64) bool
	words string
}

// Between excludes its ends.
func Between(low, high float64, example string) span {
	return span{func(x float64) bool { return x > low && x < high }, fmt.Sprintf("between %v and %v, such as %s", low, high, example)}
}

var (
	inflations = span{func(x float64) bool { return x >= 1 && x <= cjs.MaxInflation }, fmt.Sprintf("from 1 to %.0f, or auto", cjs.MaxInflation)}
	Finite     = span{func(float64) bool { return true }, "finite"}
)

// check refuses a number of a flag that is not finite, or outside.
func (s span) check(flag string, x float64) error {
	if math.IsNaN(x) || math.IsInf(x, 0) || !s.holds(x) {
		return Errorf("--%s is %v; it is a number %s", flag, x, s.words)
	}
	return nil
}

// Parse reads and checks a number that stands among other words of a flag.
func (s span) Parse(flag, text string) (float64, error) {
	x, err := strconv.ParseFloat(text, 64)
	if err != nil && !math.IsInf(x, 0) {
		return x, Errorf("--%s is %q; it is a number %s", flag, text, s.words)
	}
	return x, s.check(flag, x)
}

// NumberFlag is a flag of a number in a span: every one is made here, and
// checked before its command runs.
func NumberFlag(s span, f cli.Float64Flag) cli.Flag {
	f.Action = func(_ *cli.Context, x float64) error { return s.check(f.Name, x) }
	return &f
}

// LevelFlag is the confidence level, of every command that makes intervals.
func LevelFlag() cli.Flag {
	return NumberFlag(Between(cjs.LowestLevel, cjs.HighestLevel, "0.95"), cli.Float64Flag{Name: "level", Value: 0.95, Usage: "confidence `LEVEL` of the intervals"})
}

// CountFlag is a flag of a whole number from least to most: every one is made
// here, and checked before its command runs. hint says what is usual, or is "".
func CountFlag(least, most int, hint string, f cli.IntFlag) cli.Flag {
	f.Action = func(_ *cli.Context, n int) error {
		if n < least || n > most {
			return Errorf("--%s is %d; it is at least %d and at most %s%s", f.Name, n, least, view.Digits(float64(most), 0), hint)
		}
		return nil
	}
	return &f
}

// SeedFlag is that of random numbers.
func SeedFlag(usage string) cli.Flag {
	return &cli.Uint64Flag{Name: "seed", Value: 1, Usage: usage}
}

const (
	// ManyRuns is the most simulations or refits of one run, manyFish the most
	// fish anybody tags, manyDays the most days between two of a replay.
	ManyRuns = 1_000_000
	ManyFish = 1_000_000_000
	ManyDays = 3660
)
