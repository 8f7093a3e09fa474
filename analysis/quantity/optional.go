package quantity

import "math"

// Optional is a number that may be missing. The zero value is missing; missing
// is neither zero nor NaN.
type Optional struct {
	V  float64 // the value; meaningless unless OK
	OK bool
}

// Some returns a present value. A NaN or an infinity becomes missing, so that
// neither can leave a method.
func Some(v float64) Optional {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return Optional{}
	}
	return Optional{V: v, OK: true}
}

// None returns a missing value.
func None() Optional { return Optional{} }

// Or returns the value, or alternative where it is missing.
func (o Optional) Or(alternative float64) float64 {
	if o.OK {
		return o.V
	}
	return alternative
}

// Map applies f to a present value and leaves a missing one missing.
func (o Optional) Map(f func(float64) float64) Optional {
	if !o.OK {
		return o
	}
	return Some(f(o.V))
}
