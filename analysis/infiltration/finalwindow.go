package infiltration

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"sheetwash/analysis/internal/fit"
	"sheetwash/analysis/result"
)

// The final window is the last quarter of the rain, and longer where that does
// not hold three intervals.
const (
	windowShare = 0.25
	windowLeast = 3
)

// finalWindow returns the mean of f over the final window and where the window
// starts.
//
// Steadiness is shown by an equivalence test (two one-sided tests, Schuirmann
// 1987, J. Pharmacokin. Biopharm. 15:657-680): a line is fitted to the window
// by least squares weighted with the known errors, and the rate is steady only
// if the confidence limits of its drift over the window (at 1 - 2 alpha, alpha
// = 1 - level) lie within the tolerance. The errors are known and not estimated
// from the scatter, so that three bottles suffice; a larger scatter widens them
// by sqrt(chi2/df). Half of the drift that the data do not exclude is part of
// the interval on its side, since the end of rain lies half a window from the
// middle.
func (in *Input) finalWindow(u *usable) (result.Estimate, float64) {
	means := u.means
	first := len(means) - 1
	for first > 0 && (len(means)-first < windowLeast || means[first-1].Start >= in.RainMin*(1-windowShare)-endSlackMin) {
		first--
	}
	window := means[first:]
	line := lineFit(window)
	from := window[0].Start
	span := in.RainMin - from
	scale := line.scale()
	z := in.z()
	mean := line.mean
	uMean := line.uMean * scale
	low, high := mean-z*uMean, mean+z*uMean
	steady := false
	if len(window) >= windowLeast {
		alpha := 1 - in.Level
		h := distuv.UnitNormal.Quantile(1-alpha) * line.uSlope * scale * span
		drift := line.slope * span
		tol := in.Tolerance.at(mean, in.IntensityMMH)
		steady = drift-h >= -tol && drift+h <= tol
		toEnd := in.RainMin - line.centre
		hz := z * line.uSlope * scale * toEnd
		low -= math.Max(0, hz-line.slope*toEnd)
		high += math.Max(0, hz+line.slope*toEnd)
	}
	e := in.finish(mean, uMean, low, high)
	e.N = len(window)
	if !steady {
		e.Flags.Add(FlagNotSteady)
	}
	if len(window) < windowLeast {
		e.Flags.Add(FlagNotIdentifiable)
	}
	if scale > 1 {
		e.Flags.Add(FlagScatter)
	}
	return e, from
}

// line is a weighted straight line through the middles of intervals.
type line struct {
	centre, mean, uMean float64 // weighted mean time, value there
	slope, uSlope       float64
	chi2                float64
	n                   int
}

func lineFit(data []fit.Mean) line {
	var l line
	l.n = len(data)
	var w, wt, wy float64
	for _, m := range data {
		g := 1 / (m.U * m.U)
		w += g
		wt += g * (m.Start + m.End) / 2
		wy += g * m.Value
	}
	l.centre, l.mean, l.uMean = wt/w, wy/w, 1/math.Sqrt(w)
	var tt, ty float64
	for _, m := range data {
		g := 1 / (m.U * m.U)
		t := (m.Start+m.End)/2 - l.centre
		tt += g * t * t
		ty += g * t * (m.Value - l.mean)
	}
	if tt > 0 {
		l.slope, l.uSlope = ty/tt, 1/math.Sqrt(tt)
	}
	for _, m := range data {
		r := (m.Value - l.mean - l.slope*((m.Start+m.End)/2-l.centre)) / m.U
		l.chi2 += r * r
	}
	return l
}

// scale is the factor by which scatter larger than the errors widens them.
func (l line) scale() float64 {
	if l.n < 3 {
		return 1
	}
	return math.Sqrt(math.Max(1, l.chi2/float64(l.n-2)))
}
