package history

import (
	"math"
	"slices"
)

// Summary describes a sample. A value that does not exist is NaN.
type Summary struct {
	N         int       // values that are not NaN
	Min, Max  float64   // NaN without any
	Mean, SD  float64   // standard deviation with n − 1, NaN with fewer than two
	Quantiles []float64 // at the shares asked for
	Median    float64
	// HarmonicMean is N over the sum of 1/x: a distance over the harmonic mean
	// of the days is the mean of the fish's own speeds. 0 with a zero in the
	// sample, NaN with a negative number, for which it means nothing.
	HarmonicMean float64
}

// Summarise describes x, NaN left out, with its quantiles at shares. Quantiles
// lie between the order statistics, the share (k−1)/(n−1) at the k-th (Hyndman
// & Fan 1996, The American Statistician 50:361–365, definition 7).
func Summarise(x, shares []float64) Summary {
	nan := math.NaN()
	x = slices.DeleteFunc(slices.Clone(x), math.IsNaN)
	s := Summary{N: len(x), Min: nan, Max: nan, Mean: nan, SD: nan, Median: nan, HarmonicMean: nan, Quantiles: make([]float64, len(shares))}
	slices.Sort(x)
	for i, p := range shares {
		s.Quantiles[i] = quantile(x, p)
	}
	if len(x) == 0 {
		return s
	}
	s.Min, s.Max, s.Median = x[0], x[len(x)-1], quantile(x, 0.5)
	n := float64(len(x))
	var sum, inverse, square float64
	for _, v := range x {
		sum += v
		inverse += 1 / v
	}
	s.Mean = sum / n
	if x[0] >= 0 {
		s.HarmonicMean = n / inverse
	}
	for _, v := range x {
		square += (v - s.Mean) * (v - s.Mean)
	}
	if len(x) > 1 {
		s.SD = math.Sqrt(square / (n - 1))
	}
	return s
}

// quantile of a sorted sample; NaN of an empty one.
func quantile(x []float64, p float64) float64 {
	if len(x) == 0 || !(p >= 0 && p <= 1) {
		return math.NaN()
	}
	at := p * float64(len(x)-1)
	k := min(int(at), len(x)-1)
	v := x[k]
	if rest := at - float64(k); rest > 0 && k+1 < len(x) {
		v += rest * (x[k+1] - x[k])
	}
	return v
}
