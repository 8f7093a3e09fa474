package rainfall

import (
	"math"

	"sheetwash/analysis/internal/gum"
)

// maxJackknife is how many cans an interval of a uniformity is made for: the work
// grows with the square of their number.
const maxJackknife = 1000

// unevenness is a measure that is 0 for even rain: one minus a uniformity, or
// the coefficient of variation.
type unevenness struct {
	of func(catch, weights []float64) (float64, error)
	// low is by how much the measure of n cans falls short of that of the table.
	low func(n float64) float64
}

func christiansenUnevenness() unevenness {
	return unevenness{
		of: func(x, w []float64) (float64, error) {
			cu, err := ChristiansenWeighted(x, w)
			return 1 - cu/100, err
		},
		low: func(n float64) float64 { return math.Sqrt(1 - 1/n) },
	}
}

func variationUnevenness() unevenness {
	return unevenness{of: VariationWeighted, low: func(float64) float64 { return 1 }}
}

// lowQuarterUnevenness is by the rule of the value: with k of n cans in the
// quarter, the lowest ones of an even spread of depths fall short by
// (n - k) / (0.75 (n + 1)), and those of a normal one by the same within 3 %.
func lowQuarterUnevenness(rule Boundary) unevenness {
	return unevenness{
		of: func(x, w []float64) (float64, error) {
			if w != nil {
				du, err := LowQuarterWeighted(x, w)
				return 1 - du/100, err
			}
			du, err := LowQuarter(x, rule)
			return 1 - du/100, err
		},
		low: func(n float64) float64 { return (n - rule.cans(int(math.Round(n)), 0.25)) / (0.75 * (n + 1)) },
	}
}

// interval returns the interval of an unevenness r at a level, with cans as a
// random sample of the table.
//
//	r/b exp(-+ t(n-1) u),  u = standard error of ln r by the jackknife
//
// b is the bias of few cans: their own mean is in the middle of them, so that
// the table is less even than they look. It is taken out of the interval and not
// of the value, which is the published definition.
// Source: [Tukey1958], delete-one jackknife of a logarithm; bias of the mean
// absolute deviation of normal cans, sqrt(1 - 1/n); order statistics of the
// uniform distribution for the low quarter.
// Departure: with weights n is the effective number of cans. Coverage: docs/coverage.md.
func (m unevenness) interval(catch, weights []float64, level float64) (low, high float64, ok bool) {
	n := len(catch)
	if n < 3 || n > maxJackknife {
		return 0, 0, false
	}
	r, err := m.of(catch, weights)
	if err != nil || !(r > 0) {
		return 0, 0, false
	}
	logs := make([]float64, n)
	x := make([]float64, n-1)
	var w []float64
	for i := range catch {
		copy(x, catch[:i])
		copy(x[i:], catch[i+1:])
		if weights != nil {
			w = append(append(w[:0], weights[:i]...), weights[i+1:]...)
		}
		without, err := m.of(x, w)
		if err != nil || !(without > 0) {
			return 0, 0, false
		}
		logs[i] = math.Log(without)
	}
	effective := effectiveCans(n, weights)
	u := math.Sqrt(sumSquares(logs, mean(logs)) * float64(n-1) / float64(n))
	b := m.low(effective)
	if !(effective > 1 && b > 0) {
		return 0, 0, false
	}
	spread := math.Exp(gum.Coverage(level, effective-1) * u)
	return r / b / spread, r / b * spread, true
}
