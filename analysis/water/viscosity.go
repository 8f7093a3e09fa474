package water

import (
	"fmt"
	"math"
)

// viscosity20 is the viscosity at 20 Cel, mPa s [Korson1969].
const viscosity20 = 1.0020

// Viscosity returns the dynamic viscosity of water at atmospheric pressure.
//
//	log10(eta / eta20) = (1.1709 (20 - t) - 0.001827 (t - 20)^2) / (t + 89.93)
//	eta20 = 1.0020 mPa s
//
// Units: t in Cel, eta in mPa s.
// Source: [Korson1969], fitted from 8 to 70 Cel. Departure: used from 0 Cel on,
// where it is 0.1 % off the tables of water.
// Errors: ErrTemperature outside 0 to 70 Cel.
func Viscosity(tC float64) (float64, error) {
	r, err := relativeViscosity(tC)
	return viscosity20 * r, err
}

// RateAt20C returns the rate that the same soil would take in were its water at
// 20 Cel: flow through a porous medium goes as the reciprocal of the viscosity.
//
//	f20 = f eta(T) / eta(20)
//
// Units: f in any unit of rate, T in Cel. The temperature of the soil water is
// meant; that of the supply stands in for it.
// Source: Darcy's law with the viscosity of [Korson1969].
// Errors: ErrTemperature outside 0 to 70 Cel.
func RateAt20C(rate, tC float64) (float64, error) {
	r, err := relativeViscosity(tC)
	return rate * r, err
}

func relativeViscosity(tC float64) (float64, error) {
	if !(tC >= 0 && tC <= 70) {
		return 0, fmt.Errorf("%w: viscosity at %v Cel, known from 0 to 70", ErrTemperature, tC)
	}
	d := 20 - tC
	return math.Pow(10, (1.1709*d-0.001827*d*d)/(tC+89.93)), nil
}
