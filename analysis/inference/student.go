package inference

import "math"

// A season asks for the same few Student factors ten thousands of times, and the
// inverse of the incomplete beta function is slow. For whole degrees of freedom
// the distribution function is a finite sum.

// tQuantileWhole returns the lower quantile for a few whole degrees of freedom
// and the tails that intervals use; ok is false elsewhere.
func tQuantileWhole(tail, df float64) (t float64, ok bool) {
	const most = 60
	n := int(df)
	if df != float64(n) || n > most || tail < 1e-5 {
		return 0, false
	}
	// A normal quantile spread by the first terms of its expansion in 1/df
	// (Abramowitz & Stegun 26.7.5) starts below the root in size, from where
	// Newton's steps on the convex tail come down to it.
	z, err := NormalQuantile(tail)
	if err != nil {
		return 0, false
	}
	t = z + (z*z*z+z)/(4*df)
	for range 100 {
		p, f := tLower(t, n)
		step := (p - tail) / f
		t -= step
		if math.Abs(step) <= 1e-13*math.Abs(t) { // the next step would be rounding
			return t, true
		}
	}
	return 0, false
}

// tLower returns P(T < t) for t < 0 and the density, for whole degrees of freedom n.
//
//	A(t|n) = sin a (1 + c/2 + 3c²/8 + ...)           n even, a = atan(|t|/sqrt n)
//	A(t|n) = 2/pi (a + sin a cos a (1 + 2c/3 + ...))  n odd,  c = cos² a
//	P(T < -|t|) = (1 - A)/2
//
// Source: Abramowitz & Stegun (1964), 26.7.3 and 26.7.4.
func tLower(t float64, n int) (p, density float64) {
	root := math.Sqrt(float64(n))
	a := math.Atan(-t / root)
	sin, cos := math.Sincos(a)
	c := cos * cos
	sum, term := 0.0, 1.0
	if n%2 == 0 {
		for k := 1; k <= n/2; k++ {
			sum += term
			term *= c * float64(2*k-1) / float64(2*k)
		}
		p = (1 - sin*sum) / 2
	} else {
		for k := 1; k <= (n-1)/2; k++ {
			sum += term
			term *= c * float64(2*k) / float64(2*k+1)
		}
		p = (1 - 2/math.Pi*(a+sin*cos*sum)) / 2
	}
	// The factor that the next term would have makes the density's constant.
	if n%2 == 0 {
		density = term * cos * float64(n) / (2 * root)
	} else {
		density = term * c * float64(n) / (math.Pi * root)
	}
	return p, density
}
