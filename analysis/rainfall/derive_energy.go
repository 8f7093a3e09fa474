package rainfall

import (
	"math"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/result"
)

// RainBetween gives how the mean rain of a stretch came about, by a name.
type RainBetween func(name string, fromMin, toMin float64) derivation.Node

// DeriveEnergy returns the derivation of a row of kinetic_energy or erosivity;
// false for another metric or method. d is that of the same rain.
func (r *Rain) DeriveEnergy(metric result.Metric, method string, d Derived, between RainBetween) (derivation.Node, bool) {
	eq, natural := ParseEnergyEquation(method)
	if !natural && (method != MethodDropSizes || r.Drops == nil) {
		return derivation.Node{}, false
	}
	name := string(result.KineticEnergy)
	var n derivation.Node
	if natural {
		n = r.deriveNatural(name, eq, d, between)
	} else {
		unit := r.Drops.derive()
		n = derivation.Formula(name, *unit.Value*r.DepthMM, "J/m2", "unit_energy * depth", unit, d.Depth.Named("depth"))
	}
	n.Method = method
	switch metric {
	case result.KineticEnergy:
		return n, true
	case result.Erosivity:
		i30 := r.deriveI30(d, between)
		e := derivation.Formula(string(metric), 0.01**n.Value**i30.Value, "MJ.mm/(ha.h)", "0.01 * energy * i30", n.Named("energy"), i30)
		e.Method, e.Source = method, "Wischmeier and Smith 1978"
		return e, true
	}
	return derivation.Node{}, false
}

func (r *Rain) deriveI30(d Derived, between RainBetween) derivation.Node {
	course := r.Course()
	start, depth := course.largest(i30Min)
	v := 60 * depth / i30Min
	switch {
	case r.DurationMin < i30Min:
		n := derivation.Formula("i30", v, "mm/h", "2 * depth", d.Depth.Again("depth"))
		n.Note = "the run is shorter than 30 min: the rest of the half hour is dry"
		return n
	case r.RatesMMH == nil:
		return derivation.Formula("i30", v, "mm/h", "intensity", d.Intensity.Again("intensity"))
	}
	n := derivation.Formula("i30", v, "mm/h", "rain", between("rain", start, start+i30Min))
	n.Note = "largest mean over 30 min, from " + number(start) + " min"
	return n
}

// deriveNatural is the energy of natural rain of the same course.
func (r *Rain) deriveNatural(name string, eq EnergyEquation, d Derived, between RainBetween) derivation.Node {
	if r.RatesMMH == nil {
		unit := naturalNode(r.IntensityMMH, eq, d.Intensity.Named("rain"))
		return derivation.Formula(name, 100**unit.Value*r.DepthMM, "J/m2", "100 * unit_energy * depth", unit, d.Depth.Named("depth"))
	}
	course := r.Course()
	var parts []derivation.Node
	var sum float64
	for j := 1; j < len(course.TimeMin); j++ {
		from, to := course.TimeMin[j-1], course.TimeMin[j]
		if !(to > from) {
			continue
		}
		depth := course.DepthMM[j] - course.DepthMM[j-1]
		rain := between("rain", from, to)
		unit := naturalNode(60*depth/(to-from), eq, rain)
		part := derivation.Formula("part", 100**unit.Value*depth, "J/m2", "100 * unit_energy * rain * minutes / 60", unit, rain.Again("rain"),
			derivation.Setting("minutes", to-from, "min", "from "+number(from)+" to "+number(to)+" min"))
		parts = append(parts, part)
		sum += *part.Value
	}
	return derivation.Of(name, sum, "J/m2", derivation.Sum, parts...)
}

// naturalNode is the energy per depth of natural rain of one intensity.
func naturalNode(intensityMMH float64, eq EnergyEquation, rain derivation.Node) derivation.Node {
	v, _ := NaturalUnitEnergy(intensityMMH, eq) // of a rain that is there
	equation, source := "0.29 * (1 - 0.72 * exp(-0.05 * rain))", "Brown and Foster 1987"
	switch {
	case eq == McGregor1995:
		equation, source = "0.29 * (1 - 0.72 * exp(-0.082 * rain))", "McGregor et al. 1995"
	case eq == WischmeierSmith1978 && intensityMMH > capMMH:
		equation, source = "0.283", "Wischmeier and Smith 1978, above 76 mm/h"
	case eq == WischmeierSmith1978 && v == 0:
		equation, source = "0", "Wischmeier and Smith 1978; the logarithm is negative"
	case eq == WischmeierSmith1978:
		equation, source = "0.119 + 0.0873 * log10(rain)", "Wischmeier and Smith 1978"
	}
	n := derivation.Formula("unit_energy", v, "MJ/(ha.mm)", equation, rain)
	n.Source, n.Note = source, "natural-rain equivalent: the drops of the simulator are not in it"
	return n
}

// derive is the energy per depth of the drops that were measured.
func (e *DropEnergy) derive() derivation.Node {
	mass, half := derivation.ListOf("mass", "mm3"), derivation.ListOf("half_square", "m2/s2")
	at := place(e.from, "drops")
	for _, c := range e.table.Classes {
		d := (c.FromMM + c.ToMM) / 2
		diameter := derivation.Setting("diameter", d, "mm", "middle of the class from "+number(c.FromMM)+" to "+number(c.ToMM)+" mm")
		speed := e.speed(d, c.SpeedMS.OK, c.SpeedMS.V)
		v := *speed.Value
		count := derivation.Read("drops", c.Value, "1", -1, at)
		if e.table.Concentration {
			count.Unit = "1/(m3.mm)"
			width := derivation.Setting("width", c.ToMM-c.FromMM, "mm", "of the class")
			mass.Inputs = append(mass.Inputs, derivation.Formula("mass", c.Value*d*d*d*(v*(c.ToMM-c.FromMM)), "mm3", "drops * diameter * diameter * diameter * (speed * width)", count, diameter, speed, width))
		} else {
			mass.Inputs = append(mass.Inputs, derivation.Formula("mass", c.Value*d*d*d, "mm3", "drops * diameter * diameter * diameter", count, diameter))
		}
		half.Inputs = append(half.Inputs, derivation.Formula("half_square", v*v/2, "m2/s2", "speed * speed / 2", speed))
	}
	n := derivation.Formula("unit_energy", e.UnitJM2MM, "J/(m2.mm)", "dot(mass, half_square) / sum(mass)", mass, half)
	n.Source = "kinetic energy of a mass"
	return n
}

// speed is how a drop of a diameter has its speed.
func (e *DropEnergy) speed(dMM float64, measured bool, measuredMS float64) derivation.Node {
	at := place(e.from, "drops.speeds_m_s")
	if measured {
		return derivation.Read("speed", measuredMS, "m/s", -1, at)
	}
	vt := terminalOrNearest(dMM)
	terminal := derivation.Setting("terminal", vt, "m/s", "of the diameter, in the table of Gunn and Kinzer 1949")
	if !(e.launch.HeightM > 0) {
		return terminal.Named("speed")
	}
	v := math.Sqrt(vt*vt + (e.launch.StartMS*e.launch.StartMS-vt*vt)*math.Exp(-2*Gravity*e.launch.HeightM/(vt*vt)))
	return derivation.Formula("speed", v, "m/s", "sqrt(terminal * terminal + (start * start - terminal * terminal) * exp(-2 * 9.80665 * height / (terminal * terminal)))",
		terminal, derivation.Setting("start", e.launch.StartMS, "m/s", "at the nozzle: as in the profile, else of a jet without loss at the run's pressure, else at rest"),
		derivation.Read("height", e.launch.HeightM, "m", -1, place(e.from, "fall_height")))
}
