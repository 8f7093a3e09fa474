package rainfall

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// ErrDrop is returned for a drop of which a method knows no speed.
var ErrDrop = errors.New("drop without a speed")

// gunnKinzer holds diameters in mm and terminal speeds in m/s of water drops in
// still air of 20 Cel, 101.3 kPa and 50 % relative humidity.
var gunnKinzer = [...][2]float64{
	{0.1, 0.27}, {0.2, 0.72}, {0.3, 1.17}, {0.4, 1.62}, {0.5, 2.06}, {0.6, 2.47}, {0.7, 2.87}, {0.8, 3.27}, {0.9, 3.67}, {1.0, 4.03},
	{1.2, 4.64}, {1.4, 5.17}, {1.6, 5.65}, {1.8, 6.09}, {2.0, 6.49}, {2.2, 6.90}, {2.4, 7.27}, {2.6, 7.57}, {2.8, 7.82}, {3.0, 8.06},
	{3.2, 8.26}, {3.4, 8.44}, {3.6, 8.60}, {3.8, 8.72}, {4.0, 8.83}, {4.2, 8.92}, {4.4, 8.98}, {4.6, 9.03}, {4.8, 9.07}, {5.0, 9.09},
	{5.2, 9.12}, {5.4, 9.14}, {5.6, 9.16}, {5.8, 9.17},
}

// TerminalSpeed returns the terminal speed of a water drop of diameter dMM.
//
//	v(d) linear between the neighbouring rows of the table
//
// Units: d in mm, 0.1 to 5.8; v in m/s. Still air, 20 Cel, 101.3 kPa.
// Source: [GunnKinzer1949], table 2.
// Errors: ErrDrop outside the table; larger drops break up in a free fall.
func TerminalSpeed(dMM float64) (float64, error) {
	last := len(gunnKinzer) - 1
	if !(dMM >= gunnKinzer[0][0] && dMM <= gunnKinzer[last][0]) {
		return 0, fmt.Errorf("%w: %v mm is outside %v to %v mm", ErrDrop, dMM, gunnKinzer[0][0], gunnKinzer[last][0])
	}
	i, exact := slices.BinarySearchFunc(gunnKinzer[:], dMM, func(row [2]float64, d float64) int {
		switch {
		case row[0] < d:
			return -1
		case row[0] > d:
			return 1
		}
		return 0
	})
	if exact {
		return gunnKinzer[i][1], nil
	}
	a, b := gunnKinzer[i-1], gunnKinzer[i]
	return a[1] + (b[1]-a[1])*(dMM-a[0])/(b[0]-a[0]), nil
}

// smallestAtlasMM is the diameter at which the fit of Atlas et al. crosses zero:
// ln(10.3/9.65)/0.6 mm.
const smallestAtlasMM = 0.10863

// TerminalSpeedAtlas returns the terminal speed by a fit to the table of
// TerminalSpeed.
//
//	v = 9.65 - 10.3 exp(-0.6 d)
//
// Units: d in mm, v in m/s. Within 2 % of the table from 0.6 to 5.8 mm; do not
// use it below.
// Source: [Atlas1973].
// Errors: ErrDrop below 0.109 mm, where the fit is negative, and for infinite d.
func TerminalSpeedAtlas(dMM float64) (float64, error) {
	if !(dMM >= smallestAtlasMM) || math.IsInf(dMM, 1) {
		return 0, fmt.Errorf("%w: %v mm", ErrDrop, dMM)
	}
	return 9.65 - 10.3*math.Exp(-0.6*dMM), nil
}

// terminalOrNearest is TerminalSpeed with the speed of the last row above the
// table, where the curve is flat to 0.1 %, and a straight line to zero below it,
// where drops hold no energy to speak of.
func terminalOrNearest(dMM float64) float64 {
	last := gunnKinzer[len(gunnKinzer)-1]
	switch {
	case dMM >= last[0]:
		return last[1]
	case dMM < gunnKinzer[0][0]:
		return gunnKinzer[0][1] * max(dMM, 0) / gunnKinzer[0][0]
	}
	v, _ := TerminalSpeed(dMM) // within the table
	return v
}
