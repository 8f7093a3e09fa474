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
	if kappa > 0 {
		c.last = s.raw(kappa, 1)
		c.height = 1 - c.last
		if s == Exponential {
			c.height = -math.Expm1(-kappa)
		}
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

// means fills out with the mean of g over every interval from a to b: the
// difference of the antiderivative over the length, of which per is the inverse.
func (c curve) means(a, b, per, out []float64) {
	a, b, per = a[:len(out)], b[:len(out)], per[:len(out)]
	switch {
	case c.kappa == 0:
		for n := range out {
			out[n] = 1 - (a[n]+b[n])/2
		}
		return
	case c.shape == Root:
		for n := range out {
			// (sqrt(1+2kb) - sqrt(1+2ka)) / (k (b-a)), without the difference
			out[n] = 2 / (math.Sqrt(1+2*c.kappa*b[n]) + math.Sqrt(1+2*c.kappa*a[n]))
		}
	default:
		c.exponentialMeans(a, b, per, out)
	}
	scale, below := 1/c.height, c.last/c.height
	for n, v := range out {
		out[n] = v*scale - below
	}
}

// exponentialMeans fills out with the means of exp(-kappa x). The end of one
// interval is mostly the start of the next.
func (c curve) exponentialMeans(a, b, per, out []float64) {
	end, endAt := 0.0, math.NaN()
	inverse := 1 / c.kappa
	for n := range out {
		start := end
		if a[n] != endAt {
			start = math.Exp(-c.kappa * a[n])
		}
		end, endAt = math.Exp(-c.kappa*b[n]), b[n]
		if per[n]*inverse > 1e4 { // the difference would lose its digits; exact to (kappa d)^2/24
			out[n] = math.Sqrt(start * end)
			continue
		}
		out[n] = (start - end) * per[n] * inverse
	}
}
