package inference

import (
	"errors"
	"fmt"
	"math"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// ErrInput is returned for input that no estimate can be made of: NaN, infinite
// or out of the domain of the method, slices of unlike length, a level outside
// (0, 1).
var ErrInput = errors.New("unusable input")

// The flags of this package. They say why a part of an answer is missing or how
// it is to be read.
const (
	FlagNoData       = "no_data"        // no values
	FlagOneValue     = "one_value"      // one value: no spread, no interval
	FlagNoSpread     = "no_spread"      // all values equal: their scatter bounds nothing
	FlagNSmall       = "n_small"        // too few values for an interval of this level by this method
	FlagAllCensored  = "all_censored"   // nothing observed
	FlagFewObserved  = "few_observed"   // fewer than two values observed exactly
	FlagNotReached   = "not_reached"    // the curve does not fall this far
	FlagNoUpperLimit = "no_upper_limit" // the interval is open above
	FlagNoLowerLimit = "no_lower_limit" // the interval is open below
	FlagNotDefined   = "not_defined"    // the expression has no value for these numbers
	FlagNotConverged = "not_converged"  // the search for the largest likelihood did not end
	FlagCurveEnds    = "curve_ends"     // the survival curve ends exactly at the share asked for
	FlagPerfectFit   = "perfect_fit"    // the residuals are rounding errors
	FlagOneGroup     = "one_group"      // nothing to compare with
	FlagSingular     = "singular"       // a variance between groups is estimated as zero
)

// Interval is an estimate with its confidence interval. What cannot be had is
// missing and Flags says why. Units are those of the input.
type Interval struct {
	Value, Low, High quantity.Optional
	Level            float64           // nominal confidence
	Attained         quantity.Optional // confidence attained, where the method cannot meet Level exactly
	N                int               // values used
	DF               quantity.Optional // degrees of freedom
	SD, SE           quantity.Optional // standard deviation (n-1) and standard error, on the scale of the interval
	Flags            result.Flags
}

// Bounded reports whether both limits are present.
func (i Interval) Bounded() bool { return i.Low.OK && i.High.OK }

// open flags the sides on which an interval with one limit is open.
func (i *Interval) open() {
	if i.Low.OK && !i.High.OK {
		i.Flags.Add(FlagNoUpperLimit)
	}
	if !i.Low.OK && i.High.OK {
		i.Flags.Add(FlagNoLowerLimit)
	}
}

func checkFinite(name string, y []float64) error {
	for i, v := range y {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("%w: %s[%d] is %v", ErrInput, name, i, v)
		}
	}
	return nil
}

func checkPositive(name string, y []float64) error {
	if err := checkFinite(name, y); err != nil {
		return err
	}
	for i, v := range y {
		if v <= 0 {
			return fmt.Errorf("%w: %s[%d] is %v, and logarithms need positive values", ErrInput, name, i, v)
		}
	}
	return nil
}

func checkLevel(level float64) error {
	if !(level > 0 && level < 1) {
		return fmt.Errorf("%w: level %v is not between 0 and 1", ErrInput, level)
	}
	return nil
}

func checkLengths(a, b string, x, y int) error {
	if x != y {
		return fmt.Errorf("%w: %d values of %s, %d of %s", ErrInput, x, a, y, b)
	}
	return nil
}
