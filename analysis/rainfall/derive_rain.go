package rainfall

import (
	"fmt"
	"math"
	"strconv"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/experiment"
)

// Derived is how the rain of a plot came about.
type Derived struct{ Depth, Intensity, Minutes derivation.Node }

// Derive returns the derivation of the rain of a plot that ForPlot gave for the
// same arguments.
func (r *Rain) Derive(dataset string, run *experiment.Run, plot *experiment.Plot, calibrations []Calibration, errs experiment.ErrorModel) Derived {
	var d Derived
	d.Minutes = derivation.Read("minutes", run.RainMin, "min", -1, place(run.Place, "rain_duration"))
	d.Minutes.Note = "rain on until rain off"
	s := source{rain: r, dataset: dataset, run: run, plot: plot, errs: errs, minutes: d.Minutes}
	s.calibration, _ = choose(dataset, run, calibrations)
	d.Intensity = s.intensity()
	d.Intensity.Method = r.Source
	u := r.UShared
	if r.U > 0 {
		u = math.Hypot(r.U, r.UShared)
	}
	d.Intensity.U = &u
	d.Depth = derivation.Formula("rain_depth", r.DepthMM, "mm", "intensity * minutes / 60", d.Intensity, d.Minutes).With(math.Hypot(r.UDepth, r.UDepthShared))
	d.Depth.Method, d.Depth.Source = r.Source, "definition"
	return d
}

// source derives the intensity of a plot.
type source struct {
	rain        *Rain
	dataset     string
	run         *experiment.Run
	plot        *experiment.Plot
	errs        experiment.ErrorModel
	calibration *Calibration
	minutes     derivation.Node
}

func (s *source) intensity() derivation.Node {
	r := s.rain
	var n derivation.Node
	switch r.Source {
	case SourcePlot:
		n = derivation.Read("intensity", r.IntensityMMH, "mm/h", -1, place(s.plot.Place, "intensity"))
		n.Note = "stated for the plot, which goes before all other sources"
	case SourceRun:
		n = derivation.Read("intensity", r.IntensityMMH, "mm/h", -1, place(s.run.Place, "intensity"))
		n.Note = "stated for the run: no gauge and no catch cans tell more"
	case SourceGauge:
		n = s.gauged()
	default:
		n = s.caught()
	}
	if r.Source != SourceRun && s.run.IntensityMMH.OK {
		at := place(s.run.Place, "intensity")
		n.LeftOut = append(n.LeftOut, derivation.Omission{
			What: "intensity of the run, " + number(s.run.IntensityMMH.V) + " mm/h", Why: "a source that goes before it is there", From: &at,
		})
	}
	return n
}

// caught is the mean of the cans at the plot's position, or of all cans.
func (s *source) caught() derivation.Node {
	c := s.calibration
	position, found := c.At(s.plot.Position)
	if !found && c.Weights != nil {
		n := c.meanNode("intensity")
		n.Note = "catch cans of calibration " + c.ID + ", by the areas they stand for"
		return n
	}
	n := derivation.Of("intensity", s.rain.IntensityMMH, "mm/h", derivation.Mean)
	for i := range c.Cans {
		if !found || c.Cans[i].Position == position.Position {
			n.Inputs = append(n.Inputs, c.can(i, s.dataset))
		}
	}
	n.Note = "catch cans of calibration " + c.ID
	if found {
		n.Note += " at position " + position.Position
		if others := len(c.Cans) - position.Cans; others > 0 {
			n.LeftOut = append(n.LeftOut, derivation.Omission{What: strconv.Itoa(others) + " cans at other positions", Why: "the plot lies under position " + position.Position})
		}
	}
	return n
}

// can is the intensity at one can.
func (c *Calibration) can(i int, dataset string) derivation.Node {
	can := &c.Cans[i]
	at := place(can.Place, "depth")
	if c.Dataset != dataset {
		at.Dataset = c.Dataset
	}
	duration := at
	duration.Column = "duration"
	n := derivation.Formula("can", c.CatchMMH[i], "mm/h", "60 * depth / minutes",
		derivation.Read("depth", can.DepthMM, "mm", -1, at), derivation.Read("minutes", can.DurationMin, "min", -1, duration))
	if can.Position != "" {
		n.Note = "position " + can.Position
	}
	return n
}

// gauged is the mean of a logged rain, spread by the pattern of a calibration.
func (s *source) gauged() derivation.Node {
	series := rainSeries(s.plot.Series)
	own := series != nil
	if !own {
		series = rainSeries(s.run.Series)
	}
	logged := Rain{DurationMin: s.rain.DurationMin}
	logged.course(series)
	rates := derivation.ListOf("rate", "mm/h")
	lengths := derivation.ListOf("length", "min")
	for i, rate := range logged.RatesMMH {
		from, to := logged.EdgesMin[i], logged.EdgesMin[i+1]
		rates.Inputs = append(rates.Inputs, logged.rate(series, i, rate))
		lengths.Inputs = append(lengths.Inputs, derivation.Setting("length", to-from, "min", fmt.Sprintf("it holds from %s to %s min", number(from), number(to))))
	}
	mean := derivation.Formula("logged", logged.IntensityMMH, "mm/h", "dot(rate, length) / minutes", rates, lengths, s.minutes.Again("minutes"))
	mean.Note = "rain that was logged during the run"
	factor, found := PositionMean{}, false
	if s.calibration != nil {
		factor, found = s.calibration.At(s.plot.Position)
	}
	if own || !found || s.calibration.MeanMMH == 0 {
		return mean.Named("intensity")
	}
	c := s.calibration
	at, all := derivation.Of("at_position", factor.MeanMMH, "mm/h", derivation.Mean), c.meanNode("over_all")
	for i := range c.Cans {
		if c.Cans[i].Position == factor.Position {
			at.Inputs = append(at.Inputs, c.can(i, s.dataset))
		}
	}
	n := derivation.Formula("intensity", s.rain.IntensityMMH, "mm/h", "logged * at_position / over_all", mean, at, all)
	n.Note = "spread by the pattern of calibration " + c.ID
	return n
}

// rate is one stretch of logged rain.
func (r *Rain) rate(s *experiment.Series, i int, rate float64) derivation.Node {
	at := place(s.Place, "value")
	t, v := binMeans(s, r.DurationMin)
	reading := func(k int) derivation.Node {
		n := derivation.Read("reading", v[k], "mm/h", -1, at)
		n.Note = "mean of the readings at " + number(t[k]) + " min; the row is that of the channel's first"
		return n
	}
	if s.Channel == experiment.RainRate {
		return reading(i).Named("rate")
	}
	for i > 0 && v[i+1] < v[i] {
		i-- // the gauge was emptied: the rate before it goes on
	}
	before, after := reading(i).Named("before"), reading(i+1).Named("after")
	before.Unit, after.Unit = "mm", "mm"
	if v[i+1] < v[i] {
		return derivation.Setting("rate", rate, "mm/h", "the gauge was emptied before any rain was read")
	}
	return derivation.Formula("rate", rate, "mm/h", "60 * (after - before) / (to - from)", after, before,
		derivation.Setting("to", t[i+1], "min", "mean time of the readings"), derivation.Setting("from", t[i], "min", "mean time of the readings"))
}

func place(p experiment.Place, column string) derivation.Place {
	return derivation.Place{File: p.File, Row: p.Row, Column: column}
}

func number(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }
