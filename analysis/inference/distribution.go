package inference

import (
	"fmt"
	"math"

	lru "github.com/hashicorp/golang-lru/v2"
	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"

	"sheetwash/analysis/internal/student"
)

// The distributions are gonum's, with the domain checked before (gonum panics)
// and the quantiles polished on the distribution function, since an inverse of
// the incomplete beta function alone loses digits for many degrees of freedom.

// NormalQuantile returns the quantile of the standard normal distribution.
func NormalQuantile(p float64) (float64, error) {
	if err := checkProbability(p); err != nil {
		return 0, err
	}
	z := mathext.NormalQuantile(p)
	for range 2 {
		d := NormalCDF(z) - p
		if z > 0 {
			d = (1 - p) - NormalCDF(-z)
		}
		f := distuv.UnitNormal.Prob(z)
		if f == 0 || d == 0 {
			break
		}
		// Halley's step, with the slope of the density.
		u := d / f
		z -= u / (1 + z*u/2)
	}
	return z, nil
}

// NormalCDF returns the standard normal distribution function, exact in the
// lower tail.
func NormalCDF(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }

// TCDF returns Student's distribution function with df degrees of freedom.
func TCDF(t, df float64) (float64, error) {
	if err := checkDF(df); err != nil || math.IsNaN(t) {
		return 0, orInput(err, "t", t)
	}
	return studentsT(df).CDF(t), nil
}

// TQuantile returns the quantile of Student's distribution.
// TQuantile(1-alpha/2, n-1) is the factor of a two-sided interval.
func TQuantile(p, df float64) (float64, error) {
	if err := checkProbability(p); err != nil {
		return 0, err
	}
	if err := checkDF(df); err != nil {
		return 0, err
	}
	if p == 0.5 {
		return 0, nil
	}
	t := tLower(min(p, 1-p), df)
	if p > 0.5 {
		t = -t
	}
	return t, nil
}

// factors remembers quantiles for whole degrees of freedom: a season asks for the
// same few ten thousands of times.
var factors, _ = lru.New[factor, float64](1024) // no error: the size is positive

type factor struct{ tail, df float64 }

// tLower returns the quantile of a lower tail.
func tLower(tail, df float64) float64 {
	if df != math.Trunc(df) {
		return tInverse(tail, df)
	}
	t, ok := factors.Get(factor{tail, df})
	if !ok {
		t = tInverse(tail, df)
		factors.Add(factor{tail, df}, t)
	}
	return t
}

// tInverse is gonum's inverse with Newton's steps.
func tInverse(tail, df float64) float64 {
	d := studentsT(df)
	var t float64
	if df >= 2.5 && tail > 1e-6 && tail < 0.49 {
		t = -student.Hill(2*tail, df) // to four digits at least, the rest by Newton's steps
	} else {
		t = d.Quantile(tail)
	}
	for range 3 {
		f := d.Prob(t)
		if f == 0 || math.IsInf(t, 0) {
			break
		}
		t -= (d.CDF(t) - tail) / f
	}
	return t
}

// TTwoSided returns the probability that Student's t is at least as far from
// zero as the given one.
func TTwoSided(t, df float64) (float64, error) {
	p, err := TCDF(-math.Abs(t), df)
	return 2 * p, err
}

func studentsT(df float64) distuv.StudentsT { return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df} }

// critical returns the factor of a two-sided interval at a checked level.
func critical(level, df float64) float64 {
	t, err := TQuantile(1-(1-level)/2, df)
	if err != nil {
		return math.Inf(1)
	}
	return t
}

// criticalNormal is critical for infinite degrees of freedom.
func criticalNormal(level float64) float64 {
	z, err := NormalQuantile(1 - (1-level)/2)
	if err != nil {
		return math.Inf(1)
	}
	return z
}

// FUpper returns the probability that F with (d1, d2) degrees of freedom exceeds f.
func FUpper(f, d1, d2 float64) (float64, error) {
	if err := checkDF(d1, d2); err != nil || !(f >= 0) {
		return 0, orInput(err, "f", f)
	}
	if math.IsInf(f, 1) {
		return 0, nil
	}
	// P(F > f) = I_{d2/(d2+d1 f)}(d2/2, d1/2)
	return mathext.RegIncBeta(d2/2, d1/2, d2/(d2+d1*f)), nil
}

// FQuantile returns the quantile of the F distribution.
func FQuantile(p, d1, d2 float64) (float64, error) {
	if err := checkDF(d1, d2); err != nil {
		return 0, err
	}
	b, err := BetaQuantile(p, d1/2, d2/2)
	if err != nil {
		return 0, err
	}
	return d2 * b / (d1 * (1 - b)), nil
}

// BetaCDF returns the beta distribution function, the regularised incomplete
// beta function.
func BetaCDF(x, a, b float64) (float64, error) {
	if err := checkDF(a, b); err != nil || !(x >= 0 && x <= 1) {
		return 0, orInput(err, "x", x)
	}
	return mathext.RegIncBeta(a, b, x), nil
}

// BetaQuantile returns the quantile of the beta distribution.
func BetaQuantile(p, a, b float64) (float64, error) {
	if err := checkProbability(p); err != nil {
		return 0, err
	}
	if err := checkDF(a, b); err != nil {
		return 0, err
	}
	return mathext.InvRegIncBeta(a, b, p), nil
}

// ChiSquaredUpper returns the probability that chi-squared exceeds x.
func ChiSquaredUpper(x, df float64) (float64, error) {
	if err := checkDF(df); err != nil || !(x >= 0) {
		return 0, orInput(err, "x", x)
	}
	if math.IsInf(x, 1) {
		return 0, nil
	}
	return mathext.GammaIncRegComp(df/2, x/2), nil
}

// ChiSquaredQuantile returns the quantile of the chi-squared distribution.
func ChiSquaredQuantile(p, df float64) (float64, error) {
	if err := checkProbability(p); err != nil {
		return 0, err
	}
	if err := checkDF(df); err != nil {
		return 0, err
	}
	return 2 * mathext.GammaIncRegInv(df/2, p), nil
}

func checkProbability(p float64) error {
	if !(p > 0 && p < 1) {
		return fmt.Errorf("%w: probability %v is not between 0 and 1", ErrInput, p)
	}
	return nil
}

func checkDF(df ...float64) error {
	for _, d := range df {
		if !(d > 0) || math.IsInf(d, 1) {
			return fmt.Errorf("%w: %v degrees of freedom", ErrInput, d)
		}
	}
	return nil
}

func orInput(err error, name string, v float64) error {
	if err != nil {
		return err
	}
	return fmt.Errorf("%w: %s is %v", ErrInput, name, v)
}
