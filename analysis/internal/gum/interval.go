package gum

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"sheetwash/analysis/internal/student"
)

// manyDF is the number of degrees of freedom from which the t distribution is
// taken for normal: its 97.5 % quantile is then within 0.12 % of 1.96.
const manyDF = 1000

// Coverage returns the factor k such that value +- k u holds the truth with
// probability level.
//
//	k = t_((1+level)/2)(df), or z_((1+level)/2) for a known uncertainty (df = 0)
//
// A level outside (0, 1) has no factor: 0.
// Source: [GUM2008] G.3.2, G.6.
func Coverage(level, df float64) float64 {
	if !(level > 0 && level < 1) {
		return 0
	}
	p := (1 + level) / 2
	if df > 0 && df < manyDF {
		return student.Quantile(p, df)
	}
	return distuv.UnitNormal.Quantile(p)
}

// Bounds are the values that a quantity can have.
type Bounds struct{ Low, High float64 }

// Unbounded returns the bounds of a quantity that can have any value.
func Unbounded() Bounds { return Bounds{math.Inf(-1), math.Inf(1)} }

// NonNegative returns the bounds of depths, rates and times.
func NonNegative() Bounds { return Bounds{0, math.Inf(1)} }

// Share returns the bounds of a part of a whole.
func Share() Bounds { return Bounds{0, 1} }

// Within returns the interval at level of a quantity that was measured as value
// with standard uncertainty u and is known to lie within bounds: the shortest
// one that holds the share level of a normal distribution about value, of which
// only the part within the bounds is possible.
//
//	low, high = value -+ s z((1 + level M)/2)                  where that is within the bounds
//	low = b0, Phi((high - value)/s) = P0 + level M             where it reaches below b0
//	high = b1, Phi((low - value)/s) = P1 - level M             where it reaches above b1
//	P0 = Phi((b0 - value)/s), P1 = Phi((b1 - value)/s), M = P1 - P0, s = u k / z((1 + level)/2)
//
// z is the normal quantile and k the factor of Coverage. The bounds enter as
// knowledge and the level is kept: what is impossible on one side is added on the
// other, nothing is cut off. Far from the bounds the interval is value +- k u. A value
// outside its bounds is an error of measurement that the caller flags; its interval is
// value +- k u as well. For one on a bound, such as a start of runoff with the rain,
// it begins or ends there.
// Source: normal likelihood with a constant prior on the bounds; [GUM2008] 4.3.8
// for bounds as knowledge.
func Within(value, u, df, level float64, b Bounds) (low, high float64) {
	k := Coverage(level, df)
	inside := value >= b.Low && value <= b.High
	near := value-b.Low < 6*u || b.High-value < 6*u
	if !inside || !near || u == 0 || k == 0 {
		return value - k*u, value + k*u
	}
	n := distuv.UnitNormal
	s := u * k / n.Quantile((1+level)/2)
	p0, p1 := n.CDF((b.Low-value)/s), n.CDF((b.High-value)/s)
	mass := level * (p1 - p0)
	half := s * n.Quantile((1+mass)/2)
	low, high = value-half, value+half
	switch {
	case low < b.Low:
		low, high = b.Low, value+s*n.Quantile(p0+mass)
	case high > b.High:
		low, high = value+s*n.Quantile(p1-mass), b.High
	}
	return max(low, b.Low), min(high, b.High)
}
