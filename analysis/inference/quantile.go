package inference

import (
	"fmt"
	"math"
	"slices"

	"sheetwash/analysis/quantity"
)

// QuantileType is a definition of sample quantiles by its number in
// Hyndman & Fan (1996), The American Statistician 50:361-365. Neither Percentile
// nor Quartile of montanaflynn/stats is one of these, so they are computed here.
type QuantileType int

// The types on offer.
const (
	Averaged       QuantileType = 2 // inverse of the distribution function, averaged at steps
	Weibull        QuantileType = 6 // p(k) = k/(n+1)
	Linear         QuantileType = 7 // p(k) = (k-1)/(n-1), the default of R and NumPy
	MedianUnbiased QuantileType = 8 // p(k) = (k-1/3)/(n+1/3)
)

// Quantile returns the p-quantile of a sample. Errors: ErrInput for NaN, p
// outside [0, 1] or an unknown type. Missing for no values.
func Quantile(y []float64, p float64, t QuantileType) (quantity.Optional, error) {
	if err := checkFinite("y", y); err != nil {
		return quantity.None(), err
	}
	if !(p >= 0 && p <= 1) {
		return quantity.None(), fmt.Errorf("%w: quantile of %v", ErrInput, p)
	}
	n := float64(len(y))
	var h float64 // position among the ordered values, counted from 1
	switch t {
	case Averaged:
		h = n * p
	case Weibull:
		h = (n + 1) * p
	case Linear:
		h = (n-1)*p + 1
	case MedianUnbiased:
		h = (n+1.0/3)*p + 1.0/3
	default:
		return quantity.None(), fmt.Errorf("%w: quantile type %d", ErrInput, t)
	}
	if len(y) == 0 {
		return quantity.None(), nil
	}
	s := slices.Sorted(slices.Values(y))
	if t == Averaged {
		h = nudge(h)
		return quantity.Some((at(s, math.Ceil(h)) + at(s, math.Floor(h)+1)) / 2), nil
	}
	h = nudge(h)
	lo := math.Floor(h)
	a, b := at(s, lo), at(s, lo+1)
	return quantity.Some(a + (h-lo)*(b-a)), nil
}

// nudge makes a position that misses an integer by rounding alone that integer.
func nudge(h float64) float64 {
	if r := math.Round(h); math.Abs(h-r) <= 4*0x1p-52*math.Max(1, math.Abs(h)) {
		return r
	}
	return h
}

// at returns the k-th of the ordered values, counted from 1, the ends beyond them.
func at(sorted []float64, k float64) float64 {
	return sorted[int(min(max(k, 1), float64(len(sorted))))-1]
}

func quantile7(y []float64, p float64) float64 {
	q, err := Quantile(y, p, Linear)
	if err != nil {
		return 0
	}
	return q.V
}

// TrimmedMean returns the mean without the floor(n*share) smallest and as many
// largest values. Errors: ErrInput for NaN or a share outside [0, 0.5).
func TrimmedMean(y []float64, share float64) (quantity.Optional, error) {
	if err := checkFinite("y", y); err != nil {
		return quantity.None(), err
	}
	if !(share >= 0 && share < 0.5) {
		return quantity.None(), fmt.Errorf("%w: trimmed share %v", ErrInput, share)
	}
	if len(y) == 0 {
		return quantity.None(), nil
	}
	s := slices.Sorted(slices.Values(y))
	k := int(math.Floor(nudge(float64(len(s)) * share)))
	m, _ := moments(s[k : len(s)-k])
	return quantity.Some(m), nil
}

// WeightedMean returns sum(w y)/sum(w). Errors: ErrInput for NaN, a negative
// weight or unlike lengths. Missing if the weights sum to zero.
func WeightedMean(y, weight []float64) (quantity.Optional, error) {
	if err := checkLengths("y", "weight", len(y), len(weight)); err != nil {
		return quantity.None(), err
	}
	if err := checkFinite("y", y); err != nil {
		return quantity.None(), err
	}
	if err := checkFinite("weight", weight); err != nil {
		return quantity.None(), err
	}
	var sw, swy float64
	for i, w := range weight {
		if w < 0 {
			return quantity.None(), fmt.Errorf("%w: weight[%d] is %v", ErrInput, i, w)
		}
		sw += w
		swy += w * y[i]
	}
	if sw == 0 {
		return quantity.None(), nil
	}
	return quantity.Some(swy / sw), nil
}
