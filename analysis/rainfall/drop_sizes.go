package rainfall

import (
	"errors"
	"fmt"
	"math"

	"sheetwash/analysis/experiment"
)

// ErrDropTable is returned for a table of drop sizes that holds no energy.
var ErrDropTable = errors.New("drop-size table")

// Launch is how the drops of a simulator start. Its zero value knows nothing:
// drops are then taken to be at their terminal speed.
type Launch struct {
	HeightM float64 // fall from nozzle to plot; 0: not known
	StartMS float64 // downward speed at the nozzle
}

// DropEnergy is what a table of drop sizes tells of a rain.
type DropEnergy struct {
	// UnitJM2MM is the kinetic energy per depth, J/(m2 mm), which is the energy
	// per mass, J/kg. One hundredth of it is in MJ/(ha mm).
	UnitJM2MM float64
	UUnit     float64 // standard uncertainty from the number of drops counted; 0: counts are not known
	MedianMM  float64 // half of the volume is in smaller drops
	// TerminalShare is this energy over that of the same drops at their terminal speeds.
	TerminalShare float64
	// Assumed: neither speed nor height of fall is known, terminal speeds were taken.
	Assumed bool

	table  experiment.DropTable
	launch Launch
	from   experiment.Place // of the profile
	start  startSpeed
}

// Energy returns the kinetic energy of the drops of a table.
//
//	e = sum w_k d_k^3 v_k^2 / (2 sum w_k d_k^3)
//
// with d_k the diameter in the middle of class k, w_k the number of drops that
// arrive: the count, or for concentrations N the flux N v_k times the width of the
// class. v_k is the speed that the table gives, else the speed after the fall,
// SpeedAfterFall of TerminalSpeed (above 5.8 mm the last row of its table).
// Counts are Poisson numbers: u(e) = sqrt(sum c_k (m_k (v_k^2/2 - e))^2) / sum c_k m_k.
// Units: d in mm, v in m/s, e in J/(m2 mm).
// Source: kinetic energy of a mass; the flux of a concentration by definition.
// Departure: the drops of a class all have the diameter of its middle. For the
// median they are spread evenly over the class.
// Errors: ErrDropTable for a table without drops.
func Energy(table experiment.DropTable, launch Launch) (DropEnergy, error) {
	var mass, energy, terminal float64
	weights := make([]float64, len(table.Classes))
	half := make([]float64, len(table.Classes)) // v^2/2
	out := DropEnergy{table: table, launch: launch}
	for k, c := range table.Classes {
		d := (c.FromMM + c.ToMM) / 2
		if !(c.FromMM >= 0 && c.ToMM > c.FromMM && c.Value >= 0) || math.IsInf(c.ToMM+c.Value, 1) {
			return out, fmt.Errorf("%w: class %d from %v to %v mm holds %v", ErrDropTable, k+1, c.FromMM, c.ToMM, c.Value)
		}
		vt := terminalOrNearest(d)
		v := vt
		switch {
		case c.SpeedMS.OK:
			v = c.SpeedMS.V
		case launch.HeightM > 0:
			v, _ = SpeedAfterFall(vt, launch.StartMS, launch.HeightM) // vt > 0
		default:
			out.Assumed = out.Assumed || c.Value > 0
		}
		w := c.Value * d * d * d
		if table.Concentration {
			w *= v * (c.ToMM - c.FromMM)
		}
		weights[k], half[k] = w, v*v/2
		mass += w
		energy += w * half[k]
		terminal += w * vt * vt / 2
	}
	if !(mass > 0) {
		return out, fmt.Errorf("%w: no drop in %d classes", ErrDropTable, len(table.Classes))
	}
	out.UnitJM2MM = energy / mass
	if terminal > 0 {
		out.TerminalShare = energy / terminal
	}
	if !table.Concentration {
		var variance float64
		for k, c := range table.Classes {
			if c.Value > 0 {
				x := weights[k] * (half[k] - out.UnitJM2MM)
				variance += x * x / c.Value
			}
		}
		out.UUnit = math.Sqrt(variance) / mass
	}
	out.MedianMM = medianOf(table.Classes, weights, mass)
	return out, nil
}

// medianOf returns the diameter below which half of the volume lies.
func medianOf(classes []experiment.DropClass, weights []float64, mass float64) float64 {
	var below float64
	for k, w := range weights {
		if w > 0 && below+w >= mass/2 {
			c := classes[k]
			return c.FromMM + (c.ToMM-c.FromMM)*(mass/2-below)/w
		}
		below += w
	}
	return 0
}
