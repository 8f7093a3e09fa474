package inference

import (
	"fmt"
	"math"

	"sheetwash/analysis/quantity"
)

// BoundedMean returns the mean of values between 0 and an upper bound that all of
// them may reach, such as restricted means of events, with the interval of its logit.
//
//	logit(m/upper) ± t(n-1) s/(sqrt(n) upper p (1-p)),  p = m/upper
//
// Values that pile up at the bound are skewed away from it, and so are these limits: the symmetric t interval
// covers 0.90 to 0.93 where most plots of six events do not run off. Source: delta method on the logit as Meeker, Hahn & Escobar (2017), Statistical
// Intervals, 2nd ed.; t for z. All values equal: no limits, flag no_spread. Errors: ErrInput
// for values outside 0 to upper, an upper bound that is not positive and finite, or the level.
func BoundedMean(y []float64, upper, level float64) (Interval, error) {
	if !(upper > 0) || math.IsInf(upper, 1) {
		return Interval{}, fmt.Errorf("%w: upper bound %v", ErrInput, upper)
	}
	for i, v := range y {
		if !(v >= 0 && v <= upper) {
			return Interval{}, fmt.Errorf("%w: y[%d] is %v, not within 0 and %v", ErrInput, i, v, upper)
		}
	}
	r, err := MeanT(y, level)
	if err != nil || !r.Bounded() {
		return r, err
	}
	p := r.Value.V / upper
	if !(p > 0 && p < 1) {
		r.Low, r.High = quantity.None(), quantity.None()
		r.Flags.Add(FlagNoSpread)
		return r, nil
	}
	h := (r.High.V - r.Value.V) / (upper * p * (1 - p))
	logit := math.Log(p / (1 - p))
	r.Low, r.High = quantity.Some(upper/(1+math.Exp(h-logit))), quantity.Some(upper/(1+math.Exp(-h-logit)))
	return r, nil
}
