package rainfall

import (
	"math"
	"slices"
	"strconv"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/analysis/water"
)

// MethodDropSizes is the method of an energy that follows from the measured
// drops of the simulator; the other methods are those of EnergyEquation.
const MethodDropSizes = "drop_sizes"

// naturalEquations are the equations whose results are reported, the headline of
// a plot without drop sizes first.
var naturalEquations = [...]EnergyEquation{BrownFoster1987, McGregor1995, WischmeierSmith1978}

// i30Min is the window of the erosivity, min.
const i30Min = 30

// Under adds what the profile of the simulator tells of the rain of a run: the
// energy of its drops, how well it repeats, and whether the pressure was in its band. A pressure
// outside is flagged and nothing is corrected. rig may be nil.
func (r *Rain) Under(run *experiment.Run, rig *experiment.Rig) {
	if rig == nil {
		return
	}
	r.restate(rig)
	pressure := pressureOf(run)
	if pressure.OK && outsideBand(pressure.V, rig) {
		r.Flags.Add("pressure_outside_band")
	}
	if rig.Drops == nil {
		return
	}
	e, err := Energy(*rig.Drops, launch(run, rig, pressure))
	if err != nil {
		return // the reader of the profile has refused such a table
	}
	e.UUnit = gum.Combined(e.UUnit, rig.UEnergyRel.Or(0)*e.UnitJM2MM)
	e.from, e.start = rig.Place, startOf(run, rig, pressure)
	r.Drops = &e
}

// bandRounding is the share by which a pressure on the edge of its band may miss
// it in another unit.
const bandRounding = 1e-6

// outsideBand reports whether a pressure misses the band of the profile.
func outsideBand(kPa float64, rig *experiment.Rig) bool {
	return rig.PressureLow.OK && kPa < rig.PressureLow.V*(1-bandRounding) || rig.PressureHigh.OK && kPa > rig.PressureHigh.V*(1+bandRounding)
}

// launch returns how the drops start: from rest where nothing tells their speed
// at the nozzle, else as measured, else as a jet without loss.
func launch(run *experiment.Run, rig *experiment.Rig, pressure quantity.Optional) Launch {
	return Launch{HeightM: rig.FallHeightM.Or(0), StartMS: startOf(run, rig, pressure).ms}
}

// startSpeed is how the drops leave the nozzle.
type startSpeed struct {
	ms       float64
	measured bool            // else of a jet, or zero where no pressure is known
	kPa      float64         // of a jet; 0: none
	density  float64         // of its water, kg/m3
	run      *experiment.Run // whose pressure it is
}

func startOf(run *experiment.Run, rig *experiment.Rig, pressure quantity.Optional) startSpeed {
	if rig.NozzleSpeedMS.OK || !pressure.OK {
		return startSpeed{ms: rig.NozzleSpeedMS.Or(0), measured: rig.NozzleSpeedMS.OK}
	}
	density, err := water.Density(run.WaterTempC.Or(water.ReferenceC))
	if err != nil {
		return startSpeed{}
	}
	v, err := JetSpeed(pressure.V, density)
	if err != nil {
		return startSpeed{}
	}
	return startSpeed{ms: v, kPa: pressure.V, density: density, run: run}
}

// pressureOf returns the pressure of a run: as noted, else the mean of its
// logger from rain on to rain off.
func pressureOf(run *experiment.Run) quantity.Optional {
	if run.PressureKPa.OK {
		return run.PressureKPa
	}
	for i := range run.Series {
		if s := &run.Series[i]; s.Channel == experiment.Pressure {
			if _, v := binMeans(s, run.RainMin); len(v) > 0 {
				return quantity.Some(mean(v))
			}
		}
	}
	return quantity.None()
}

// Course returns the rain as it fell: one straight line where it is taken as constant.
func (r *Rain) Course() Course {
	if r.RatesMMH == nil {
		return Course{TimeMin: []float64{0, r.DurationMin}, DepthMM: []float64{0, r.DepthMM}}
	}
	c := Course{TimeMin: r.EdgesMin, DepthMM: make([]float64, len(r.EdgesMin)), ratesMMH: r.RatesMMH}
	for i, rate := range r.RatesMMH {
		c.DepthMM[i+1] = c.DepthMM[i] + rate*(r.EdgesMin[i+1]-r.EdgesMin[i])/60
	}
	return c
}

// NaturalEnergy returns the energy that natural rain of this course would have
// brought.
//
//	E = sum e(i_j) P_j over its intervals
//
// Units: result in MJ/ha. Source: NaturalUnitEnergy. Errors: ErrIntensity.
func (c Course) NaturalEnergy(eq EnergyEquation) (float64, error) {
	var sum float64
	for j := 1; j < len(c.TimeMin); j++ {
		if !(c.TimeMin[j] > c.TimeMin[j-1]) {
			continue
		}
		e, err := NaturalUnitEnergy(c.rate(j), eq)
		if err != nil {
			return 0, err
		}
		sum += e * c.rate(j) * (c.TimeMin[j] - c.TimeMin[j-1]) / 60
	}
	return sum, nil
}

// I30 returns the largest mean intensity over 30 min, mm/h. A rain shorter than
// that has twice its depth: the rest of the half hour is dry.
// Source: [WischmeierSmith1978]. Errors: ErrCourse.
func (c Course) I30() (float64, error) { return c.LargestMean(i30Min) }

// ConstantErosivity returns the erosivity of natural rain of one intensity.
//
//	EI30 = e(i) P I30,  P = i T / 60,  I30 = i, or 2 P for T < 30 min
//
// Units: i in mm/h, T in min, EI30 in MJ mm/(ha h).
// Source: [WischmeierSmith1978], [RUSLE703]. Errors: ErrIntensity, ErrCourse.
func ConstantErosivity(intensityMMH, durationMin float64, eq EnergyEquation) (float64, error) {
	c := Course{TimeMin: []float64{0, durationMin}, DepthMM: []float64{0, intensityMMH * durationMin / 60}}
	e, err := NaturalUnitEnergy(intensityMMH, eq)
	if err != nil {
		return 0, err
	}
	i30, err := c.I30()
	return e * c.DepthMM[1] * i30, err
}

// AppendEnergyRows appends the rows of kinetic_energy and erosivity. The
// headline is that of the measured drops, else the natural-rain equivalent by
// [BrownFoster1987]. base holds the columns that name the plot, and the level.
//
// Standard uncertainties are those of intensity, duration and, for measured
// drops, of their energy. That an equation of natural rain may not hold for a
// simulator is not an uncertainty but the flag natural_rain_equivalent.
func AppendEnergyRows(dst []result.PlotRow, base result.PlotRow, r *Rain) []result.PlotRow {
	course := r.Course()
	i30, err := course.I30()
	if err != nil {
		return dst
	}
	flags := slices.Clone(r.Flags)
	if r.DurationMin < i30Min {
		flags.Add("short_run")
	}
	if d := r.Drops; d != nil {
		dst = append(dst, r.energyRows(base, MethodDropSizes, true, i30, r.dropFlags(flags, course),
			func(scale float64) float64 { return scale * d.UnitJM2MM * r.DepthMM }, d.UUnit/d.UnitJM2MM)...)
	}
	natural := slices.Clone(flags)
	natural.Add("natural_rain_equivalent")
	for k, eq := range naturalEquations {
		energy := func(scale float64) float64 {
			e, _ := course.scaled(scale).NaturalEnergy(eq) // of a rain that has a depth
			return 100 * e                                 // 1 MJ/ha = 100 J/m2
		}
		dst = append(dst, r.energyRows(base, eq.String(), k == 0 && r.Drops == nil, i30, natural, energy, 0)...)
	}
	return dst
}

// dropFlags adds what is to be known of an energy from drop sizes: its ratio to
// that of natural rain, and what was assumed.
func (r *Rain) dropFlags(flags result.Flags, course Course) result.Flags {
	flags = slices.Clone(flags)
	if r.Drops.Assumed {
		flags.Add("terminal_speed_assumed")
	}
	if e, err := course.NaturalEnergy(BrownFoster1987); err == nil && e > 0 {
		flags.Add("energy_ratio=" + strconv.FormatFloat(r.Drops.UnitJM2MM*r.DepthMM/(100*e), 'f', 3, 64))
	}
	return flags
}

// scaled returns the course with every rate multiplied.
func (c Course) scaled(factor float64) Course {
	out := Course{TimeMin: c.TimeMin, DepthMM: make([]float64, len(c.DepthMM))}
	for i, d := range c.DepthMM {
		out.DepthMM[i] = factor * d
	}
	for _, rate := range c.ratesMMH {
		out.ratesMMH = append(out.ratesMMH, factor*rate)
	}
	return out
}

// rate is the intensity that ends with place j: as it was logged, since differences of a
// running depth lose digits, else from the depth.
func (c Course) rate(j int) float64 {
	if c.ratesMMH != nil {
		return c.ratesMMH[j-1]
	}
	return 60 * (c.DepthMM[j] - c.DepthMM[j-1]) / (c.TimeMin[j] - c.TimeMin[j-1])
}

// energyRows returns the rows of energy and erosivity by one method. energy
// gives the energy, J/m2, of the rain with its intensity multiplied; uRel is the
// relative uncertainty of the energy per depth.
func (r *Rain) energyRows(base result.PlotRow, method string, headline bool, i30 float64, flags result.Flags, energy func(scale float64) float64, uRel float64) []result.PlotRow {
	const step = 1e-4 // of the intensity
	e, up, down := energy(1), energy(1+step), energy(1-step)
	slope := (up - down) / (2 * step) // by the relative intensity
	var own, shared, between, clock float64
	if r.IntensityMMH > 0 && r.DepthMM > 0 {
		own, shared, between = r.U/r.IntensityMMH, r.UShared/r.IntensityMMH, r.UBetween/r.IntensityMMH
		clock = math.Sqrt(max(0, math.Pow(r.UDepthShared/r.DepthMM, 2)-shared*shared))
	}
	const hectare = 0.01 // MJ/ha of 1 J/m2
	byClock := 1.0       // of a longer rain EI30 grows as its energy
	if r.DurationMin < i30Min {
		byClock = 2
	}
	row := func(m result.Metric, v, byIntensity, byClock float64) result.PlotRow {
		out := base
		info, _ := m.Info()
		out.Metric, out.Method, out.Headline, out.Unit = m, method, headline, info.SI
		common := gum.Combined(byIntensity*shared, v*byClock*clock, v*uRel)
		u := gum.Combined(byIntensity*own, common)
		low, high := gum.Within(v, u, gum.WelchSatterthwaite(u, []float64{byIntensity * own, byIntensity * between}, []float64{r.DF, r.DFBetween}), base.Level, gum.NonNegative())
		out.Estimate = result.Estimate{Value: quantity.Some(v), U: quantity.Some(u), Low: quantity.Some(low), High: quantity.Some(high),
			UShared: quantity.Some(common), Censored: result.Observed, N: 1, Flags: slices.Clip(flags)}
		return out
	}
	return []result.PlotRow{
		row(result.KineticEnergy, e, slope, 1),
		row(result.Erosivity, hectare*e*i30, hectare*i30*(slope+e), byClock),
	}
}
