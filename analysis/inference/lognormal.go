package inference

import (
	"fmt"
	"math"

	"sheetwash/analysis/quantity"
)

// Geometric is a geometric mean with what belongs to it.
type Geometric struct {
	Interval                   // SD and SE are of the natural logarithms
	GSD      quantity.Optional // geometric standard deviation, exp(SD)
	CV       quantity.Optional // sqrt(exp(SD^2)-1), the coefficient of variation of a log-normal
}

// GeometricMean returns exp of the mean of the logarithms with exp of its
// Student interval: exact for log-normal values, whose median it estimates.
//
//	exp(m ± t(n-1) s/sqrt(n)),  m and s of ln y
//
// Errors: ErrInput for values that are not positive; zeros are the caller's
// business and are never replaced by a constant.
func GeometricMean(y []float64, level float64) (Geometric, error) {
	if err := checkPositive("y", y); err != nil {
		return Geometric{}, err
	}
	if err := checkLevel(level); err != nil {
		return Geometric{}, err
	}
	g := Geometric{Interval: meanT(logs(y), level)}
	g.Value, g.Low, g.High = g.Value.Map(math.Exp), g.Low.Map(math.Exp), g.High.Map(math.Exp)
	g.GSD = g.SD.Map(math.Exp)
	g.CV = g.SD.Map(func(s float64) float64 { return math.Sqrt(math.Expm1(s * s)) })
	return g, nil
}

// LognormalVariant names an interval for the arithmetic mean of a log-normal.
type LognormalVariant string

// The variants on offer. Cox covers too little for fewer than about ten values
// and is here for comparison; ModifiedCox is the default of the program.
const (
	Cox         LognormalVariant = "cox"
	ModifiedCox LognormalVariant = "modified_cox"
	MOVER       LognormalVariant = "mover"
)

// LognormalMean returns the arithmetic mean of a log-normal with its interval.
//
//	cox:           exp(m + s2/2 ± z sqrt(s2/n + s2²/(2(n-1))))
//	modified_cox:  the same with t(n-1) for z
//	mover:         exp of m + s2/2 with limits recovered from those of m and s2
//
// m and s2 are mean and variance (n-1) of ln y.
// Source: Land (1972), Technometrics 14:145-158, for Cox's method; Olsson (2005),
// Journal of Statistics Education 13(1), for the modified one; Zou, Huo &
// Taleban (2009), Environmetrics 20:172-180, for MOVER.
// Errors: ErrInput for values that are not positive or an unknown variant.
func LognormalMean(y []float64, level float64, variant LognormalVariant) (Interval, error) {
	if err := checkPositive("y", y); err != nil {
		return Interval{}, err
	}
	if err := checkLevel(level); err != nil {
		return Interval{}, err
	}
	r := meanT(logs(y), level)
	if len(y) < 2 {
		r.Value = r.Value.Map(math.Exp)
		return r, nil
	}
	n, m, s2 := float64(len(y)), r.Value.V, r.SD.V*r.SD.V
	theta := m + s2/2
	var below, above float64
	switch variant {
	case Cox, ModifiedCox:
		f := criticalNormal(level)
		if variant == ModifiedCox {
			f = critical(level, n-1)
		}
		below = f * math.Sqrt(s2/n+s2*s2/(2*(n-1)))
		above = below
	case MOVER:
		low, high, err := chiSquaredFactors(level, n-1)
		if err != nil {
			return Interval{}, err
		}
		z := criticalNormal(level)
		below = math.Hypot(z*math.Sqrt(s2/n), s2/2*(1-low))
		above = math.Hypot(z*math.Sqrt(s2/n), s2/2*(high-1))
	default:
		return Interval{}, fmt.Errorf("%w: log-normal variant %q", ErrInput, variant)
	}
	wasSpread := r.Bounded()
	r.Value = quantity.Some(math.Exp(theta))
	r.Low, r.High = quantity.None(), quantity.None()
	if wasSpread {
		r.Low, r.High = quantity.Some(math.Exp(theta-below)), quantity.Some(math.Exp(theta+above))
		r.open()
	}
	return r, nil
}

// SkewedMean returns the mean of a positive sample with an interval as wide as
// that of ModifiedCox, about the sample mean instead of the log-normal one.
//
//	m exp(± t(n-1) sqrt(s2/n + s2²/(2(n-1)))),  s2 the variance of ln y
//
// For estimates that must be the plain mean, such as a mean time without
// censoring beside restricted ones. Source of the width: Olsson (2005); its use about
// the sample mean is a departure, measured in docs/methods/inference.md.
// Errors: ErrInput for values that are not positive.
func SkewedMean(y []float64, level float64) (Interval, error) {
	r, err := LognormalMean(y, level, ModifiedCox)
	if err != nil || len(y) == 0 {
		return r, err
	}
	m, _ := moments(y)
	scale := m / r.Value.V
	times := func(v float64) float64 { return v * scale }
	r.Value, r.Low, r.High = quantity.Some(m), r.Low.Map(times), r.High.Map(times)
	return r, nil
}

// chiSquaredFactors returns the factors on a variance that give its limits.
func chiSquaredFactors(level, df float64) (low, high float64, err error) {
	upper, err := ChiSquaredQuantile(1-(1-level)/2, df)
	if err != nil {
		return 0, 0, err
	}
	lower, err := ChiSquaredQuantile((1-level)/2, df)
	if err != nil {
		return 0, 0, err
	}
	return df / upper, df / lower, nil
}

func logs(y []float64) []float64 {
	out := make([]float64, len(y))
	for i, v := range y {
		out[i] = math.Log(v)
	}
	return out
}
