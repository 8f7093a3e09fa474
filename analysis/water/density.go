package water

import (
	"errors"
	"fmt"
)

// ReferenceC is the temperature, Cel, that is assumed where none was read and
// to which rates are normalised.
const ReferenceC = 20

// ErrTemperature is returned for a temperature outside the range of an equation.
var ErrTemperature = errors.New("water temperature out of range")

// Density returns the density of air-free water at 101.325 kPa.
//
//	rho = a5 (1 - (t + a1)^2 (t + a2) / (a3 (t + a4)))
//	a1 = -3.983035  a2 = 301.797  a3 = 522528.9  a4 = 69.34881  a5 = 999.974950
//
// Units: t in Cel, rho in kg/m3 (1000 kg/m3 = 1 g/mL).
// Source: [Tanaka2001], for 0 to 40 Cel; its standard uncertainty is below 0.001 kg/m3.
// Departure: air in solution lowers the density by at most 0.005 kg/m3; neglected.
// Errors: ErrTemperature outside 0 to 40 Cel.
func Density(tC float64) (float64, error) {
	if !(tC >= 0 && tC <= 40) {
		return 0, fmt.Errorf("%w: density at %v Cel, known from 0 to 40", ErrTemperature, tC)
	}
	const a1, a2, a3, a4, a5 = -3.983035, 301.797, 522528.9, 69.34881, 999.974950
	return a5 * (1 - (tC+a1)*(tC+a1)*(tC+a2)/(a3*(tC+a4))), nil
}

// DensityKell returns the density of air-free water at 101.325 kPa by the older
// equation, for comparison with records that used it.
//
//	rho = (999.83952 + 16.945176 t - 7.9870401e-3 t^2 - 46.170461e-6 t^3
//	       + 105.56302e-9 t^4 - 280.54253e-12 t^5) / (1 + 16.879850e-3 t)
//
// Units: t in Cel (IPTS-68), rho in kg/m3.
// Source: [Kell1975], for 0 to 150 Cel. Departure: the difference between the
// temperature scales (at most 0.01 K below 40 Cel) is neglected.
// Errors: ErrTemperature outside 0 to 150 Cel.
func DensityKell(tC float64) (float64, error) {
	if !(tC >= 0 && tC <= 150) {
		return 0, fmt.Errorf("%w: density at %v Cel, known from 0 to 150", ErrTemperature, tC)
	}
	num := 999.83952 + tC*(16.945176+tC*(-7.9870401e-3+tC*(-46.170461e-6+tC*(105.56302e-9-tC*280.54253e-12))))
	return num / (1 + 16.879850e-3*tC), nil
}
