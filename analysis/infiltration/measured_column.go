package infiltration

import (
	"fmt"
	"math"
)

// SorptivityHorizontal returns the sorptivity of a horizontal column, where
// nothing but suction draws.
//
//	S = (V / A) / sqrt(t)
//
// Units: the caller's, such as cm3, cm2 and h for cm/h^0.5. Source: Philip 1957, Soil Sci. 84:257-264.
// Errors: ErrModel for an area or a time that is not positive and a negative volume.
func SorptivityHorizontal(volume, area, t float64) (float64, error) {
	if !(area > 0 && t > 0 && volume >= 0) {
		return 0, fmt.Errorf("%w: volume %v, area %v, time %v", ErrModel, volume, area, t)
	}
	return volume / area / math.Sqrt(t), nil
}

// RingRate returns the mean rate of what a round infiltrometer took in.
//
//	f = 60 V / (pi/4 d^2 t)
//
// Units: t in min, d in cm and V in cm3 for f in cm/h. Source: definition.
// Errors: ErrModel as SorptivityHorizontal.
func RingRate(volumeCM3, diameterCM, minutes float64) (float64, error) {
	if !(diameterCM > 0 && minutes > 0 && volumeCM3 >= 0) {
		return 0, fmt.Errorf("%w: volume %v, diameter %v, time %v", ErrModel, volumeCM3, diameterCM, minutes)
	}
	return 60 * volumeCM3 / (math.Pi / 4 * diameterCM * diameterCM * minutes), nil
}
