package quantity

import (
	"errors"
	"fmt"
	"math"
	"math/big"
)

// Unit is a unit of measurement. It comes from Parse; the zero value is the
// unit 1. A Unit is immutable and may be shared.
type Unit struct {
	Code string // UCUM, as it was parsed; "" and "1" are the dimensionless unit

	dim    Dimension
	factor *big.Rat // coherent SI units in one of these; nil: 1
	offset *big.Rat // of the scale's zero, in SI units (273.15 for Cel); nil: 0
}

// Errors of this package.
var (
	// ErrUnit says that a unit's code is not known or not well formed.
	ErrUnit = errors.New("unknown unit")
	// ErrDimension says that two units measure different quantities.
	ErrDimension = errors.New("units of different dimension")
	// ErrAngle says that a slope angle does not lie between -90 and 90 degrees.
	ErrAngle = errors.New("slope angle not between -90 and 90 degrees")
)

// Dimension returns what the unit measures.
func (u Unit) Dimension() Dimension { return u.dim }

// Factor returns how many coherent SI units (m, kg, s, K; degree for angles)
// one of u is, and Offset the SI value of its zero. Factor is exact.
func (u Unit) Factor() *big.Rat { return new(big.Rat).Set(orOne(u.factor)) }

// Offset returns the SI value of the zero of u's scale: 273.15 for Cel, 0 for
// every unit that is not a temperature scale.
func (u Unit) Offset() *big.Rat {
	if u.offset == nil {
		return new(big.Rat)
	}
	return new(big.Rat).Set(u.offset)
}

// String returns the code, "1" for the zero value.
func (u Unit) String() string {
	if u.Code == "" {
		return "1"
	}
	return u.Code
}

// Equal reports whether u and v are the same scale, however they are written:
// dm3 equals L.
func (u Unit) Equal(v Unit) bool {
	return u.dim == v.dim && orOne(u.factor).Cmp(orOne(v.factor)) == 0 && u.Offset().Cmp(v.Offset()) == 0
}

// known reports whether u came from Parse (or is the zero value).
func (u Unit) known() bool { return u.factor != nil || u.Code == "" || u.Code == "1" }

// ConvertTo returns v, a number in u, as a number in the unit to. It returns
// ErrUnit for a unit that Parse did not make, ErrDimension where the two
// measure different quantities and ErrAngle for a slope of a right angle or
// more.
func (u Unit) ConvertTo(v float64, to Unit) (float64, error) {
	c, err := u.To(to)
	if err != nil {
		return 0, err
	}
	out := c.Apply(v)
	if c.tangent && math.IsNaN(out) && !math.IsNaN(v) {
		return 0, fmt.Errorf("%w: %v", ErrAngle, v)
	}
	return out, nil
}

// Commensurable reports whether numbers in u can be converted to the unit to.
func (u Unit) Commensurable(to Unit) bool {
	_, err := u.To(to)
	return err == nil
}

func orOne(r *big.Rat) *big.Rat {
	if r == nil {
		return one
	}
	return r
}

var one = big.NewRat(1, 1)
