package infiltration

import (
	"fmt"
	"math"
)

// PhilipPondingTime returns the time at which a soil of sorptivity s and
// constant a (Philip 1957, Soil Sci. 84:257-264: F = s sqrt(t) + a t) ponds
// under a constant intensity i, by time condensation,
//
//	tp = s^2 (i - a/2) / (2 i (i - a)^2).
//
// There is no ponding, and an error, for i <= a.
func PhilipPondingTime(s, a, i float64) (float64, error) {
	if !(s > 0) || !(a >= 0) || !(i > a) {
		return 0, fmt.Errorf("%w: Philip with S %v, A %v at intensity %v; need S > 0, A >= 0 and i > A", ErrModel, s, a, i)
	}
	return s * s * (i - a/2) / (2 * i * (i - a) * (i - a)), nil
}

// SmithParlangePondingDepth returns the depth infiltrated at ponding under a
// constant intensity i, Fp = g ln(i/(i - k)) (Smith & Parlange 1978, Water
// Resour. Res. 14:533-538). There is no ponding, and an error, for i <= k.
func SmithParlangePondingDepth(g, k, i float64) (float64, error) {
	if !(g > 0) || !(k > 0) || !(i > k) {
		return 0, fmt.Errorf("%w: Smith-Parlange with G %v, K %v at intensity %v; need G > 0 and i > K > 0", ErrModel, g, k, i)
	}
	return -g * math.Log1p(-k/i), nil
}
