package fit

import "math"

// Shape is a family of curves that fall from 1 at x = 0 to 0 at x = 1, with one
// parameter kappa >= 0: 0 is the straight line, a large one an early fall.
type Shape uint8

// Exponential is g = (exp(-kappa x) - exp(-kappa)) / (1 - exp(-kappa)), the
// shape of the Horton (1940) curve. Root is the same with (1 + 2 kappa x)^(-1/2)
// for the exponential, the late decline of the Philip (1957) and Green & Ampt
// (1911) curves.
const (
	Exponential Shape = iota
	Root
)

// raw returns the function that is scaled to g.
func (s Shape) raw(kappa, x float64) float64 {
	if s == Root {
		return 1 / math.Sqrt(1+2*kappa*x)
	}
	return math.Exp(-kappa * x)
}

// curve is a member of a family.
type curve struct {
	shape        Shape
	kappa        float64
	last, height float64 // raw(1); raw(0) - raw(1)
}

func (s Shape) curve(kappa float64) curve {
	c := curve{shape: s, kappa: kappa}
	switch {
	case !(kappa > 0):
	case s == Exponential:
		c.height = -math.Expm1(-kappa)
		c.last = 1 - c.height
	default:
		c.last = s.raw(kappa, 1)
		c.height = 1 - c.last
	}
	return c
}

// at returns g.
func (c curve) at(x float64) float64 {
	if c.kappa == 0 {
		return 1 - x
	}
	return (c.shape.raw(c.kappa, x) - c.last) / c.height
}

// steepness returns -dg/dx at x = 1.
func (c curve) steepness() float64 {
	switch {
	case c.kappa == 0:
		return 1
	case c.shape == Root:
		return c.kappa * c.last * c.last * c.last / c.height
	default:
		return c.kappa * c.last / c.height
	}
}

// below returns by how much g falls below 0 as x grows without end.
func (c curve) below() float64 {
	if c.kappa == 0 {
		return math.Inf(1)
	}
	return c.last / c.height
}

// lastSlope returns the derivative of -raw(1) by kappa.
func (c curve) lastSlope() float64 {
	if c.shape == Root {
		return c.last * c.last * c.last
	}
	return c.last
}
