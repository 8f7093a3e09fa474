package inference

import (
	"fmt"
	"math"

	"sheetwash/analysis/quantity"
)

// MeansRatio is a ratio of two means with its interval.
type MeansRatio struct {
	Interval
	LogLow, LogHigh quantity.Optional // delta method on the logarithm, transformed back
	G               quantity.Optional // Fieller's: below 1 the denominator is distinct from zero
}

// Fieller returns the ratio of the means of two independent samples with the
// interval that inverts the test of numerator - ratio * denominator = 0.
//
//	(r ± t/d sqrt(v1 (1-g) + r² v2)) / (1-g),  g = t² v2/d²,  v = s²/n
//
// With equalVariances the variance is pooled and DF is n1+n2-2, else DF is by
// Welch-Satterthwaite for var(numerator) + r² var(denominator). g >= 1: the set is not an interval: no
// limits, flag not_defined. Source: Fieller (1954), Journal of the Royal Statistical
// Society B 16:175-185. Errors: ErrInput for NaN or the level.
func Fieller(numerator, denominator []float64, equalVariances bool, level float64) (MeansRatio, error) {
	r, v1, v2, err := meansRatio(numerator, denominator, equalVariances, level)
	if err != nil || !r.SE.OK || !r.DF.OK {
		return r, err
	}
	m, _ := moments(denominator)
	t := critical(level, r.DF.V)
	g := t * t * v2 / (m * m)
	r.G = quantity.Some(g)
	if !(g < 1) {
		r.Flags.Add(FlagNotDefined)
		return r, nil
	}
	ratio := r.Value.V
	h := t / math.Abs(m) * math.Sqrt(v1*(1-g)+ratio*ratio*v2)
	r.Low, r.High = quantity.Some((ratio-h)/(1-g)), quantity.Some((ratio+h)/(1-g))
	return r, nil
}

// DeltaRatio returns the ratio of means with the interval of the delta method.
//
//	r ± z SE, SE = |r| sqrt(v1/m1² + v2/m2²); on the logarithm r exp(± z SE/|r|)
//
// A large-sample interval that covers too little for few values: no default
// here. Source: Casella & Berger (2002), Statistical Inference, 5.5.4. Errors as Fieller.
func DeltaRatio(numerator, denominator []float64, equalVariances bool, level float64) (MeansRatio, error) {
	r, _, _, err := meansRatio(numerator, denominator, equalVariances, level)
	if err != nil || !r.SE.OK || !r.DF.OK {
		return r, err
	}
	h := criticalNormal(level) * r.SE.V
	r.Low, r.High = quantity.Some(r.Value.V-h), quantity.Some(r.Value.V+h)
	if r.Value.V > 0 {
		f := math.Exp(h / r.Value.V)
		r.LogLow, r.LogHigh = quantity.Some(r.Value.V/f), quantity.Some(r.Value.V*f)
	}
	return r, nil
}

// meansRatio fills ratio, standard error and degrees of freedom.
func meansRatio(x, y []float64, equalVariances bool, level float64) (r MeansRatio, v1, v2 float64, err error) {
	a, err := MeanT(x, level)
	if err != nil {
		return r, 0, 0, fmt.Errorf("numerator: %w", err)
	}
	b, err := MeanT(y, level)
	if err != nil {
		return r, 0, 0, fmt.Errorf("denominator: %w", err)
	}
	r.Interval = Interval{Level: level, N: a.N + b.N}
	switch {
	case a.N == 0 || b.N == 0:
		r.Flags.Add(FlagNoData)
		return r, 0, 0, nil
	case b.Value.V == 0:
		r.Flags.Add(FlagNotDefined)
		return r, 0, 0, nil
	}
	ratio := a.Value.V / b.Value.V
	r.Value = quantity.Some(ratio)
	if a.N < 2 || b.N < 2 {
		r.Flags.Add(FlagOneValue)
		return r, 0, 0, nil
	}
	n1, n2 := float64(a.N), float64(b.N)
	v1, v2 = a.SE.V*a.SE.V, b.SE.V*b.SE.V
	if equalVariances {
		pooled := (a.SD.V*a.SD.V*(n1-1) + b.SD.V*b.SD.V*(n2-1)) / (n1 + n2 - 2)
		v1, v2 = pooled/n1, pooled/n2
		r.DF = quantity.Some(n1 + n2 - 2)
	} else {
		r.DF, err = WelchSatterthwaite([]float64{math.Sqrt(v1), math.Abs(ratio) * math.Sqrt(v2)}, []float64{n1 - 1, n2 - 1})
		if err != nil {
			return r, 0, 0, err
		}
	}
	r.SE = quantity.Some(math.Sqrt(v1+ratio*ratio*v2) / math.Abs(b.Value.V))
	if !spread(math.Abs(ratio), r.SE.V) {
		r.Flags.Add(FlagNoSpread)
		r.DF = quantity.None()
	}
	return r, v1, v2, nil
}
