package hydrograph

import (
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/gonum/stat/distuv"

	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// The methods of depths and rates.
const (
	MethodBottles   = "bottles"
	MethodReadings  = "readings"
	MethodRainLess  = "rain_minus_runoff"
	MethodOverRain  = "runoff_over_rain"
	MethodLargest   = "largest_interval"
	MethodLastBlock = "last_intervals"
)

// Source returns MethodReadings or MethodBottles.
func (h *Hydrograph) Source() string {
	if h.FromReadings {
		return MethodReadings
	}
	return MethodBottles
}

// Depth returns the depth of the stream through its recession, mm.
//
//	Q = V / (1000 A),  (u_Q/Q)^2 = (u_V/V)^2 + (u_A/A)^2
//
// Units: V in mL, A in m2. Bottles whose volume is a lower bound make it
// right-censored. The share of the volume that was interpolated or held is in
// the flags. Source: definition; [GUM2008] 5.1.6.
func (h *Hydrograph) Depth() result.Estimate {
	if h.Status == NoData {
		return h.none()
	}
	q := h.depthMM(h.VolumeML)
	u := gum.Combined(h.depthMM(h.UVolumeML), q*h.UAreaRel)
	e := h.estimate(q, u, 0, gum.NonNegative())
	h.finish(&e)
	return e
}

// none is the estimate of a stream without data: its flags say why.
func (h *Hydrograph) none() result.Estimate { return result.Estimate{Flags: slices.Clip(h.Flags)} }

// finish adds to an estimate of the whole stream the number of readings, the
// side that is open, and the flags with the shares that were not caught.
func (h *Hydrograph) finish(e *result.Estimate) {
	e.N = h.NMeasured
	if h.LowerBound {
		e.Censored, e.High = result.Right, quantity.None()
	}
	e.Flags = append(e.Flags, h.Flags...)
	if h.VolumeML > 0 && h.Flags.Has("gap") {
		e.Flags.Add(share("interpolated_share", h.InterpolatedML/h.VolumeML), share("held_share", h.HeldML/h.VolumeML))
	}
}

// share writes a share as a flag, to three digits; "" for none.
func share(word string, part float64) string {
	if part < 0.0005 {
		return ""
	}
	return word + "=" + strconv.FormatFloat(part, 'f', 3, 64)
}

// Coefficient returns the runoff coefficient.
//
//	C = Q / P,  (u_C/C)^2 = (u_Q/Q)^2 + (u_P/P)^2
//
// with the runoff through its recession over the rain of the plot. The rain is
// known as a depth, from cans or gauges, so the error of the area does not
// cancel: it is in Q alone. The error of P that the run shares is the shared
// part. Above 1 the value stays and is flagged above_one: area, intensity or
// funnel are in error. Its interval narrows towards 0 and 1 (see gum.Within)
// while the value lies between. Undefined for P = 0 (flag no_rain).
// Source: definition; [GUM2008] 5.1.6.
func (h *Hydrograph) Coefficient() result.Estimate {
	if h.Status == NoData {
		return h.none()
	}
	p := h.rain.DepthMM
	if !(p > 0) {
		return missing("no_rain")
	}
	q := h.depthMM(h.VolumeML)
	c := q / p
	shared, own := c*h.rain.UDepthShared/p, c*h.rain.UDepth/p
	u := gum.Combined(h.depthMM(h.UVolumeML)/p, c*h.UAreaRel, own, shared)
	e := h.estimate(c, u, h.rain.df(u, c/p), gum.Share())
	e.UShared = quantity.Some(shared)
	h.finish(&e)
	if c > 1 {
		e.Flags.Add("above_one")
	}
	return e
}

// InfiltrationDepth returns the apparent infiltration of the run, mm, with what
// stays on the surface.
//
//	F = P - Q,  u_F^2 = u_P^2 + u_Q^2
//
// Its sign is kept: slightly below zero is noise (flag negative). Where the
// runoff is a lower bound it is an upper bound. Source: water balance without
// storage; [GUM2008] 5.1.2.
func (h *Hydrograph) InfiltrationDepth() result.Estimate {
	if h.Status == NoData {
		return h.none()
	}
	q := h.depthMM(h.VolumeML)
	f := h.rain.DepthMM - q
	u := gum.Combined(h.depthMM(h.UVolumeML), q*h.UAreaRel, h.rain.UDepth, h.rain.UDepthShared)
	e := h.estimate(f, u, h.rain.df(u, 1), gum.Unbounded())
	e.UShared = quantity.Some(h.rain.UDepthShared)
	h.finish(&e)
	if h.LowerBound {
		e.Censored, e.Low, e.High = result.Left, quantity.None(), quantity.Some(f+gum.Coverage(h.set.Level, 0)*u)
	}
	if f < 0 {
		e.Flags.Add("negative")
	}
	return e
}

// FinalRate returns the mean rate of the last measured intervals that end by the
// end of rain, mm/h: those that begin no earlier than FinalWindowMin (but for the error of noted times) before the
// end of the last one, and that one at least.
//
//	q = sum q_i d_i / sum d_i,  u_q^2 = sum (u_i d_i)^2 / (sum d_i)^2 + u_c^2 + (q u_A/A)^2
//
// with u_c what all bottle changes miss alike, see uChanges.
// Without one it has no value (flag no_interval_by_rain_end). Source: definition.
func (h *Hydrograph) FinalRate() result.Estimate {
	if h.Status == NoData {
		return h.none()
	}
	if h.Status == Dry && !h.FromReadings {
		return h.zeroRate()
	}
	var minutes, volume, squares float64
	n, lower := 0, false
	first, last := h.finalIntervals()
	for i := first; i <= last; i++ {
		iv := &h.Intervals[i]
		if iv.Kind != Measured {
			continue
		}
		d := iv.Minutes()
		n++
		minutes, volume = minutes+d, volume+iv.RateMMH*d
		squares += iv.URateMMH * iv.URateMMH * d * d
		lower = lower || iv.LowerBound
	}
	if n == 0 {
		return missing("no_interval_by_rain_end")
	}
	q := volume / minutes
	e := h.estimate(q, gum.Combined(math.Sqrt(squares)/minutes, h.uChanges(first, last), q*h.UAreaRel), 0, gum.NonNegative())
	e.N = n
	if h.Status == Dry {
		e.Flags.Add("no_runoff")
	}
	h.bound(&e, lower)
	if h.Flags.Has("collection_ended_early") {
		e.Flags.Add("collection_ended_early")
	}
	return e
}

// finalIntervals returns the first and the last of the measured intervals of
// FinalRate; 0, -1 where there is none.
func (h *Hydrograph) finalIntervals() (first, last int) {
	first, last = 0, -1
	for i := len(h.Intervals) - 1; i >= 0; i-- {
		iv := &h.Intervals[i]
		switch {
		case iv.Kind != Measured || !h.withinRain(iv):
		case last < 0:
			first, last = i, i
		case iv.StartMin < h.Intervals[last].EndMin-h.set.FinalWindowMin-h.slackMin():
			return first, last
		default:
			first = i
		}
	}
	return first, last
}

// uChanges returns the standard uncertainty, mm/h, of the mean rate over the measured ones of some
// intervals from the flow that is missed at bottle changes: every change, at the mean rate of
// both bottles, misses the same time, so that it does not average out over bottles (as in the depth).
func (h *Hydrograph) uChanges(first, last int) float64 {
	if h.FromReadings {
		return 0
	}
	var changes, minutes float64
	for i := first; i <= last; i++ {
		iv := &h.Intervals[i]
		if iv.Kind != Measured {
			continue
		}
		minutes += iv.Minutes()
		if i == 0 {
			continue
		}
		if before := &h.Intervals[i-1]; before.Kind == Measured && before.VolumeML > 0 && iv.VolumeML > 0 && iv.StartMin <= before.EndMin+sameMin {
			changes += (iv.RateMMH + before.RateMMH) / 2
		}
	}
	if !(minutes > 0) {
		return 0
	}
	return changes * h.errs.BottleChange / minutes
}

// UChangeRel returns the relative standard uncertainty of late rates from the flow that is
// missed at bottle changes, which all of them share: that of FinalRate.
func (h *Hydrograph) UChangeRel() float64 {
	q := h.FinalRate().Value
	first, last := h.finalIntervals()
	if last < 0 || !q.OK || !(q.V > 0) {
		return 0
	}
	return h.uChanges(first, last) / q.V
}

// FinalWindow returns the time that FinalRate is the mean over, min: 0, 0, false
// where there is none.
func (h *Hydrograph) FinalWindow() (startMin, endMin float64, ok bool) {
	first, last := h.finalIntervals()
	if last < 0 {
		return 0, 0, false
	}
	return h.Intervals[first].StartMin, h.Intervals[last].EndMin, true
}

// PeakRate returns the largest mean rate over one measured interval of at least
// LeastPeakMin, mm/h. It depends on the length of the interval, which is in the
// flags: compare only equal lengths. Where every interval is shorter it has no
// value (flag intervals_too_short). Source: definition.
//
// The largest of m rates that their errors do not tell apart is too large by choice, and hardly
// ever too small: its own part of the lower limit is that of the largest of m normal errors, the
// quantile at level^(1/m), at least the usual one (Tippett 1925, Biometrika 17:364-387).
func (h *Hydrograph) PeakRate() result.Estimate {
	if h.Status == NoData {
		return h.none()
	}
	if h.Status == Dry {
		return h.zeroRate()
	}
	at := h.peak()
	if at < 0 {
		return missing("intervals_too_short")
	}
	peak := &h.Intervals[at]
	shared := gum.Combined(h.uChanges(at, at), peak.RateMMH*h.UAreaRel)
	e := h.estimate(peak.RateMMH, gum.Combined(peak.URateMMH, shared), 0, gum.NonNegative())
	e.N = 1
	if k := gum.Coverage(h.set.Level, 0); e.Low.OK {
		m := h.contenders(peak, k)
		own := max(k, distuv.UnitNormal.Quantile(math.Pow(h.set.Level, 1/float64(m))))
		e.Low = quantity.Some(max(0, peak.RateMMH-gum.Combined(own*peak.URateMMH, k*shared)))
	}
	h.bound(&e, h.peakIsBound())
	e.Flags.Add("interval_min=" + strconv.FormatFloat(math.Round(peak.Minutes()*1000)/1000, 'f', -1, 64))
	return e
}

// contenders returns how many intervals that count have rates that the errors do not tell from the
// peak's, itself among them.
func (h *Hydrograph) contenders(peak *Interval, k float64) int {
	m := 0
	for i := range h.Intervals {
		if iv := &h.Intervals[i]; h.counts(iv) && peak.RateMMH-iv.RateMMH <= k*math.Hypot(peak.URateMMH, iv.URateMMH) {
			m++
		}
	}
	return m
}

// counts reports whether an interval counts for the peak.
func (h *Hydrograph) counts(iv *Interval) bool {
	return iv.Kind == Measured && iv.Minutes() >= h.set.LeastPeakMin-sameMin
}

// peak returns the index of the interval of the largest rate that counts, -1 where none
// does.
func (h *Hydrograph) peak() int {
	peak := -1
	for i := range h.Intervals {
		if iv := &h.Intervals[i]; h.counts(iv) && (peak < 0 || iv.RateMMH > h.Intervals[peak].RateMMH) {
			peak = i
		}
	}
	return peak
}

// peakIsBound reports whether a volume that counts is a lower bound.
func (h *Hydrograph) peakIsBound() bool {
	for i := range h.Intervals {
		if iv := &h.Intervals[i]; iv.LowerBound && h.counts(iv) {
			return true
		}
	}
	return false
}

// zeroRate is the rate of a plot that never ran off.
func (h *Hydrograph) zeroRate() result.Estimate {
	e := h.estimate(0, 0, 0, gum.NonNegative())
	e.N = h.NMeasured
	e.Flags.Add("no_runoff")
	return e
}

func (h *Hydrograph) bound(e *result.Estimate, lower bool) {
	if lower {
		e.Censored, e.High = result.Right, quantity.None()
		e.Flags.Add("lower_bound")
	}
}

// RunoffMinutes returns how long the stream flowed, min: from the time to runoff
// of the headline method to the end of the last interval with water, through the
// recession as far as it was caught; with its standard uncertainty. A plot that
// never ran off has none: 0, 0, false.
func (h *Hydrograph) RunoffMinutes() (minutes, u float64, ok bool) {
	if h.Status != Flowing {
		return 0, 0, false
	}
	start := h.TimeToRunoff(h.HeadlineMethod())
	if !start.Value.OK || start.Censored == result.Right {
		start = result.Estimate{Value: quantity.Some(h.flowStart())}
	}
	for i := len(h.Intervals) - 1; i >= 0; i-- {
		if h.flows(i) {
			minutes = h.Intervals[i].EndMin - start.Value.V
			break
		}
	}
	return minutes, math.Hypot(start.U.Or(0), h.errs.BottleChange), minutes > 0
}

// flowStart is the start of the first interval with water.
func (h *Hydrograph) flowStart() float64 {
	for i := range h.Intervals {
		if h.flows(i) {
			return h.Intervals[i].StartMin
		}
	}
	return 0
}

// flows reports whether an interval holds water: any in a bottle, more than its
// error between readings.
func (h *Hydrograph) flows(i int) bool {
	iv := &h.Intervals[i]
	return iv.VolumeML > 0 && (!h.FromReadings || iv.RateMMH > 2*iv.URateMMH)
}

// Caught returns the depth of the stream with its standard uncertainty without the area's
// part, mm, for balances in which the area is common to several streams. It reports false
// where nothing is known of the stream.
func (h *Hydrograph) Caught() (depthMM, u float64, ok bool) {
	if h.Status == NoData {
		return 0, 0, false
	}
	return h.depthMM(h.VolumeML), h.depthMM(h.UVolumeML), true
}
