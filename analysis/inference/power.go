package inference

import (
	"fmt"
	"math"

	"sheetwash/analysis/quantity"
)

// Planning: how many replicates a wanted statement needs. The power that a finished
// study had is never reported, since it says nothing that its interval does not.

const mostReplicates = 1e7

// TPower returns the probability that a two-sided t test of two groups of n
// finds a standardised difference d at significance alpha.
//
//	P(|T'| > t(1-alpha/2, 2n-2)),  T' noncentral with d sqrt(n/2)
//
// Both tails count, the one on the wrong side of d adds next to nothing. n need not be whole. Source: Cohen (1988), Statistical Power Analysis,
// ch. 2. Errors: ErrInput for n <= 1, alpha outside (0, 1) or NaN.
func TPower(n, d, alpha float64) (float64, error) {
	return tPower(2*n-2, math.Abs(d)*math.Sqrt(n/2), alpha)
}

// PairedTPower is TPower for n pairs whose differences have the standardised mean d.
func PairedTPower(n, d, alpha float64) (float64, error) {
	return tPower(n-1, math.Abs(d)*math.Sqrt(n), alpha)
}

func tPower(df, ncp, alpha float64) (float64, error) {
	t, err := TQuantile(1-alpha/2, df)
	if err != nil {
		return 0, err
	}
	upper, err := NoncentralTCDF(t, df, ncp)
	if err != nil {
		return 0, err
	}
	lower, err := NoncentralTCDF(-t, df, ncp)
	return 1 - upper + lower, err
}

// TSampleSize returns the replicates per group at which TPower reaches a power,
// not rounded. Missing where fewer than two would do. Errors: ErrInput for a d of zero, power or alpha outside (0, 1).
func TSampleSize(d, power, alpha float64) (quantity.Optional, error) {
	if d == 0 || math.IsNaN(d) || math.IsInf(d, 0) {
		return quantity.None(), fmt.Errorf("%w: difference %v", ErrInput, d)
	}
	if err := checkPlan(power, alpha); err != nil {
		return quantity.None(), err
	}
	return smallest(func(n float64) float64 {
		p, err := TPower(n, d, alpha)
		if err != nil {
			return math.NaN()
		}
		return p - power
	}, 2), nil
}

// DetectableDifference returns the standardised difference that two groups of n
// find with a power. Errors: ErrInput for n < 2, power or alpha outside (0, 1).
func DetectableDifference(n, power, alpha float64) (float64, error) {
	if err := checkPlan(power, alpha); err != nil {
		return 0, err
	}
	if _, err := TPower(n, 0, alpha); err != nil || n < 2 {
		return 0, orInput(err, "n", n)
	}
	d, ok := risingRoot(func(l float64) float64 {
		p, err := TPower(n, math.Exp(l), alpha)
		if err != nil {
			return math.NaN()
		}
		return p - power
	}, -1, 1)
	if !ok {
		return 0, fmt.Errorf("%w: no difference for power %v", ErrInput, power)
	}
	return math.Exp(d), nil
}

// AnovaPower returns the power of the F test of k groups of n for Cohen's f.
//
//	P(F' > F(1-alpha; k-1, k(n-1))),  F' noncentral with k n f²
//
// Source: Cohen (1988), ch. 8. Errors: ErrInput for k < 2, n <= 1 or alpha.
func AnovaPower(k int, n, f, alpha float64) (float64, error) {
	if k < 2 || !(n > 1) || !(f >= 0) {
		return 0, fmt.Errorf("%w: %d groups of %v with f %v", ErrInput, k, n, f)
	}
	d1, d2 := float64(k-1), float64(k)*(n-1)
	q, err := FQuantile(1-alpha, d1, d2)
	if err != nil {
		return 0, err
	}
	p, err := NoncentralFCDF(q, d1, d2, float64(k)*n*f*f)
	return 1 - p, err
}

// AnovaSampleSize returns the replicates per group at which AnovaPower reaches a
// power, not rounded. Errors as there.
func AnovaSampleSize(k int, f, power, alpha float64) (quantity.Optional, error) {
	if err := checkPlan(power, alpha); err != nil {
		return quantity.None(), err
	}
	if _, err := AnovaPower(k, 2, f, alpha); err != nil || f == 0 {
		return quantity.None(), orInput(err, "f", f)
	}
	return smallest(func(n float64) float64 {
		p, err := AnovaPower(k, n, f, alpha)
		if err != nil {
			return math.NaN()
		}
		return p - power
	}, 2), nil
}

// smallest returns the n from least up at which a rising function is zero;
// missing where it is positive at least already.
func smallest(f func(n float64) float64, least float64) quantity.Optional {
	lo, fl := least, f(least)
	if !(fl < 0) {
		return quantity.None()
	}
	for hi := 2 * lo; hi < mostReplicates; hi *= 2 {
		fh := f(hi)
		if fh >= 0 {
			x, ok := bracketedRoot(f, lo, hi, fl, fh)
			return quantity.Optional{V: x, OK: ok}
		}
		lo, fl = hi, fh
	}
	return quantity.None()
}

func checkPlan(power, alpha float64) error {
	if !(power > 0 && power < 1) || !(alpha > 0 && alpha < 1) {
		return fmt.Errorf("%w: power %v at significance %v", ErrInput, power, alpha)
	}
	return nil
}

// Replicates are the replicates per treatment that a wanted statement needs, not
// rounded. Missing: fewer than two are enough.
type Replicates struct {
	Normal quantity.Optional // by the normal formula, which says too little below about ten
	T      quantity.Optional // by the t test of the values
	LogT   quantity.Optional // by the t test of logarithms: the one for skewed metrics
}

// ReplicatesForRatio returns the replicates per treatment needed to find that
// one mean is lower than another by a relative difference, given the coefficient of variation
// between plots.
//
//	normal: 2 (z_alpha/2 + z_power)² (cv/difference)²
//	log t: effect |ln(1-difference)|, standard deviation sqrt(ln(1+cv²))
//
// Source: van Belle & Martin (1993), The American Statistician 47:165-167; Cohen (1988). Errors: ErrInput for a difference outside (0, 1), cv <= 0, power or alpha.
func ReplicatesForRatio(cv, relativeDifference, power, alpha float64) (Replicates, error) {
	var r Replicates
	if !(cv > 0) || math.IsInf(cv, 1) || !(relativeDifference > 0 && relativeDifference < 1) {
		return r, fmt.Errorf("%w: variation %v, difference %v", ErrInput, cv, relativeDifference)
	}
	if err := checkPlan(power, alpha); err != nil {
		return r, err
	}
	zp, err := NormalQuantile(power)
	if err != nil {
		return r, err
	}
	z := criticalNormal(1-alpha) + zp
	r.Normal = quantity.Some(2 * z * z * cv * cv / (relativeDifference * relativeDifference))
	if r.T, err = TSampleSize(relativeDifference/cv, power, alpha); err != nil {
		return r, err
	}
	r.LogT, err = TSampleSize(-math.Log1p(-relativeDifference)/math.Sqrt(math.Log1p(cv*cv)), power, alpha)
	return r, err
}

// ReplicatesForWidth returns the smallest number of plots whose t interval of the
// mean has a half width of at most a share of the mean, with that half width.
//
//	t(n-1) cv/sqrt(n) <= width
//
// Source: Desu & Raghavarao (1990), Sample Size Methodology, 1.2. Errors: ErrInput for cv or width that are not positive, or the level.
func ReplicatesForWidth(cv, relativeHalfWidth, level float64) (n int, halfWidth float64, err error) {
	if err := checkLevel(level); err != nil {
		return 0, 0, err
	}
	if !(cv > 0) || !(relativeHalfWidth > 0) || math.IsInf(cv, 1) {
		return 0, 0, fmt.Errorf("%w: variation %v, half width %v", ErrInput, cv, relativeHalfWidth)
	}
	width := func(n int) float64 { return critical(level, float64(n-1)) * cv / math.Sqrt(float64(n)) }
	low, high := 1, 2
	for width(high) > relativeHalfWidth {
		if high > mostReplicates {
			return 0, 0, fmt.Errorf("%w: more than %v plots", ErrInput, int(mostReplicates))
		}
		low, high = high, 2*high
	}
	for high-low > 1 {
		if m := (low + high) / 2; width(m) > relativeHalfWidth {
			low = m
		} else {
			high = m
		}
	}
	return high, width(high), nil
}
