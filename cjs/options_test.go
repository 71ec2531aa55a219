package cjs

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Options that mean nothing are refused before anything is fitted or expected,
// with the value and what would be right.
func TestOptionsOutOfRange(t *testing.T) {
	for _, c := range []struct {
		opt  Options
		says string
	}{
		{Options{Level: math.NaN()}, "level of intervals is NaN; it lies between 0.001 and 0.999999"},
		{Options{Level: math.Inf(1)}, "level of intervals is +Inf"},
		{Options{Level: 1}, "level of intervals is 1"},
		{Options{Level: 1e-320}, "level of intervals is 1e-320"},
		{Options{Level: 1 - 1e-15}, "level of intervals is 0.999999999999999"},
		{Options{Level: -0.5}, "level of intervals is -0.5"},
		{Options{VarianceInflation: math.NaN()}, "variance inflation is NaN; it is a number from 1 to 1000000"},
		{Options{VarianceInflation: math.Inf(1)}, "variance inflation is +Inf"},
		{Options{VarianceInflation: 1e308}, "variance inflation is 1e+308"},
		{Options{VarianceInflation: 0.5}, "variance inflation is 0.5"},
		{Options{VarianceInflation: -1}, "variance inflation is -1"},
		{Options{Interval: "profle"}, `no intervals "profle"; there are: auto, logit, profile`},
	} {
		_, err := New(context.Background(), nil, c.opt)
		assert.ErrorContains(t, err, c.says)
		_, err = Expect(context.Background(), nil, nil, nil, nil, c.opt)
		assert.ErrorContains(t, err, c.says)
	}
	for _, opt := range []Options{{}, {Level: 0.5, VarianceInflation: 1, Interval: "auto"}, {Level: 0.999, VarianceInflation: 1e6, Interval: "profile"}, {Interval: "logit"}} {
		assert.NoError(t, opt.Check(), "%+v", opt)
	}
}
