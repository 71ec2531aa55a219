package replicate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/internal/plain"
)

// Summary is what replicates say of a fit.
type Summary struct {
	Replicates int // how many there are
	// Failed counts the replicates without estimates, by why.
	Failed    map[string]int
	Estimates []Estimate
	// ByProfile counts the estimates of the fit that keep an interval by
	// profile likelihood; 0 but after [Set.Apply].
	ByProfile int
	// Deviance of the fit, the mean of the simulated ones, and the share of
	// these at least as large: small where the model does not fit. NaN where
	// there is none, and P after drawing by fish.
	Deviance, MeanDeviance, P float64
}

// Estimate is what replicates say of one estimate.
type Estimate struct {
	Name  string  // as in the set
	Value float64 // of the data themselves
	// Given counts the replicates that have it.
	Given int
	// Bias is the mean over replicates minus the value they were made from,
	// SE their standard deviation.
	Bias, SE float64
	// Low and High are quantiles of the replicates (percentile interval);
	// CorrectedLow and CorrectedHigh those of the bias-corrected interval
	// (Efron 1981; Efron & Tibshirani 1993, eq. 14.10 with a = 0). NaN with
	// fewer replicates than the quantiles need.
	Low, High                   float64
	CorrectedLow, CorrectedHigh float64
}

func (e Estimate) MarshalJSON() ([]byte, error) { return plain.JSON(e) }

func (s Summary) MarshalJSON() ([]byte, error) { return plain.JSON(s) }

// Summarise sums up the replicates; level is that of the intervals, 0 means 0.95.
func (s *Set) Summarise(level float64) (*Summary, error) {
	if err := cjs.CheckLevel(level); err != nil {
		return nil, err
	}
	if err := s.Check(); err != nil {
		return nil, err
	}
	if level == 0 {
		level = 0.95
	}
	out := &Summary{Replicates: len(s.Replicates), Failed: map[string]int{}, Deviance: s.Deviance, MeanDeviance: math.NaN(), P: math.NaN()}
	var deviances []float64
	for _, r := range s.Replicates {
		if r.Failure != "" {
			out.Failed[r.Failure]++
		} else if !math.IsNaN(r.Deviance) {
			deviances = append(deviances, r.Deviance)
		}
	}
	if n := len(deviances); n > 0 && !math.IsNaN(s.Deviance) {
		out.MeanDeviance = stat.Mean(deviances, nil)
		if s.Method == Parametric {
			above := 0
			for _, d := range deviances {
				// Equal but for rounding is as large.
				if d >= s.Deviance-1e-9*max(1, math.Abs(s.Deviance)) {
					above++
				}
			}
			// The fit itself is one of the possible draws (Davison & Hinkley 1997, eq. 4.11).
			out.P = float64(above+1) / float64(n+1)
		}
	}
	for j, name := range s.Names {
		var v []float64
		for _, r := range s.Replicates {
			if r.Failure == "" && !math.IsNaN(r.Estimates[j]) {
				v = append(v, r.Estimates[j])
			}
		}
		out.Estimates = append(out.Estimates, estimate(name, s.Estimates[j], v, level))
	}
	return out, nil
}

// Apply sums up the replicates and gives f, the fit they are of, its intervals
// by them, where they can be had so ([cjs.Fit.SetIntervals]): bias-corrected
// ones, and where there are none percentiles.
func (s *Set) Apply(f *cjs.Fit) (*Summary, error) {
	if err := f.Check(); err != nil {
		return nil, err
	}
	out, err := s.Summarise(f.Options.Level)
	if err != nil {
		return nil, err
	}
	var low, high []float64
	for _, e := range out.Estimates {
		a, b := e.CorrectedLow, e.CorrectedHigh
		if math.IsNaN(a) || math.IsNaN(b) {
			a, b = e.Low, e.High
		}
		low, high = append(low, a), append(high, b)
	}
	out.ByProfile, err = f.SetIntervals("bootstrap", low, high)
	return out, err
}

// Within are the replicates from to to, both included.
func (s *Set) Within(from, to int) *Set {
	out := *s
	out.Replicates = slices.DeleteFunc(slices.Clone(s.Replicates), func(r Replicate) bool { return r.Index < from || r.Index > to })
	return &out
}

func estimate(name string, value float64, v []float64, level float64) Estimate {
	nan := math.NaN()
	e := Estimate{Name: name, Value: value, Given: len(v), Bias: nan, SE: nan, Low: nan, High: nan, CorrectedLow: nan, CorrectedHigh: nan}
	if len(v) < 2 {
		return e
	}
	mean, sd := stat.MeanStdDev(v, nil)
	e.Bias, e.SE = mean-value, sd
	slices.Sort(v)
	tail := (1 - level) / 2
	if float64(len(v))*tail < 1 {
		return e
	}
	e.Low, e.High = quantile(v, tail), quantile(v, 1-tail)
	// The share below the value; equal ones count half, so that a value at
	// its bound, where most replicates are too, shifts nothing.
	below := 0.0
	for _, x := range v {
		switch {
		case x < value-1e-9:
			below++
		case x <= value+1e-9:
			below += 0.5
		}
	}
	below /= float64(len(v))
	if below <= 0 || below >= 1 {
		return e
	}
	z0, z := distuv.UnitNormal.Quantile(below), distuv.UnitNormal.Quantile(1-tail)
	e.CorrectedLow = quantile(v, distuv.UnitNormal.CDF(2*z0-z))
	e.CorrectedHigh = quantile(v, distuv.UnitNormal.CDF(2*z0+z))
	return e
}

// quantile of sorted values, between neighbours by their distance (the common
// definition 7 of Hyndman & Fan 1996).
func quantile(v []float64, p float64) float64 {
	at := p * float64(len(v)-1)
	i := min(len(v)-2, int(at))
	return v[i] + (at-float64(i))*(v[i+1]-v[i])
}
