package inference

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// scaleMixture returns the mean of g(S), S the square root of chi-squared over
// its degrees of freedom: the law of every statistic that is divided by an
// estimated standard deviation.
//
//	E g(S) = integral g(e^u) f(e^u) e^u du,  f(s) = 2 (df/2)^(df/2)/Gamma(df/2) s^(df-1) exp(-df s²/2)
//
// steepness is how many times steeper than log s itself g may change. The
// trapezoidal rule in u = log s converges like exp(-c/step), since the integrand
// is analytic and dies at both ends (Trefethen & Weideman 2014, SIAM Review 56:385-458): a step
// of a tenth gives all digits of a double. gonum's quadrature rules are made
// for finite intervals and need several times the points. An infinite df gives g(1).
func scaleMixture(df, steepness float64, g func(s float64) float64) float64 {
	if math.IsInf(df, 1) || df > 1e8 {
		return g(1)
	}
	lg, _ := math.Lgamma(df / 2)
	constant := math.Ln2 + df/2*math.Log(df/2) - lg
	step := min(0.1, 0.6/math.Sqrt(2*df), 0.5/max(steepness, 1e-9))
	weight := func(u float64) float64 { return math.Exp(constant + df*u - df/2*math.Exp(2*u)) }
	const negligible = 1e-19
	var sum, lost float64
	for side := -1.0; side <= 1; side += 2 {
		start := 0
		if side > 0 {
			start = 1
		}
		for k := start; k < 100000; k++ {
			u := side * float64(k) * step
			w := weight(u)
			if w < negligible {
				break
			}
			term := w * g(math.Exp(u))
			y := term - lost
			t := sum + y
			lost = (t - sum) - y
			sum = t
		}
	}
	return sum * step
}

// NoncentralTCDF returns the distribution function of the noncentral t.
//
//	P(T <= t) = E Phi(t S - ncp)
//
// Source: Johnson, Kotz & Balakrishnan (1995), Continuous Univariate
// Distributions 2, ch. 31, by quadrature over the scale; gonum has none.
func NoncentralTCDF(t, df, ncp float64) (float64, error) {
	if err := checkDF(df); err != nil || math.IsNaN(t) || math.IsNaN(ncp) || math.IsInf(ncp, 0) {
		return 0, orInput(err, "t", t)
	}
	p := scaleMixture(df, 1+math.Abs(ncp), func(s float64) float64 { return NormalCDF(t*s - ncp) })
	return min(1, max(0, p)), nil
}

// NoncentralFCDF returns the distribution function of the noncentral F.
//
//	P(F <= f) = sum over j of Poisson(j; ncp/2) I_x(d1/2 + j, d2/2),  x = d1 f/(d1 f + d2)
//
// Source: Johnson, Kotz & Balakrishnan (1995), ch. 30; gonum has none.
func NoncentralFCDF(f, d1, d2, ncp float64) (float64, error) {
	if err := checkDF(d1, d2); err != nil || !(f >= 0) || !(ncp >= 0) || math.IsInf(ncp, 1) {
		return 0, orInput(err, "f", f)
	}
	if math.IsInf(f, 1) {
		return 1, nil
	}
	half := ncp / 2
	x := d1 * f / (d1*f + d2)
	middle := math.Floor(half)
	poisson := func(j float64) float64 {
		if half == 0 {
			if j == 0 {
				return 1
			}
			return 0
		}
		lg, _ := math.Lgamma(j + 1)
		return math.Exp(j*math.Log(half) - half - lg)
	}
	var sum float64
	for j := middle; ; j++ { // outwards from the most likely term
		w := poisson(j)
		sum += w * mathext.RegIncBeta(d1/2+j, d2/2, x)
		if w < 1e-18 {
			break
		}
	}
	for j := middle - 1; j >= 0; j-- {
		w := poisson(j)
		sum += w * mathext.RegIncBeta(d1/2+j, d2/2, x)
		if w < 1e-18 {
			break
		}
	}
	return min(1, max(0, sum)), nil
}
