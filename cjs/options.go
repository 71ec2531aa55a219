package cjs

import (
	"fmt"
	"slices"
	"strings"
)

// MaxInflation is the largest variance inflation that is taken; whatever a
// larger one is of, it is not of fish that depend on each other.
const MaxInflation = 1e6

var intervals = []string{"auto", "logit", "profile"}

// check refuses options out of their range; zero values are the defaults.
func (opt Options) check() error {
	if x := opt.Level; x != 0 && !(x > 0 && x < 1) {
		return fmt.Errorf("the level of intervals is %v; it lies between 0 and 1, such as 0.95", x)
	}
	if x := opt.VarianceInflation; x != 0 && !(x >= 1 && x <= MaxInflation) {
		return fmt.Errorf("the variance inflation is %v; it is a number from 1 to %.0f", x, MaxInflation)
	}
	if opt.Interval != "" && !slices.Contains(intervals, opt.Interval) {
		return fmt.Errorf("there are no intervals %q; there are: %s", opt.Interval, strings.Join(intervals, ", "))
	}
	return nil
}
