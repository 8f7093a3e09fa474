package rainfall

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// ChristiansenWeighted is Christiansen for cans that stand for unequal areas.
//
//	CU = 100 (1 - sum w|x - m| / m),  m = sum w x,  sum w = 1
//
// Source: [HeermannHein1968].
// Errors: as Christiansen, and ErrCatch for weights that are not the cans'.
func ChristiansenWeighted(catch, weights []float64) (float64, error) {
	m, w, err := weightedCatch(catch, weights)
	if err != nil {
		return 0, err
	}
	var dev float64
	for i, x := range catch {
		dev += w(i) * math.Abs(x-m)
	}
	return 100 * (1 - dev/m), nil
}

// LowQuarterWeighted is LowQuarter for cans that stand for unequal areas: the
// quarter of the area with the least rain, the boundary can in part.
//
// Source: definition. Errors: as ChristiansenWeighted.
func LowQuarterWeighted(catch, weights []float64) (float64, error) {
	m, _, err := weightedCatch(catch, weights)
	if err != nil {
		return 0, err
	}
	const part = 0.25
	var sum float64
	for i, share := range driest(catch, weights, part) {
		sum += share * catch[i]
	}
	return 100 * sum / (part * m), nil
}

// driest returns by how much of the area each can belongs to the part with the
// least rain. The weights belong to the cans.
func driest(catch, weights []float64, part float64) []float64 {
	_, w, err := weightedCatch(catch, weights)
	shares := make([]float64, len(catch))
	if err != nil {
		return shares
	}
	order := make([]int, len(catch))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(catch[a], catch[b]) })
	for _, i := range order {
		shares[i] = min(part, w(i))
		if part -= shares[i]; part <= 0 {
			break
		}
	}
	return shares
}

// VariationWeighted is Variation for cans that stand for unequal areas.
//
//	CV = s / m,  s^2 = sum w (x - m)^2 / (1 - sum w^2)
//
// which is n - 1 for equal weights. Errors: as ChristiansenWeighted.
func VariationWeighted(catch, weights []float64) (float64, error) {
	m, w, err := weightedCatch(catch, weights)
	if err != nil {
		return 0, err
	}
	return math.Sqrt(weightedVariance(catch, w, m)) / m, nil
}

func weightedVariance(x []float64, w func(int) float64, m float64) float64 {
	var s, squares float64
	for i, v := range x {
		s += w(i) * (v - m) * (v - m)
		squares += w(i) * w(i)
	}
	if squares >= 1 {
		return 0
	}
	return s / (1 - squares)
}

// effectiveCans returns the number of equal cans whose mean is known as well as
// that of weighted ones, 1 / sum w^2. nil: n.
func effectiveCans(n int, weights []float64) float64 {
	if weights == nil {
		return float64(n)
	}
	var squares float64
	for _, w := range weights {
		squares += w * w
	}
	return 1 / squares
}

// weightedCatch returns the mean of a catch and its weights, divided by their
// sum; nil weights are equal.
func weightedCatch(catch, weights []float64) (float64, func(int) float64, error) {
	if weights == nil {
		m, err := catchMean(catch)
		each := 1 / float64(max(1, len(catch)))
		return m, func(int) float64 { return each }, err
	}
	if _, err := catchMean(catch); err != nil {
		return 0, nil, err
	}
	if len(weights) != len(catch) {
		return 0, nil, fmt.Errorf("%w: %d cans and %d weights", ErrCatch, len(catch), len(weights))
	}
	var total, m float64
	for i, w := range weights {
		if !(w >= 0) || math.IsInf(w, 1) {
			return 0, nil, fmt.Errorf("%w: weight %v", ErrCatch, w)
		}
		total += w
		m += w * catch[i]
	}
	if !(total > 0 && m > 0) {
		return 0, nil, fmt.Errorf("%w: weights %v", ErrCatch, total)
	}
	return m / total, func(i int) float64 { return weights[i] / total }, nil
}
