package inference

import "math"

// golden narrows the place of the least value between lo and hi by golden section,
// in at most so many steps, until it is known to a share of 1 + hi.
// Source: Kiefer (1953), Proceedings of the American Mathematical Society 4, 502-506.
func golden(value func(float64) float64, lo, hi float64, steps int, share float64) (float64, float64) {
	section := (math.Sqrt(5) - 1) / 2
	a, b := hi-section*(hi-lo), lo+section*(hi-lo)
	fa, fb := value(a), value(b)
	for range steps {
		if fa < fb {
			hi, b, fb = b, a, fa
			a = hi - section*(hi-lo)
			fa = value(a)
		} else {
			lo, a, fa = a, b, fb
			b = lo + section*(hi-lo)
			fb = value(b)
		}
		if hi-lo < share*(1+hi) {
			break
		}
	}
	return lo, hi
}
