package inference

import (
	"fmt"
	"math"
)

// DunnettCDF returns the probability that the largest of m correlated Student
// values is at most c in size. Their correlations are products lambda_i lambda_j,
// as those of comparisons with one control are: lambda_i = sqrt(n_i/(n_i+n_0)).
//
//	P = E integral phi(z) prod (Phi((c S + l_i z)/r_i) - Phi((-c S + l_i z)/r_i)) dz,  r_i = sqrt(1-l_i²)
//
// Source: Dunnett (1955), Journal of the American Statistical Association
// 50:1096-1121; Dunnett (1964), Biometrics 20:482-491, for unequal numbers. Computed by
// quadrature to eight digits; gonum has no multivariate t probability. Errors: ErrInput for no lambda, one outside
// [0, 1), df that are not positive or c < 0.
func DunnettCDF(c float64, lambda []float64, df float64) (float64, error) {
	if len(lambda) == 0 || !(df > 0) || !(c >= 0) {
		return 0, fmt.Errorf("%w: Dunnett's statistic %v of %d comparisons with %v degrees of freedom", ErrInput, c, len(lambda), df)
	}
	for _, l := range lambda {
		if !(l >= 0 && l < 1) {
			return 0, fmt.Errorf("%w: correlation factor %v", ErrInput, l)
		}
	}
	return dunnett(c, lambda, df), nil
}

// alike is how many comparisons have the same factor.
type alike struct{ lambda, rest, n float64 }

func dunnett(c float64, lambda []float64, df float64) float64 {
	if math.IsInf(c, 1) {
		return 1
	}
	var groups []alike
	step, steep := 0.2, 1.0
next:
	for _, l := range lambda {
		for i := range groups {
			if groups[i].lambda == l {
				groups[i].n++
				continue next
			}
		}
		r := math.Sqrt((1 - l) * (1 + l))
		groups = append(groups, alike{l, r, 1})
		step = min(step, 0.25*r/max(l, 0.1))
		steep = max(steep, 1/r)
	}
	inner := func(b float64) float64 {
		var sum float64
		for z := 0.0; z <= 8.6; z += step { // even in z
			p := density(z)
			if z == 0 {
				p /= 2
			}
			for _, g := range groups {
				in := NormalCDF((b+g.lambda*z)/g.rest) - NormalCDF((g.lambda*z-b)/g.rest)
				if g.lambda*z > b { // both near one: take the other tail
					in = NormalCDF((b-g.lambda*z)/g.rest) - NormalCDF((-b-g.lambda*z)/g.rest)
				}
				p *= math.Pow(max(0, in), g.n)
			}
			sum += p
		}
		return min(1, 2*step*sum)
	}
	return min(1, max(0, scaleMixture(df, 4*steep, func(s float64) float64 { return inner(c * s) })))
}

// DunnettQuantile inverts DunnettCDF. Errors: ErrInput as there and for p outside (0, 1).
func DunnettQuantile(p float64, lambda []float64, df float64) (float64, error) {
	if err := checkProbability(p); err != nil {
		return 0, err
	}
	if _, err := DunnettCDF(1, lambda, df); err != nil {
		return 0, err
	}
	x, ok := risingRoot(func(l float64) float64 { return dunnett(math.Exp(l), lambda, df) - p }, 0, 2)
	if !ok {
		return 0, fmt.Errorf("%w: no quantile of Dunnett's statistic at %v", ErrInput, p)
	}
	return math.Exp(x), nil
}
