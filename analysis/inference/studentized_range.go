package inference

import (
	"fmt"
	"math"
)

// normalGrid holds the points of the trapezoidal rule over the smallest of k
// normal values, with density and distribution function there. For a narrow range the
// integrand has the deviation 1/sqrt k, and the error of the rule is exp(-2 pi²/(k step²)).
type normalGrid struct {
	step              float64
	z, density, below []float64
}

func newNormalGrid(means int) normalGrid {
	g := normalGrid{step: min(0.3, 0.85/math.Sqrt(float64(means)))}
	most := int(8.6 / g.step)
	for k := -most; k <= most; k++ {
		z := float64(k) * g.step
		g.z, g.density, g.below = append(g.z, z), append(g.density, density(z)), append(g.below, NormalCDF(z))
	}
	return g
}

// rangeCDF returns the probability that the range of k standard normal values
// is at most w.
//
//	W(w) = k integral phi(z) (Phi(z) - Phi(z-w))^(k-1) dz
func (g normalGrid) rangeCDF(w float64, k int) float64 {
	switch {
	case w <= 0:
		return 0
	case w > 40:
		return 1
	}
	var sum float64
	for i, z := range g.z {
		inside := g.below[i]
		if z-w > -8.5 {
			inside -= NormalCDF(z - w)
		}
		if z > w/2 { // both near one: take the other tail
			inside = NormalCDF(w-z) - g.below[len(g.below)-1-i]
		}
		sum += g.density[i] * power(max(0, inside), k-1)
	}
	return min(1, float64(k)*g.step*sum)
}

// power is v^n for a small whole n.
func power(v float64, n int) float64 {
	if n > 64 {
		return math.Pow(v, float64(n))
	}
	p := 1.0
	for ; n > 0; n >>= 1 {
		if n&1 == 1 {
			p *= v
		}
		v *= v
	}
	return p
}

// StudentizedRangeCDF returns the probability that the range of k means, over
// the standard error of one, is at most q.
//
//	P(Q <= q) = E W(q S), S the scale of df degrees of freedom
//
// Computed by quadrature in both variables to ten digits. Source: Tukey (1949,
// 1953); Copenhaver & Holland (1988), Journal of Statistical Computation and Simulation 30:1-15,
// whose Gauss-Legendre rule is replaced by the trapezoidal one (scaleMixture). df may be
// infinite. Errors: ErrInput for k < 2, df that are not positive or q < 0.
func StudentizedRangeCDF(q float64, k int, df float64) (float64, error) {
	if k < 2 || !(df > 0) || !(q >= 0) {
		return 0, fmt.Errorf("%w: studentized range of %d means at %v with %v degrees of freedom", ErrInput, k, q, df)
	}
	return studentizedRange(q, k, df), nil
}

func studentizedRange(q float64, k int, df float64) float64 {
	if math.IsInf(q, 1) {
		return 1
	}
	g := newNormalGrid(k)
	p := scaleMixture(df, 4, func(s float64) float64 { return g.rangeCDF(q*s, k) })
	return min(1, max(0, p))
}

// StudentizedRangeQuantile inverts StudentizedRangeCDF. Errors: ErrInput as there
// and for p outside (0, 1).
func StudentizedRangeQuantile(p float64, k int, df float64) (float64, error) {
	if err := checkProbability(p); err != nil {
		return 0, err
	}
	if _, err := StudentizedRangeCDF(1, k, df); err != nil {
		return 0, err
	}
	x, ok := risingRoot(func(l float64) float64 { return studentizedRange(math.Exp(l), k, df) - p }, 0, 2)
	if !ok {
		return 0, fmt.Errorf("%w: no quantile of the studentized range at %v", ErrInput, p)
	}
	return math.Exp(x), nil
}
