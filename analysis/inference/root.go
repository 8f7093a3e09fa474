package inference

import "math"

// gonum has no root finder for one variable; this is Brent's.

// risingRoot returns where a rising function is zero, by widening a starting
// bracket.
func risingRoot(f func(x float64) float64, low, high float64) (float64, bool) {
	fl, fh := f(low), f(high)
	for k := 0; fl > 0; k++ {
		if k > 200 {
			return 0, false
		}
		high, fh = low, fl
		low -= math.Max(1, math.Abs(low))
		fl = f(low)
	}
	for k := 0; fh < 0; k++ {
		if k > 200 {
			return 0, false
		}
		low, fl = high, fh
		high += math.Max(1, math.Abs(high))
		fh = f(high)
	}
	return bracketedRoot(f, low, high, fl, fh)
}

// bracketedRoot finds the root between two points of unlike sign to the last
// digits; ok is false where the signs are alike.
func bracketedRoot(f func(x float64) float64, a, b, fa, fb float64) (x float64, ok bool) {
	if math.IsNaN(fa) || math.IsNaN(fb) || fa != 0 && fb != 0 && (fa < 0) == (fb < 0) {
		return 0, false
	}
	return brent(f, a, b, fa, fb, 0), true
}

// brent finds the root between two points of unlike sign until the bracket is
// narrower than tolerance: inverse quadratic interpolation where that helps, else
// the secant, else a bisection.
//
// Source: Brent (1973), Algorithms for Minimization Without Derivatives, ch. 4 (zero).
func brent(f func(x float64) float64, a, b, fa, fb, tolerance float64) float64 {
	if fa == 0 {
		return a
	}
	if fb == 0 {
		return b
	}
	c, fc := a, fa
	for range 1000 {
		last := b - a
		if math.Abs(fc) < math.Abs(fb) {
			a, b, c = b, c, b
			fa, fb, fc = fb, fc, fb
		}
		least := 2*0x1p-52*math.Abs(b) + tolerance/2
		step := (c - b) / 2
		if math.Abs(step) <= least || fb == 0 {
			return b
		}
		if math.Abs(last) >= least && math.Abs(fa) > math.Abs(fb) {
			cb := c - b
			var p, q float64
			if a == c {
				t := fb / fa
				p, q = cb*t, 1-t
			} else {
				u, t1, t2 := fa/fc, fb/fc, fb/fa
				p = t2 * (cb*u*(u-t1) - (b-a)*(t1-1))
				q = (u - 1) * (t1 - 1) * (t2 - 1)
			}
			if p > 0 {
				q = -q
			} else {
				p = -p
			}
			if p < 0.75*cb*q-math.Abs(least*q)/2 && p < math.Abs(last*q/2) {
				step = p / q
			}
		}
		if math.Abs(step) < least {
			step = math.Copysign(least, step)
		}
		a, fa = b, fb
		b += step
		fb = f(b)
		if fb > 0 && fc > 0 || fb < 0 && fc < 0 {
			c, fc = a, fa
		}
	}
	return b
}
