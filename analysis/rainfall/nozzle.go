package rainfall

import (
	"errors"
	"fmt"
	"math"
)

// ErrNozzle is returned for a pressure, density or flow that no nozzle has.
var ErrNozzle = errors.New("nozzle without a flow")

// ScaleDischarge returns the discharge of a nozzle at another pressure.
//
//	Q2 = Q1 sqrt(P2/P1)
//
// Units: flows in the same unit, gauge pressures in the same unit. Holds for one
// nozzle without a change of its bore. The intensity follows only while spray
// pattern and sweep stay the same, and drop size and speed change with pressure:
// a measured intensity is never scaled by this program, only flagged.
// Source: orifice equation with a constant discharge coefficient.
// Errors: ErrNozzle for a pressure P1 that is not positive or a negative P2 or Q1.
func ScaleDischarge(q1, p1, p2 float64) (float64, error) {
	if !(p1 > 0 && p2 >= 0 && q1 >= 0) || math.IsInf(p1+p2+q1, 1) {
		return 0, fmt.Errorf("%w: %v at pressure %v, asked for at %v", ErrNozzle, q1, p1, p2)
	}
	return q1 * math.Sqrt(p2/p1), nil
}

// OrificeDischarge returns the discharge of an orifice.
//
//	Q = Cd A sqrt(2 P / rho)
//
// Units: A in mm2, P in kPa above the air, rho in kg/m3, Q in L/min.
// Source: Bernoulli's equation with the discharge coefficient Cd.
// Errors: ErrNozzle as ScaleDischarge, and for a coefficient outside (0, 1].
func OrificeDischarge(cd, areaMM2, pressureKPa, densityKgM3 float64) (float64, error) {
	v, err := JetSpeed(pressureKPa, densityKgM3)
	if err != nil {
		return 0, err
	}
	if !(cd > 0 && cd <= 1 && areaMM2 > 0) {
		return 0, fmt.Errorf("%w: coefficient %v, opening %v mm2", ErrNozzle, cd, areaMM2)
	}
	return cd * areaMM2 * v * 0.06, nil // mm2 m/s = 1e-6 m3/s = 0.06 L/min
}

// JetSpeed returns the speed at which water leaves a nozzle without loss.
//
//	v = sqrt(2 P / rho)
//
// Units: P in kPa above the air, rho in kg/m3, v in m/s. An upper bound: real
// nozzles lose a part of it in turning the flow into a spray.
// Source: Bernoulli's equation.
// Errors: ErrNozzle for a negative pressure and a density that is not positive.
func JetSpeed(pressureKPa, densityKgM3 float64) (float64, error) {
	if !(pressureKPa >= 0 && densityKgM3 > 0) || math.IsInf(pressureKPa, 1) {
		return 0, fmt.Errorf("%w: %v kPa, %v kg/m3", ErrNozzle, pressureKPa, densityKgM3)
	}
	return math.Sqrt(2000 * pressureKPa / densityKgM3), nil
}
