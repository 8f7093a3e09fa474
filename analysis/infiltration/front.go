package infiltration

import (
	"fmt"
	"math"
)

// TimeToFront returns when the wetting front reaches the depth L below a ponded
// head h0 that stood from the start.
//
//	t = (dtheta / K) [L - (psi + h0) ln(1 + L/(psi + h0))]
//
// Units: the caller's, consistently. Source: Green & Ampt 1911, J. Agric. Sci. 4:1-24, with F = L dtheta.
// Errors: ErrModel for parameters that are not positive.
func TimeToFront(k, psi, h0, deficit, front float64) (float64, error) {
	pull := psi + h0
	if !(k > 0 && pull > 0 && deficit > 0 && front >= 0) || math.IsInf(front, 1) {
		return 0, fmt.Errorf("%w: Green-Ampt front at %v with K %v, suction %v, head %v, deficit %v", ErrModel, front, k, psi, h0, deficit)
	}
	return deficit / k * (front - pull*math.Log1p(front/pull)), nil
}

// FrontAtPonding returns the depth of the wetting front when rain of intensity i
// begins to pond.
//
//	L = K psi / (i - K)
//
// Units: the caller's, consistently. Source: Mein & Larson 1973, Water Resour. Res. 9:384-394, Fp = L dtheta.
// Errors: ErrModel for i <= K, where nothing ponds.
func FrontAtPonding(k, psi, i float64) (float64, error) {
	if !(k > 0 && psi >= 0 && i > k) || math.IsInf(i, 1) {
		return 0, fmt.Errorf("%w: no ponding at intensity %v with K %v, suction %v", ErrModel, i, k, psi)
	}
	return k * psi / (i - k), nil
}
