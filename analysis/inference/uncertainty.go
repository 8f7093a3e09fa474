package inference

import (
	"fmt"
	"math"

	"sheetwash/analysis/quantity"
)

// URectangular returns the standard uncertainty of a value that lies anywhere
// within ± halfWidth with equal probability: halfWidth/sqrt(3).
// Source: JCGM 100:2008 (GUM), 4.3.7.
func URectangular(halfWidth float64) (float64, error) {
	return scaled(halfWidth, math.Sqrt(3))
}

// UTriangular returns the standard uncertainty of a value within ± halfWidth
// whose density falls linearly from the middle: halfWidth/sqrt(6).
// Source: JCGM 100:2008 (GUM), 4.3.9.
func UTriangular(halfWidth float64) (float64, error) {
	return scaled(halfWidth, math.Sqrt(6))
}

// UResolution returns the standard uncertainty of an indication that moves in
// steps: step/sqrt(12). Source: JCGM 100:2008 (GUM), F.2.2.1.
func UResolution(step float64) (float64, error) {
	return scaled(step, math.Sqrt(12))
}

func scaled(v, by float64) (float64, error) {
	if !(v >= 0) || math.IsInf(v, 1) {
		return 0, fmt.Errorf("%w: width %v", ErrInput, v)
	}
	return v / by, nil
}

// CombinedU returns the root of the sum of squares of independent
// contributions. Source: JCGM 100:2008 (GUM), eq. 10 and 11a.
func CombinedU(u []float64) (float64, error) {
	if err := checkFinite("u", u); err != nil {
		return 0, err
	}
	var c float64
	for i, v := range u {
		if v < 0 {
			return 0, fmt.Errorf("%w: u[%d] is %v", ErrInput, i, v)
		}
		c = math.Hypot(c, v)
	}
	return c, nil
}

// WelchSatterthwaite returns the effective degrees of freedom of a combined
// standard uncertainty.
//
//	nu = u_c⁴ / sum(u_i⁴/nu_i)
//
// An infinite nu_i stands for an uncertainty that is known exactly. Missing
// where all contributions are zero or known exactly (infinite degrees).
// Source: JCGM 100:2008 (GUM), eq. G.2b. Errors: ErrInput for a negative u or
// degrees of freedom that are not positive.
func WelchSatterthwaite(u, df []float64) (quantity.Optional, error) {
	if err := checkLengths("u", "df", len(u), len(df)); err != nil {
		return quantity.None(), err
	}
	c, err := CombinedU(u)
	if err != nil {
		return quantity.None(), err
	}
	var s float64
	for i, d := range df {
		if !(d > 0) {
			return quantity.None(), fmt.Errorf("%w: df[%d] is %v", ErrInput, i, d)
		}
		if c > 0 {
			s += math.Pow(u[i]/c, 4) / d
		}
	}
	if s == 0 {
		return quantity.None(), nil
	}
	return quantity.Some(1 / s), nil
}
