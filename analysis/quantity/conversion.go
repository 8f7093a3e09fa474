package quantity

import (
	"fmt"
	"math"
	"math/big"
)

// Conversion turns numbers in one unit into numbers in another. It is made once
// per column by Unit.To and applied to every cell. The zero value maps
// everything to NaN; use a Conversion from To.
type Conversion struct {
	before, num, den, after float64 // ((v + before) * num / den) + after
	tangent                 bool    // from a slope angle to a slope
	arctangent              bool    // from a slope to a slope angle
}

// To returns the conversion from u to another unit of the same dimension.
//
//	v' = (v f + o - o') / f'
//
// with the exact factors f and offsets o of both. The quotient f/f' is reduced
// to a fraction of whole numbers, and where a float64 holds both exactly the
// number is multiplied by one and divided by the other, so that 90 s are 1.5 min
// and 1 in/h is 25.4 mm/h to the last bit.
//
// An angle and a dimensionless number convert through the tangent, since the
// slope of a plot is stated either way: 5 deg is 8.75 %.
//
// It returns ErrUnit or ErrDimension.
func (u Unit) To(to Unit) (Conversion, error) {
	if !u.known() || !to.known() {
		return Conversion{}, fmt.Errorf("%w: %q to %q", ErrUnit, u, to)
	}
	switch {
	case u.dim == to.dim:
		c := linear(u, to)
		if c.num == 0 || math.IsInf(c.num, 0) {
			return Conversion{}, fmt.Errorf("%w: %s to %s is beyond the range of a number", ErrUnit, u, to)
		}
		return c, nil
	case u.dim == Angle && to.dim == Dimensionless:
		c := linear(Unit{factor: one}, to)
		c.tangent = true
		c.before, _ = u.Factor().Float64() // degrees in one of u
		return c, nil
	case u.dim == Dimensionless && to.dim == Angle:
		c := linear(u, Unit{factor: one})
		c.arctangent = true
		c.after, _ = to.Factor().Float64()
		return c, nil
	}
	return Conversion{}, fmt.Errorf("%w: %s is %s, %s is %s", ErrDimension, u, u.dim.Describe(), to, to.dim.Describe())
}

func linear(u, to Unit) Conversion {
	ratio := new(big.Rat).Quo(orOne(u.factor), orOne(to.factor))
	c := Conversion{}
	num, exactNum := new(big.Float).SetInt(ratio.Num()).Float64()
	den, exactDen := new(big.Float).SetInt(ratio.Denom()).Float64()
	if exactNum == big.Exact && exactDen == big.Exact && !math.IsInf(num, 0) && !math.IsInf(den, 0) {
		c.num, c.den = num, den
	} else {
		c.num, _ = ratio.Float64()
		c.den = 1
	}
	if difference := new(big.Rat).Sub(u.Offset(), to.Offset()); difference.Sign() != 0 {
		before, exact := new(big.Rat).Quo(difference, orOne(u.factor)).Float64()
		if exact {
			c.before = before
		} else {
			c.after, _ = new(big.Rat).Quo(difference, orOne(to.factor)).Float64()
		}
	}
	return c
}

// Apply converts one number. A slope angle of 90 degrees or more gives NaN.
func (c Conversion) Apply(v float64) float64 {
	switch {
	case c.tangent:
		degrees := v * c.before
		if !(degrees > -90 && degrees < 90) {
			return math.NaN()
		}
		return math.Tan(degrees*(math.Pi/180)) * c.num / c.den
	case c.arctangent:
		return math.Atan(v*c.num/c.den) * (180 / math.Pi) / c.after
	}
	return (v+c.before)*c.num/c.den + c.after
}

// Identity reports whether Apply returns every number unchanged.
func (c Conversion) Identity() bool {
	return c.num == c.den && c.num != 0 && c.before == 0 && c.after == 0 && !c.tangent && !c.arctangent
}

// Linear returns the conversion as v*num/den where it is one, for loops that
// want it inline; ok is false for temperature scales and slope angles.
func (c Conversion) Linear() (num, den float64, ok bool) {
	return c.num, c.den, c.before == 0 && c.after == 0 && !c.tangent && !c.arctangent
}

// Slope returns the local ratio of a small difference in the source unit to
// the same difference in the target unit at v: what a standard uncertainty is
// multiplied by.
func (c Conversion) Slope(v float64) float64 {
	switch {
	case c.tangent:
		cos := math.Cos(v * c.before * (math.Pi / 180))
		return c.before * (math.Pi / 180) / (cos * cos) * c.num / c.den
	case c.arctangent:
		t := v * c.num / c.den
		return c.num / c.den / (1 + t*t) * (180 / math.Pi) / c.after
	}
	return c.num / c.den
}
