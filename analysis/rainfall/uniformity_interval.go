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
	// influence returns by how much more weight of a can changes the logarithm of the
	// measure; nil for one that the jackknife serves better.
	influence func(x, r, mean, above float64) float64
}

func christiansenUnevenness() unevenness {
	return unevenness{
		of: func(x, w []float64) (float64, error) {
			cu, err := ChristiansenWeighted(x, w)
			return 1 - cu/100, err
		},
		low: func(n float64) float64 { return math.Sqrt(1 - 1/n) },
		influence: func(x, r, mean, above float64) float64 {
			return (math.Abs(x-mean)+(1-2*above)*(x-mean))/(r*mean) - x/mean
		},
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
//	r/b exp(-+ t(n-1) u)
//
// with u the standard error of ln r: for Christiansen's by the infinitesimal jackknife, for the others
// by the one that leaves out a can at a time. That one is too large on the average (Efron & Stein
// 1981), but the low quarter of few cans is too coarse for derivatives.
// b is the bias of few cans: their own mean is in the middle of them, so that
// the table is less even than they look. It is taken out of the interval and not
// of the value, which is the published definition.
// Source: [Jaeckel1972], [Tukey1958], jackknives of a logarithm; bias of the mean
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
	effective := effectiveCans(n, weights)
	var u float64
	if m.influence != nil {
		u = m.byInfluence(catch, weights, r) * math.Sqrt(effective/(effective-1))
	} else if u, ok = m.byLeavingOut(catch, weights); !ok {
		return 0, 0, false
	}
	b := m.low(effective)
	if !(effective > 1 && b > 0) {
		return 0, 0, false
	}
	spread := math.Exp(gum.Coverage(level, effective-1) * u)
	return r / b / spread, r / b * spread, true
}

// byInfluence is the root of the sum of squares of weight times influence.
func (m unevenness) byInfluence(catch, weights []float64, r float64) float64 {
	mean, w, _ := weightedCatch(catch, weights)
	above := 0.0
	for i, x := range catch {
		if x > mean {
			above += w(i)
		}
	}
	parts := make([]float64, len(catch))
	middle := 0.0
	for i, x := range catch {
		parts[i] = m.influence(x, r, mean, above)
		middle += w(i) * parts[i]
	}
	sum := 0.0
	for i, v := range parts {
		v = w(i) * (v - middle)
		sum += v * v
	}
	return math.Sqrt(sum)
}

// byLeavingOut leaves out one can at a time.
func (m unevenness) byLeavingOut(catch, weights []float64) (u float64, ok bool) {
	n := len(catch)
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
			return 0, false
		}
		logs[i] = math.Log(without)
	}
	return math.Sqrt(sumSquares(logs, mean(logs)) * float64(n-1) / float64(n)), true
}
