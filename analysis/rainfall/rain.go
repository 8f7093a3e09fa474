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
	// run have in common, U the one of this plot alone, with DFShared and DF degrees of
	// freedom (0: known, not estimated). They combine in quadrature. mm/h.
	UShared, DFShared, U, DF float64
	// UBetween is the part of UShared that comes from what the simulator does not
	// repeat, with DFBetween degrees of freedom.
	UBetween, DFBetween float64
	DurationMin         float64
	DepthMM             float64
	// UDepthShared and UDepth are the like of the depth, mm; the common part, with
	// DFDepthShared degrees of freedom, holds the stopwatch as well.
	UDepthShared, DFDepthShared, UDepth float64
	Source                              string // one of the Source constants
	Calibration                         string // identifier of the calibration that was used, or ""
	// EdgesMin and RatesMMH are the course of a rain that was measured during
	// the run, len(EdgesMin) = len(RatesMMH) + 1; both nil where the rain is taken
	// as constant. Its mean is IntensityMMH.
	EdgesMin, RatesMMH []float64
	Drops              *DropEnergy // nil: the simulator's drops were not measured
	Flags              result.Flags

	uStated    float64 // UShared without UBetween
	uSwitchMin float64 // of rain on, and of rain off
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
// common to the run; that of a calibration is the scatter of its own cans, and what
// the simulator does not repeat from one calibration to the next.
// Source: precedence by the data dictionary.
func ForPlot(dataset string, run *experiment.Run, plot *experiment.Plot, calibrations []Calibration, errs experiment.ErrorModel) (Rain, bool) {
	r := Rain{DurationMin: run.RainMin, uSwitchMin: errs.BottleChange}
	if plot.IntensityMMH.OK {
		r.state(plot.IntensityMMH.V, SourcePlot, errs)
		return r.withDepth(), true
	}
	cal, words := choose(dataset, run, calibrations)
	if r.fromGauge(run, plot, cal, errs) {
		return r.withDepth(), true
	}
	if r.fromCalibration(plot, cal, words, run.IntensityMMH.OK, errs) {
		r.repeat(RepeatabilityOf(cal, calibrations))
		return r.withDepth(), true
	}
	if run.IntensityMMH.OK {
		r.state(run.IntensityMMH.V, SourceRun, errs)
		return r.withDepth(), true
	}
	return Rain{}, false
}

func (r *Rain) state(intensityMMH float64, source string, errs experiment.ErrorModel) {
	r.IntensityMMH = intensityMMH
	r.uStated = errs.IntensityRel * intensityMMH
	r.Source = source
}

// withDepth adds the depth.
//
//	P = i T / 60,  (u_P/P)^2 = (u_i/i)^2 + (u_T/T)^2,  u_T = sqrt(2) u_switch
//
// Units: i in mm/h, T in min, P in mm. The stopwatch error of rain on and rain
// off is taken as that of a bottle change, and is common to the run. The common part of the
// intensity is what was stated and what the simulator does not repeat.
func (r Rain) withDepth() Rain {
	h := r.DurationMin / 60
	r.DepthMM = r.IntensityMMH * h
	r.UDepth = r.U * h
	r.UShared = gum.Combined(r.uStated, r.UBetween)
	r.UDepthShared = gum.Combined(r.UShared*h, r.IntensityMMH*math.Sqrt2*r.uSwitchMin/60)
	r.DFShared = gum.EffectiveDF(r.UShared, r.UBetween, r.DFBetween)
	r.DFDepthShared = gum.EffectiveDF(r.UDepthShared, r.UBetween*h, r.DFBetween)
	return r
}

// UIntensity returns the standard uncertainty of the intensity at the plot, mm/h,
// and its effective degrees of freedom (0: known). Source: gum.WelchSatterthwaite.
func (r *Rain) UIntensity() (u, df float64) {
	u = gum.Combined(r.UShared, r.U)
	return u, gum.WelchSatterthwaite(u, []float64{r.UShared, r.U}, []float64{r.DFShared, r.DF})
}
