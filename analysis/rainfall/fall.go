package rainfall

import (
	"fmt"
	"math"
)

// Gravity is the standard acceleration of free fall, m/s2 (NIST SP 811).
const Gravity = 9.80665

// SpeedAfterFall returns the speed of a drop that started downwards with speed
// startMS and fell heightM.
//
//	v^2 = vt^2 + (v0^2 - vt^2) exp(-2 g h / vt^2)
//
// Units: speeds in m/s, h in m. From rest it is vt sqrt(1 - exp(-2 g h / vt^2)):
// below the terminal speed vt however far it falls; a drop that left a nozzle
// faster than vt is slowed down to it.
// Source: equation of motion with the drag proportional to the square of the
// speed, so that drag and weight are equal at vt; worked out in docs/methods.
// Departure: the drag coefficient is held at its value at vt.
// Errors: ErrDrop for a terminal speed that is not positive, a negative start
// or a negative height.
func SpeedAfterFall(terminalMS, startMS, heightM float64) (float64, error) {
	if !(terminalMS > 0 && startMS >= 0 && heightM >= 0) || math.IsInf(terminalMS+startMS, 1) {
		return 0, fmt.Errorf("%w: terminal %v m/s, start %v m/s, height %v m", ErrDrop, terminalMS, startMS, heightM)
	}
	vt2 := terminalMS * terminalMS
	return math.Sqrt(vt2 + (startMS*startMS-vt2)*math.Exp(-2*Gravity*heightM/vt2)), nil
}

// FallHeight returns the height from which a drop at rest has to fall to reach
// a share of its terminal speed.
//
//	h = -(vt^2 / 2 g) ln(1 - share^2)
//
// Units: speed in m/s, h in m, share as a fraction of 1. For 95 % it is
// 1.164 vt^2 / g. Source and departure: SpeedAfterFall.
// Errors: ErrDrop for a share outside [0, 1) and a speed that is not positive.
func FallHeight(terminalMS, share float64) (float64, error) {
	if !(terminalMS > 0 && share >= 0 && share < 1) || math.IsInf(terminalMS, 1) {
		return 0, fmt.Errorf("%w: terminal %v m/s, share %v", ErrDrop, terminalMS, share)
	}
	return -terminalMS * terminalMS / (2 * Gravity) * math.Log1p(-share*share), nil
}

// SpeedAtAltitude returns the terminal speed in air of another density.
//
//	v = v0 (rho0/rho)^0.4
//
// Units: speeds in the same unit, densities in the same unit; rho0 = 1.194 kg/m3
// for the table of TerminalSpeed (20 Cel, 101.3 kPa, 50 % humidity).
// Source: [FooteDuToit1969].
// Errors: ErrDrop for a density that is not positive.
func SpeedAtAltitude(v0, rho0, rho float64) (float64, error) {
	if !(rho0 > 0 && rho > 0 && v0 >= 0) {
		return 0, fmt.Errorf("%w: speed %v, densities %v and %v", ErrDrop, v0, rho0, rho)
	}
	return v0 * math.Pow(rho0/rho, 0.4), nil
}
