package rainfall

import (
	"fmt"
	"math"
)

// MedianDrop returns the median volume diameter of the drops of natural rain.
//
//	d50 = 1.238 i^0.182
//
// Units: i in mm/h, d50 in mm.
// Source: [LawsParsons1943], 2.23 i^0.182 with i in in/h.
// Errors: ErrIntensity for an intensity that is not positive.
func MedianDrop(intensityMMH float64) (float64, error) {
	if !(intensityMMH > 0) || math.IsInf(intensityMMH, 1) {
		return 0, fmt.Errorf("%w: %v mm/h", ErrIntensity, intensityMMH)
	}
	return 1.238 * math.Pow(intensityMMH, 0.182), nil
}

// SpectrumSlope returns the slope of the exponential spectrum of drops of
// widespread moderate rain, N(d) = 8000 exp(-slope d) per m3 and mm.
//
//	slope = 4.1 i^-0.21
//
// Units: i in mm/h, slope in 1/mm. It describes neither heavy convective rain
// nor a nozzle.
// Source: [MarshallPalmer1948].
// Errors: ErrIntensity for an intensity that is not positive.
func SpectrumSlope(intensityMMH float64) (float64, error) {
	if !(intensityMMH > 0) || math.IsInf(intensityMMH, 1) {
		return 0, fmt.Errorf("%w: %v mm/h", ErrIntensity, intensityMMH)
	}
	return 4.1 * math.Pow(intensityMMH, -0.21), nil
}
