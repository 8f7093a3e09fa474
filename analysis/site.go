package analysis

import (
	"cmp"
	"slices"
	"time"

	"sheetwash/analysis/erosion"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/hydrograph"
	"sheetwash/analysis/infiltration"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/rainfall"
	"sheetwash/analysis/result"
	"sheetwash/analysis/water"
)

// site is one plot under one run of one dataset.
type site struct {
	dataset *experiment.Dataset
	run     *experiment.Run
	plot    *experiment.Plot
	paired  bool   // its soil loss is set against that of bare plots
	with    shared // of the dataset
}

// flagNoIntensity marks the rain of a plot whose intensity nothing tells.
const flagNoIntensity = "no_intensity"

// analyse appends the plot's rows to a part: rain first, then the hydrograph,
// then what the hydrograph says of sediment and infiltration, then the water balance. It returns
// what statements about the run need of the plot.
func (s site) analyse(calibrations []rainfall.Calibration, plan Plan, part *Part) alongside {
	base := s.base(plan.Level)
	first := len(part.Plots)
	errs := s.dataset.Errors()
	rain, ok := rainfall.ForPlot(s.dataset.Name(), s.run, s.plot, calibrations, errs)
	if !ok {
		part.Plots = append(part.Plots, unknownRain(base))
		return alongside{first: first, end: len(part.Plots)}
	}
	rain.Under(s.run, s.dataset.Rig(s.run.Simulator))
	part.Plots = rainfall.AppendRows(part.Plots, base, &rain)
	part.Plots = rainfall.AppendEnergyRows(part.Plots, base, &rain)

	h := hydrograph.Of(s.run, s.plot, forHydrograph(rain), errs, plan.Hydrograph)
	part.Plots = h.AppendRows(part.Plots, base)
	drainage := hydrograph.OfDrainage(s.run, s.plot, forHydrograph(rain), errs, plan.Hydrograph)
	part.Plots = drainage.AppendDrainageRow(part.Plots, base)

	in := s.forErosion(&h, plan.Level)
	in.Late = late(&h, &rain)
	sediment := erosion.Of(in)
	part.Plots = sediment.AppendRows(part.Plots, base)
	for _, a := range s.with.analytes {
		part.Plots = erosion.AppendAnalyteRows(part.Plots, base, a, in)
	}
	if s.paired {
		part.Plots = s.appendPaired(part.Plots, base)
	}
	water := s.balanceOf(&rain, &h, &drainage, &sediment, plan)
	part.Plots = water.AppendRows(part.Plots, base)

	steady := unknownSteady(&h)
	known := h.Status != hydrograph.NoData || s.plot.Onset == experiment.OnsetNoted
	if known {
		soil := s.forInfiltration(&h, sediment.ByFlow, rain, plan)
		steady = infiltration.Steady(soil)
		if plan.Models {
			models := infiltration.Models(soil)
			part.Plots = appendModels(part.Plots, base, &models)
			part.Fits = s.appendFits(part.Fits, models.Rows())
		}
	}
	part.Plots = appendSteady(part.Plots, base, steady, rain.UShared)
	part.Plots = s.appendAt20C(part.Plots, base, steady)
	part.Fits = s.appendFits(part.Fits, steady.Parameters)

	part.Hydrograph = s.appendCourse(part.Hydrograph, &h, sediment.ByFlow)
	part.Hydrograph = s.appendCourse(part.Hydrograph, &drainage, nil)
	finish(part.Plots[first:])
	out := alongside{first: first, end: len(part.Plots), verdict: water.Verdict}
	if water.Speaks() {
		out.balance = &water
	}
	return out
}

// base returns the columns that name the plot.
func (s site) base(level float64) result.PlotRow {
	return result.PlotRow{Level: level, Subject: &result.Subject{
		Dataset: s.dataset.Name(), Season: s.run.Season, Event: s.run.Event, Run: s.run.ID,
		Plot: s.plot.ID, Treatment: s.plot.Treatment, Block: cmp.Or(s.plot.Block, s.run.ID),
		ExperimentalUnit: s.plot.ExperimentalUnit, Sequence: s.run.Sequence, Excluded: s.plot.Exclude,
		Crew: s.run.Crew, Simulator: s.run.Simulator, Day: day(s.run.Started),
	}}
}

// day returns the days since 1970, missing for a time that was not given.
func day(t time.Time) quantity.Optional {
	if t.IsZero() {
		return quantity.None()
	}
	return quantity.Some(float64(t.Unix()) / 86400)
}

// appendCourse appends the hydrograph of a stream that has one.
func (s site) appendCourse(courses []result.Course, h *hydrograph.Hydrograph, concentrationGL []quantity.Optional) []result.Course {
	if len(h.Intervals) == 0 {
		return courses
	}
	return append(courses, result.Course{
		Dataset: s.dataset.Name(), Run: s.run.ID, Plot: s.plot.ID, Stream: h.Stream.String(), Steps: h.Steps(concentrationGL),
	})
}

func unknownRain(row result.PlotRow) result.PlotRow {
	row.Metric, row.Method, row.Unit, row.Headline = result.RainDepth, "none", "mm", true
	row.Flags.Add(flagNoIntensity)
	return row
}

func forHydrograph(r rainfall.Rain) hydrograph.Rain {
	return hydrograph.Rain{
		IntensityMMH: r.IntensityMMH, DurationMin: r.DurationMin, DepthMM: r.DepthMM,
		UDepthShared: r.UDepthShared, DFShared: r.DFDepthShared, UDepth: r.UDepth, DF: r.DF, EdgesMin: r.EdgesMin, RatesMMH: r.RatesMMH,
	}
}

// unknownSteady is the steady rate of a plot of which nobody knows whether water
// ran off: without a value, for the reasons that the hydrograph gives. A plot
// that was seen to stay dry is another thing: its rate is a lower bound.
func unknownSteady(h *hydrograph.Hydrograph) infiltration.Answer {
	e := result.Estimate{Flags: slices.Clone(h.Flags)}
	return infiltration.Answer{Window: e, Horton: e, Headline: infiltration.HortonCurve}
}

// forInfiltration hands on what was measured: never what was interpolated. A
// bottle holds suspension, and soil takes in water: with the concentration C,
// g/L, the water among the runoff q is
//
//	q_w = q (1 - C / 2650)
//
// Where the rain varied, a rate is shifted by how much the rain of its interval
// differed from the mean, so that mean intensity minus rate is still the
// apparent infiltration of the interval.
func (s site) forInfiltration(h *hydrograph.Hydrograph, concentrationGL []quantity.Optional, rain rainfall.Rain, plan Plan) infiltration.Input {
	in := infiltration.Input{
		IntensityMMH: rain.IntensityMMH, UAreaRel: h.UAreaRel, UChangeRel: h.UChangeRel(), RainMin: rain.DurationMin,
		RanOff: h.Status != hydrograph.Dry, Level: plan.Level, Tolerance: plan.Steady,
		Intervals: make([]infiltration.Interval, 0, len(h.Intervals)),
	}
	in.UIntensity, in.DFIntensity = rain.UIntensity()
	switch {
	case s.plot.Onset == experiment.OnsetNoted:
		in.OnsetMin, in.UOnsetMin = quantity.Some(s.plot.OnsetMin), s.dataset.Errors().OnsetMin
	case h.FromReadings:
		s.onsetOfLogger(h, &in)
	}
	course := forHydrograph(rain)
	for i := range h.Intervals {
		iv := &h.Intervals[i]
		if iv.Kind != hydrograph.Measured {
			continue
		}
		rate := iv.RateMMH
		if i < len(concentrationGL) {
			rate *= 1 - concentrationGL[i].Or(0)/(1000*water.ParticleDensity)
		}
		if rain.RatesMMH != nil {
			rate -= course.Between(iv.StartMin, iv.EndMin) - rain.IntensityMMH
		}
		in.Intervals = append(in.Intervals, infiltration.Interval{
			StartMin: iv.StartMin, EndMin: iv.EndMin, RateMMH: rate, U: iv.URateMMH, LowerBound: iv.LowerBound,
		})
	}
	return in
}

// onsetOfLogger takes the onset from the readings where nobody noted it. A dry
// plot's logger reads noise about zero where its bottle would be empty, so the
// minutes before the rate passes the threshold say nothing of a capacity; and a
// plot that never passes it, with a depth within two standard uncertainties of
// none, did not run off.
func (s site) onsetOfLogger(h *hydrograph.Hydrograph, in *infiltration.Input) {
	onset := h.TimeToRunoff(hydrograph.MethodThreshold)
	switch {
	case !onset.Value.OK:
	case onset.Censored != result.Right:
		in.OnsetMin, in.UOnsetMin = onset.Value, onset.U.V
	default:
		depth := h.Depth()
		in.RanOff = in.RanOff && depth.Value.OK && depth.Value.V > 2*depth.U.V
	}
}

// appendSteady appends the rows of both methods. All of the intensity's error
// is common to the intervals of the plot, but only uShared of it to the run.
func appendSteady(rows []result.PlotRow, base result.PlotRow, a infiltration.Answer, uShared float64) []result.PlotRow {
	base.Metric, base.Unit = result.SteadyInfiltrationRate, "mm/h"
	for _, m := range []struct {
		method   string
		estimate result.Estimate
	}{{infiltration.FinalWindow, a.Window}, {infiltration.HortonCurve, a.Horton}} {
		base.Method, base.Estimate, base.Headline = m.method, m.estimate, m.method == a.Headline
		if base.UShared.OK {
			base.UShared = quantity.Some(min(uShared, base.UShared.V))
		}
		rows = append(rows, base)
	}
	return rows
}

// at20C marks the method of a rate as that of water at 20 Cel.
const at20C = "_20c"

// appendAt20C appends the steady rate as it would be with water at 20 Cel, beside
// the raw one, where the temperature of the water was noted.
func (s site) appendAt20C(rows []result.PlotRow, base result.PlotRow, a infiltration.Answer) []result.PlotRow {
	e := a.Horton
	if a.Headline == infiltration.FinalWindow {
		e = a.Window
	}
	if !s.run.WaterTempC.OK || !e.Value.OK {
		return rows
	}
	normal, err := infiltration.At20C(e, s.run.WaterTempC.V, s.dataset.Errors().SupplyC)
	if err != nil { // beyond the equation; the raw rate stands
		return rows
	}
	base.Metric, base.Unit, base.Method, base.Estimate = result.SteadyInfiltrationRate, "mm/h", a.Headline+at20C, normal
	return append(rows, base)
}

// appendModels appends what the comparison of infiltration models says beside the
// steady rate: the average over the models, and the sorptivity.
func appendModels(rows []result.PlotRow, base result.PlotRow, c *infiltration.Comparison) []result.PlotRow {
	base.Metric, base.Unit, base.Method, base.Estimate = result.SteadyInfiltrationRate, "mm/h", infiltration.ModelAverage, c.Average
	rows = append(rows, base)
	base.Metric, base.Unit, base.Method, base.Estimate = result.Sorptivity, "mm/h^0.5", infiltration.PhilipTwoTerm, c.Sorptivity
	base.Headline = true
	return append(rows, base)
}

func (s site) appendFits(rows []result.FitRow, parameters []infiltration.Parameter) []result.FitRow {
	for _, p := range parameters {
		rows = append(rows, result.FitRow{
			Dataset: s.dataset.Name(), Run: s.run.ID, Plot: s.plot.ID, Model: p.Model, Parameter: p.Name, Unit: p.Unit,
			Value: p.Value, U: p.U, Low: p.Low, High: p.High, RSS: p.RSS, N: p.N, AICc: p.AICc, Weight: p.Weight, Converged: p.Converged, Flags: p.Flags,
		})
	}
	return rows
}

// late is the time of the final runoff rate with its rain.
func late(h *hydrograph.Hydrograph, rain *rainfall.Rain) erosion.Late {
	from, to, ok := h.FinalWindow()
	if !ok {
		return erosion.Late{}
	}
	course := forHydrograph(*rain)
	return erosion.Late{StartMin: from, EndMin: to, IntensityMMH: course.Between(from, min(to, rain.DurationMin)), UShared: rain.UShared, DFShared: rain.DFShared, U: rain.U, DF: rain.DF}
}

func (s site) forErosion(h *hydrograph.Hydrograph, level float64) erosion.Input {
	in := erosion.Input{
		Run: s.run, Plot: s.plot, Metered: h.FromReadings, NoRunoff: h.Status == hydrograph.Dry,
		Rating: s.with.rating, DissolvedGL: s.run.DissolvedGL, Errors: s.dataset.Errors(), Level: level,
	}
	in.RunoffMin, in.URunoffMin, _ = h.RunoffMinutes()
	if h.VolumeML > 0 {
		in.UChangeRel = h.UChangeML / h.VolumeML
	}
	in.WaterKgM3 = s.waterKgM3()
	if h.Status == hydrograph.NoData {
		return in
	}
	in.Flow = make([]erosion.Flow, len(h.Intervals))
	for i := range h.Intervals {
		iv := &h.Intervals[i]
		in.Flow[i] = erosion.Flow{
			StartMin: iv.StartMin, EndMin: iv.EndMin, VolumeML: iv.VolumeML, UVolumeML: iv.UVolumeML,
			Collected: iv.Kind == hydrograph.Measured, LowerBound: iv.LowerBound,
		}
	}
	return in
}

// finish puts a plot's rows in the order of the tables and completes what no
// method knows: the word none for observed values, and the mark of a plot that
// was left out of the statistics.
func finish(rows []result.PlotRow) {
	slices.SortStableFunc(rows, func(a, b result.PlotRow) int {
		return cmp.Or(cmp.Compare(a.Metric, b.Metric), cmp.Compare(a.Method, b.Method))
	})
	for i := range rows {
		settle(&rows[i])
	}
}

// settle completes one row.
func settle(r *result.PlotRow) {
	if r.Censored == "" {
		r.Censored = result.Observed
	}
	if r.Excluded {
		r.Flags = slices.Clone(r.Flags)
		r.Flags.Add("excluded")
	}
}
