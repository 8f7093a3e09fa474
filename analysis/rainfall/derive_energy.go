package rainfall

import (
	"cmp"
	"math"
	"slices"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/result"
	"sheetwash/analysis/water"
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
		depth := course.rate(j) * (to - from) / 60
		rain := between("rain", from, to)
		unit := naturalNode(course.rate(j), eq, rain)
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
		diameter := derivation.Formula("diameter", d, "mm", "(from + to) / 2",
			derivation.Read("from", c.FromMM, "mm", -1, at), derivation.Read("to", c.ToMM, "mm", -1, at))
		diameter.Note = "middle of the class"
		speed := e.speed(d, diameter, c.SpeedMS.OK, c.SpeedMS.V)
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
func (e *DropEnergy) speed(dMM float64, diameter derivation.Node, measured bool, measuredMS float64) derivation.Node {
	at := place(e.from, "drops.speeds_m_s")
	if measured {
		return derivation.Read("speed", measuredMS, "m/s", -1, at)
	}
	vt := terminalOrNearest(dMM)
	terminal := terminalNode(vt, dMM, diameter)
	if !(e.launch.HeightM > 0) {
		return terminal.Named("speed")
	}
	v := math.Sqrt(vt*vt + (e.launch.StartMS*e.launch.StartMS-vt*vt)*math.Exp(-2*Gravity*e.launch.HeightM/(vt*vt)))
	return derivation.Formula("speed", v, "m/s", "sqrt(terminal * terminal + (start * start - terminal * terminal) * exp(-2 * 9.80665 * height / (terminal * terminal)))",
		terminal, e.start.derive(e.from),
		derivation.Read("height", e.launch.HeightM, "m", -1, place(e.from, "fall_height")))
}

// terminalNode is the terminal speed of a diameter, by the rows of the table about it.
func terminalNode(vt, dMM float64, diameter derivation.Node) derivation.Node {
	table := gunnKinzer[:]
	k, _ := slices.BinarySearchFunc(table, dMM, func(row [2]float64, d float64) int { return cmp.Compare(row[0], d) })
	row := func(name string, i, column int, unit string) derivation.Node {
		return derivation.Setting(name, table[i][column], unit, "row of the table")
	}
	var n derivation.Node
	switch {
	case k == len(table) || dMM == table[k][0]:
		i := min(k, len(table)-1)
		n = derivation.Setting("terminal", vt, "m/s", "row of "+number(table[i][0])+" mm of the table")
		if k == len(table) {
			n.Note = "last row of the table, for all larger drops"
		}
	case k == 0:
		n = derivation.Formula("terminal", vt, "m/s", "first_speed * diameter / first", row("first_speed", 0, 1, "m/s"), diameter, row("first", 0, 0, "mm"))
		n.Note = "below the table: straight to zero"
	default:
		n = derivation.Formula("terminal", vt, "m/s", "low_speed + (high_speed - low_speed) * (diameter - low) / (high - low)",
			row("low_speed", k-1, 1, "m/s"), row("high_speed", k, 1, "m/s"), diameter, row("low", k-1, 0, "mm"), row("high", k, 0, "mm"))
	}
	n.Source = "Gunn and Kinzer 1949, table 2"
	return n
}

// derive is the speed at the nozzle.
func (s *startSpeed) derive(profile experiment.Place) derivation.Node {
	switch {
	case s.measured:
		return derivation.Read("start", s.ms, "m/s", -1, place(profile, "nozzle.speed"))
	case !(s.kPa > 0):
		return derivation.Setting("start", s.ms, "m/s", "at rest: neither a speed at the nozzle nor a pressure is known")
	}
	pressure := derivation.Setting("pressure", s.kPa, "kPa", "mean of the logger during the rain")
	if s.run.PressureKPa.OK {
		pressure = derivation.Read("pressure", s.kPa, "kPa", -1, place(s.run.Place, "pressure"))
	}
	t := derivation.Setting("t", water.ReferenceC, "Cel", "the temperature of the water is not known")
	if s.run.WaterTempC.OK {
		t = derivation.Read("t", s.run.WaterTempC.V, "Cel", -1, place(s.run.Place, "water_temperature"))
	}
	density := derivation.Formula("density", s.density, "kg/m3",
		"999.974950 * (1 - (t - 3.983035) * (t - 3.983035) * (t + 301.797) / (522528.9 * (t + 69.34881)))", t)
	density.Source = "Tanaka et al. 2001"
	n := derivation.Formula("start", s.ms, "m/s", "sqrt(2000 * pressure / density)", pressure, density)
	n.Note = "of a jet without loss"
	return n
}
