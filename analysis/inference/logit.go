package inference

import (
	"fmt"
	"math"

	"sheetwash/analysis/quantity"
)

// LogitMean returns the mean of shares with an interval that stays between 0
// and 1.
//
//	logit(m) ± t(n-1) SE/(m (1-m))
//
// Source: delta method on the logit as Meeker, Hahn & Escobar (2017), Statistical
// Intervals, 2nd ed., for a parameter between 0 and 1. Departure: t for z. A mean of 0 or 1: no interval, flag not_defined.
// Errors: ErrInput for values outside [0, 1], NaN or the level.
func LogitMean(y []float64, level float64) (Interval, error) {
	r, err := MeanT(y, level)
	if err != nil {
		return r, err
	}
	for i, v := range y {
		if v < 0 || v > 1 {
			return Interval{}, fmt.Errorf("%w: y[%d] is %v, and a share lies between 0 and 1", ErrInput, i, v)
		}
	}
	if !r.Bounded() {
		return r, nil
	}
	m := r.Value.V
	r.Low, r.High = quantity.None(), quantity.None()
	if !(m > 0 && m < 1) {
		r.Flags.Add(FlagNotDefined)
		return r, nil
	}
	l := math.Log(m / (1 - m))
	h := critical(level, r.DF.V) * r.SE.V / (m * (1 - m))
	r.Low, r.High = quantity.Some(1/(1+math.Exp(h-l))), quantity.Some(1/(1+math.Exp(-h-l)))
	return r, nil
}
