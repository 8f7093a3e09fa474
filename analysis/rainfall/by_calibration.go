package rainfall

import (
	"math"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/result"
)

// fromCalibration takes the mean of the cans at the plot's position.
//
//	u(i) = s / sqrt(n)
//
// with n cans at the position and s their scatter about the means of their
// positions, pooled over the positions of the calibration; it belongs to the
// plot. Where no position has two cans the calibration tells no error of its own:
// errs.IntensityRel, common to the run, stands in (flag intensity_error_assumed).
// The spatial mean stands in where there are no positions: then s / sqrt(n) over
// all cans is common to the run, and s is the plot's own, since a plot is under
// one part of the pattern.
// Source: type A evaluation, [GUM2008] 4.2.3.
func (r *Rain) fromCalibration(plot *experiment.Plot, c *Calibration, words result.Flags, stated bool, errs experiment.ErrorModel) bool {
	if c == nil {
		return false
	}
	p, found := c.At(plot.Position)
	if !found && len(c.Positions) > 0 && stated {
		return false
	}
	n := c.effective()
	r.Source, r.Calibration = SourceCalibration, c.ID
	r.Flags.Add(words...)
	if found {
		r.IntensityMMH = p.MeanMMH
		r.patternError(c, p, errs)
		return true
	}
	r.IntensityMMH = c.MeanMMH
	r.Flags.Add("no_position")
	if len(c.Positions) > 0 {
		r.Flags.Add("position_not_calibrated")
	}
	if n < 2 {
		r.uStated = errs.IntensityRel * r.IntensityMMH
		r.Flags.Add("intensity_error_assumed")
		return true
	}
	r.U, r.DF, r.uStated = c.SDMMH, n-1, c.SDMMH/math.Sqrt(n)
	return true
}

// patternError adds the error of the mean of a position.
func (r *Rain) patternError(c *Calibration, p PositionMean, errs experiment.ErrorModel) {
	if c.WithinDF == 0 {
		r.uStated = math.Hypot(r.uStated, errs.IntensityRel*r.IntensityMMH)
		r.Flags.Add("intensity_error_assumed")
		return
	}
	r.U, r.DF = c.WithinSDMMH/math.Sqrt(float64(p.Cans)), float64(c.WithinDF)
	if p.MeanMMH > 0 {
		r.U *= r.IntensityMMH / p.MeanMMH
	}
}

// choose returns the newest calibration of the run's simulator that is not
// after the run, or nil. Simulators match by name; where the run or the
// calibration names none, calibrations of the run's own dataset match. One
// without a date is older than any with one (flag calibration_undated); for a
// run without a stamp the newest of all is taken (flag run_undated). Of equally
// new ones the last in order wins, one of the run's own dataset first (flag
// calibration_ambiguous where they differ).
func choose(dataset string, run *experiment.Run, calibrations []Calibration) (*Calibration, result.Flags) {
	var best *Calibration
	ties := 0
	for i := range calibrations {
		c := &calibrations[i]
		own := c.Dataset == dataset
		if c.Simulator != run.Simulator && !(own && (c.Simulator == "" || run.Simulator == "")) {
			continue
		}
		if run.Simulator == "" && !own {
			continue
		}
		if !run.Started.IsZero() && c.Date.After(run.Started) {
			continue
		}
		switch {
		case best == nil || c.Date.After(best.Date):
			best, ties = c, 0
		case c.Date.Equal(best.Date):
			ties++
			if own || best.Dataset != dataset {
				best = c
			}
		}
	}
	var words result.Flags
	if best == nil {
		return nil, nil
	}
	if ties > 0 {
		words.Add("calibration_ambiguous")
	}
	switch {
	case best.Date.IsZero():
		words.Add("calibration_undated")
	case run.Started.IsZero():
		words.Add("run_undated")
	}
	return best, words
}
