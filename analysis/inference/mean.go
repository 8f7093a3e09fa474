package inference

import (
	"math"

	"sheetwash/analysis/quantity"
)

// MeanT returns the mean with Student's interval.
//
//	m ± t(n-1) s/sqrt(n)
//
// Source: Student (1908), Biometrika 6:1-25. Exact for normal values.
// One value: no interval, flag one_value. All equal: no interval, flag no_spread.
// Errors: ErrInput for NaN or a level outside (0, 1).
func MeanT(y []float64, level float64) (Interval, error) {
	if err := checkFinite("y", y); err != nil {
		return Interval{}, err
	}
	if err := checkLevel(level); err != nil {
		return Interval{}, err
	}
	return meanT(y, level), nil
}

func meanT(y []float64, level float64) Interval {
	r := Interval{Level: level, N: len(y)}
	switch len(y) {
	case 0:
		r.Flags.Add(FlagNoData)
		return r
	case 1:
		r.Value = quantity.Some(y[0])
		r.Flags.Add(FlagOneValue)
		return r
	}
	n := float64(len(y))
	m, ss := moments(y)
	r.Value = quantity.Some(m)
	r.DF = quantity.Some(n - 1)
	r.SD = quantity.Some(math.Sqrt(ss / (n - 1)))
	r.SE = quantity.Some(r.SD.V / math.Sqrt(n))
	if !spread(m, r.SD.V) {
		r.Flags.Add(FlagNoSpread)
		return r
	}
	h := critical(level, n-1) * r.SE.V
	r.Low, r.High = quantity.Some(m-h), quantity.Some(m+h)
	return r
}
