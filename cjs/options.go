package cjs

import (
	"fmt"
	"slices"
	"strings"

	"example.org/unseen/cjs/model"
)

// Options of a fit. The zero value is the documented default.
type Options struct {
	// Level of the intervals; 0 means 0.95.
	Level float64
	// Interval is "auto", "logit" or "profile"; "" means auto: by profile
	// likelihood where the interval on the logit scale is not to be trusted
	// (few fish on one side, near 0 or 1, beside what is at 0 or 1, resting on
	// a survival or detection of which that holds, borrowed, or where rows did
	// not always work), else on the logit scale. What is at 0 or 1 has a profile
	// interval in any case.
	Interval string
	// VarianceInflation multiplies all variances; 0 means 1.
	VarianceInflation float64
	// InflationEstimated: the inflation was estimated from the data and
	// counts as one more parameter in QAICc.
	InflationEstimated bool
	// Start are coefficients to start from, and the only start; nil means
	// the closed form and some others.
	Start []float64
	// Retention are fish held and tags kept by them; Held 0 means none.
	Retention struct{ Held, Kept int }
	// EstimatesOnly leaves out what refits by the thousand do not need:
	// ranks, passed fish, products, warnings.
	EstimatesOnly bool
	// ValuesOnly leaves out standard errors and intervals of what
	// EstimatesOnly leaves in, and gives every value that the data tell,
	// though it be too early to rely on.
	ValuesOnly bool
}

// filled is the options with their defaults.
func (opt Options) filled() Options {
	if opt.Level == 0 {
		opt.Level = 0.95
	}
	if opt.Interval == "" {
		opt.Interval = "auto"
	}
	if opt.VarianceInflation == 0 {
		opt.VarianceInflation = 1
	}
	return opt
}

// MaxInflation is the largest variance inflation that is taken; whatever a
// larger one is of, it is not of fish that depend on each other.
const MaxInflation = 1e6

var intervals = []string{"auto", "logit", "profile"}

// Check refuses options out of their range; zero values are the defaults.
func (opt Options) Check() error {
	if err := CheckLevel(opt.Level); err != nil {
		return err
	}
	if err := CheckInflation(opt.VarianceInflation); err != nil {
		return err
	}
	if opt.Interval != "" && !slices.Contains(intervals, opt.Interval) {
		return fmt.Errorf("there are no intervals %q; there are: %s", opt.Interval, strings.Join(intervals, ", "))
	}
	if held, kept := opt.Retention.Held, opt.Retention.Kept; held < 0 || kept < 0 || kept > held {
		return fmt.Errorf("retention: %d tags kept by %d fish; from none to all of them can be", kept, held)
	}
	return nil
}

// LowestLevel and HighestLevel are what levels of intervals lie between: beyond,
// the quantiles are those of no data, and then of no number.
const LowestLevel, HighestLevel = 0.001, 0.999999

// CheckLevel refuses a level of intervals that is none; 0 is the default.
func CheckLevel(level float64) error {
	if level != 0 && !(level > LowestLevel && level < HighestLevel) {
		return fmt.Errorf("the level of intervals is %v; it lies between %v and %v, such as 0.95", level, LowestLevel, HighestLevel)
	}
	return nil
}

// CheckInflation refuses a variance inflation that is none; 0 is the default.
func CheckInflation(factor float64) error {
	if factor != 0 && !(factor >= 1 && factor <= MaxInflation) {
		return fmt.Errorf("the variance inflation is %v; it is a number from 1 to %.0f", factor, MaxInflation)
	}
	return nil
}

// checkProblem refuses a problem that [model.Build] did not make, or that was
// changed since so that its parts no longer fit each other.
func checkProblem(p *model.Problem) error {
	if err := p.Check(); err != nil {
		return err
	}
	if err := p.Design.Check(); err != nil {
		return fmt.Errorf("the design of the problem: %w", err)
	}
	if p.Layout != p.Design.Layout {
		return fmt.Errorf("the design of the problem is of another layout than the problem")
	}
	if len(p.Columns) != p.Design.Columns || len(p.Classes) != p.Design.Classes() {
		return fmt.Errorf("the problem names %d coefficients and %d classes, its design has %d and %d", len(p.Columns), len(p.Classes), p.Design.Columns, p.Design.Classes())
	}
	if err := p.Data.Check(p.Design); err != nil {
		return fmt.Errorf("the data of the problem: %w", err)
	}
	return nil
}
