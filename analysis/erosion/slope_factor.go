package erosion

import "math"

// sine returns the sine of a slope angle from rise over run.
//
//	sin theta = s / sqrt(1 + s^2)
func sine(slope float64) float64 { return slope / math.Sqrt(1+slope*slope) }

// InterrillSlopeFactor returns the factor of slope in interrill detachment.
//
//	Sf = 1.05 - 0.85 exp(-4 sin theta)
//
// slope is rise over run. It is 0.20 on a level plot and about 1 at 45 degrees.
// Source: [Liebenow1990].
func InterrillSlopeFactor(slope float64) float64 {
	return 1.05 - 0.85*math.Exp(-4*sine(slope))
}

// steepSlope is the slope from which the steeper branch of SlopeSteepness holds.
const steepSlope = 0.09

// SlopeSteepness returns the slope steepness factor of plots longer than 4.6 m.
//
//	S = 10.8 sin theta + 0.03  under 9 %
//	S = 16.8 sin theta - 0.50  from 9 %
//
// slope is rise over run. Source: [McCool1987]; the second constant is printed as
// -0.05 here and there, with which the unit plot of 9 % would not have the factor 1.
func SlopeSteepness(slope float64) float64 {
	if slope < steepSlope {
		return 10.8*sine(slope) + 0.03
	}
	return 16.8*sine(slope) - 0.50
}

// SlopeSteepnessShort returns the slope steepness factor of plots shorter than 4.6 m
// (15 ft), on which no rills form.
//
//	S = 3.0 sin^0.8 theta + 0.56
//
// slope is rise over run, not below zero. Source: [RUSLE703], after [McCool1987].
func SlopeSteepnessShort(slope float64) float64 {
	return 3.0*math.Pow(sine(max(0, slope)), 0.8) + 0.56
}
