package derivation

import "math"

// The equations of two infiltration models have no closed form. Their roots are
// functions of equations, written so that they keep their digits for small z.

// growthRoot is the root z >= 0 of q z + z - log(1 + z) = c, for q, c >= 0.
func growthRoot(q, c float64) float64 {
	return newton(c, math.Min(c/q, c+math.Sqrt(2*c)+math.Log1p(2*c)), func(z float64) (float64, float64) {
		over := z - math.Log1p(z)
		if z < 0.5 {
			over = series(z, func(n int) float64 { return -1 / float64(n) })
		}
		return q*z + over, q + z/(1+z)
	})
}

// decayRoot is the root w >= 0 of q w + (1 - q) (w - 1 + exp(-w)) = c, for c >= 0
// and q from 0 to 1.
func decayRoot(q, c float64) float64 {
	return newton(c, math.Min(c/q, (c+1)/math.Max(1-q, 0.5)+2), func(w float64) (float64, float64) {
		over := w + math.Expm1(-w)
		if w < 0.5 {
			over = series(w, func(n int) float64 { return 1 / math.Gamma(float64(n)+1) })
		}
		return q*w + (1-q)*over, q - (1-q)*math.Expm1(-w)
	})
}

// series is the sum of a(n) (-z)^n from n = 2 on, of terms that fall.
func series(z float64, a func(n int) float64) float64 {
	var s float64
	power := z * z
	for n := 2; n < 60; n++ {
		term := power * math.Abs(a(n))
		if n%2 == 1 {
			term = -term
		}
		s += term
		if math.Abs(term) < 1e-18*math.Abs(s) {
			break
		}
		power *= z
	}
	return s
}

// newton returns where a rising convex function has the value c, by steps that
// come down from an upper bound.
func newton(c, upper float64, f func(float64) (value, slope float64)) float64 {
	if !(c > 0) {
		return 0
	}
	x := upper
	for range 500 {
		v, slope := f(x)
		step := (v - c) / slope
		x -= step
		if !(math.Abs(step) > 1e-15*x) {
			break
		}
	}
	return x
}
