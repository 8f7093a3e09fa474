package inference

import (
	"fmt"
	"math"

	"sheetwash/analysis/quantity"
)

// Equivalence is a test that a difference lies within margins.
type Equivalence struct {
	Difference                       // with the interval at level 1 - 2 alpha
	PLower, PUpper quantity.Optional // against at most the lower, at least the upper margin
	PBoth          quantity.Optional // the larger
	Equivalent     bool
}

// TwoOneSided tests the difference of two means for equivalence with Welch's
// standard error: both one-sided tests must reject.
//
// Source: Schuirmann (1987), Journal of Pharmacokinetics and Biopharmaceutics
// 15:657-680. Errors: ErrInput for NaN, alpha outside (0, 0.5) or margins in the wrong order.
func TwoOneSided(x, y []float64, marginLow, marginHigh, alpha float64) (Equivalence, error) {
	if !(marginLow < marginHigh) || !(alpha > 0 && alpha < 0.5) {
		return Equivalence{}, fmt.Errorf("%w: margins %v to %v at %v", ErrInput, marginLow, marginHigh, alpha)
	}
	d, err := WelchT(x, y, 1-2*alpha)
	r := Equivalence{Difference: d}
	if err != nil || !d.T.OK {
		return r, err
	}
	lower, err := TCDF(-(d.Value.V-marginLow)/d.SE.V, d.DF.V)
	if err != nil {
		return r, err
	}
	upper, err := TCDF((d.Value.V-marginHigh)/d.SE.V, d.DF.V)
	if err != nil {
		return r, err
	}
	r.PLower, r.PUpper = quantity.Some(lower), quantity.Some(upper)
	r.PBoth = quantity.Some(math.Max(lower, upper))
	r.Equivalent = r.PBoth.V < alpha
	return r, nil
}
