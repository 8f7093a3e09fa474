package rainfall

import (
	"math"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/result"
)

// The sources of a plot's rain, in their order of precedence.
const (
	SourcePlot        = "plots.intensity"
	SourceGauge       = "gauge"
	SourceCalibration = "calibration"
	SourceRun         = "runs.intensity"
)

// Rain is the rain of one plot under one run.
type Rain struct {
	IntensityMMH float64 // mean from rain on to rain off
	// UShared is the standard uncertainty of the intensity that all plots of the
	// run have in common, U the one of this plot alone, with DF degrees of
	// freedom (0: known, not estimated). They combine in quadrature. mm/h.
	UShared, U, DF float64
	DurationMin    float64
	DepthMM        float64
	// UDepthShared and UDepth are the like of the depth, mm; the common part
	// holds the stopwatch as well.
	UDepthShared, UDepth float64
	Source               string // one of the Source constants
	Calibration          string // identifier of the calibration that was used, or ""
	// EdgesMin and RatesMMH are the course of a rain that was measured during
	// the run, len(EdgesMin) = len(RatesMMH) + 1; both nil where the rain is taken
	// as constant. Its mean is IntensityMMH.
	EdgesMin, RatesMMH []float64
	Drops              *DropEnergy // nil: the simulator's drops were not measured
	Flags              result.Flags
}

// ForPlot returns the rain of a plot, and false where nothing tells its
// intensity. The first of these that exists is taken, and named in Source:
//
//  1. plots.intensity;
//  2. rain measured on the plot, or during the run and spread by the pattern of
//     the calibration (position mean over spatial mean);
//  3. the mean of the calibration at the plot's position. A calibration that
//     names no positions stands for all of them (flag no_position);
//  4. runs.intensity;
//  5. the spatial mean of a calibration that has other positions only (flag
//     position_not_calibrated).
//
// The calibration is the newest of the run's simulator that is not after the
// run, whichever dataset of the season it is in: calibrations holds them all.
//
// The error of a stated or gauge-measured intensity is errs.IntensityRel and
// common to the run; that of a calibration is the scatter of its own cans.
// Source: precedence by the data dictionary.
func ForPlot(dataset string, run *experiment.Run, plot *experiment.Plot, calibrations []Calibration, errs experiment.ErrorModel) (Rain, bool) {
	r := Rain{DurationMin: run.RainMin}
	if plot.IntensityMMH.OK {
		r.state(plot.IntensityMMH.V, SourcePlot, errs)
		return r.withDepth(errs), true
	}
	cal, words := choose(dataset, run, calibrations)
	if r.fromGauge(run, plot, cal, errs) || r.fromCalibration(plot, cal, words, run.IntensityMMH.OK, errs) {
		return r.withDepth(errs), true
	}
	if run.IntensityMMH.OK {
		r.state(run.IntensityMMH.V, SourceRun, errs)
		return r.withDepth(errs), true
	}
	return Rain{}, false
}

func (r *Rain) state(intensityMMH float64, source string, errs experiment.ErrorModel) {
	r.IntensityMMH = intensityMMH
	r.UShared = errs.IntensityRel * intensityMMH
	r.Source = source
}

// withDepth adds the depth.
//
//	P = i T / 60,  (u_P/P)^2 = (u_i/i)^2 + (u_T/T)^2,  u_T = sqrt(2) u_switch
//
// Units: i in mm/h, T in min, P in mm. The stopwatch error of rain on and rain
// off is taken as that of a bottle change, and is common to the run.
func (r Rain) withDepth(errs experiment.ErrorModel) Rain {
	h := r.DurationMin / 60
	r.DepthMM = r.IntensityMMH * h
	r.UDepth = r.U * h
	r.UDepthShared = gum.Combined(r.UShared*h, r.IntensityMMH*math.Sqrt2*errs.BottleChange/60)
	return r
}
