package infiltration

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"sheetwash/analysis/internal/fit"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// The final window is the last quarter of the rain, and longer where that does
// not hold three intervals.
const (
	windowShare = 0.25
	windowLeast = 3
)

// finalWindow returns the mean of f over the final window.
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
//
// Fewer than three intervals bear no test, and a bottle that overflowed in the
// window says that the rate was at most its own: the value is then an upper
// bound, left-censored.
func (in *Input) finalWindow(u *usable) window {
	means := u.means
	first := len(means) - 1
	for first > 0 && (len(means)-first < windowLeast || means[first-1].Start >= in.RainMin*(1-windowShare)-endSlackMin) {
		first--
	}
	l := lineFit(means[first:])
	w := window{startMin: means[first].Start}
	z, scale := in.z(), l.scale()
	low, high := l.mean-z*l.uMean*scale, l.mean+z*l.uMean*scale
	steady := false
	if l.n >= windowLeast {
		span := in.RainMin - w.startMin
		tolerance := in.Tolerance.at(l.mean, in.IntensityMMH)
		half := distuv.UnitNormal.Quantile(in.Level) * l.uSlope * scale * span
		steady = l.slope*span-half >= -tolerance && l.slope*span+half <= tolerance
		w.rises = l.slope*span-half > tolerance
		toEnd := in.RainMin - l.centre
		most := z * l.uSlope * scale
		low -= math.Max(0, (most-l.slope)*toEnd)
		high += math.Max(0, (most+l.slope)*toEnd)
	}
	w.estimate = in.finish(l.mean, l.uMean*scale, low, high)
	w.estimate.N = l.n
	if !steady {
		w.estimate.Flags.Add(FlagNotSteady)
	}
	if scale > 1 {
		w.estimate.Flags.Add(FlagScatter)
	}
	if l.n < windowLeast {
		w.estimate.Flags.Add(FlagNotIdentifiable)
		atMost(&w.estimate)
	}
	for _, b := range u.atMost {
		if b.End > w.startMin {
			if b.Value < w.estimate.Value.V {
				w.estimate.Value = quantity.Some(b.Value)
			}
			atMost(&w.estimate)
		}
	}
	return w
}

// atMost turns an estimate into an upper bound.
func atMost(e *result.Estimate) {
	e.Low, e.Censored = quantity.None(), result.Left
	e.Flags.Add(FlagUpperBound)
}

// window is the answer of the final window.
type window struct {
	estimate result.Estimate
	startMin float64
	rises    bool // the rate rises by more than the tolerance
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
