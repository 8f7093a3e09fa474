package hydrograph

import (
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// The methods of the time to runoff. They differ by minutes and are never mixed
// in one comparison.
const (
	MethodObserved         = "observed"
	MethodFirstBottle      = "first_bottle"
	MethodThreshold        = "threshold"
	MethodBackExtrapolated = "back_extrapolated"
)

// HeadlineMethod returns the method whose time to runoff is the plot's: observed
// where the onset was noted (or that there was none), else first_bottle, and
// threshold for a plot that has readings and no bottles.
func (h *Hydrograph) HeadlineMethod() string {
	switch {
	case h.plot.Onset != experiment.OnsetNotNoted:
		return MethodObserved
	case h.first.read == 0 && h.FromReadings:
		return MethodThreshold
	default:
		return MethodFirstBottle
	}
}

// TimeToRunoff returns the time from the start of rain to runoff by one of the
// four methods, min. Without runoff it is the end of rain, right-censored.
// An unknown method has no value (flag unknown_method).
func (h *Hydrograph) TimeToRunoff(method string) result.Estimate {
	switch method {
	case MethodObserved:
		return h.observed()
	case MethodFirstBottle:
		return h.firstBottle()
	case MethodThreshold:
		return h.threshold()
	case MethodBackExtrapolated:
		return h.backExtrapolated()
	}
	return missing("unknown_method")
}

// observed is the first sustained runoff as it was noted, with the standard
// uncertainty of an observed onset. Noted after the end of rain, or as none, it
// is right-censored at the end of rain.
func (h *Hydrograph) observed() result.Estimate {
	end := h.rain.DurationMin
	switch {
	case h.plot.Onset == experiment.OnsetNotNoted:
		return missing("not_noted")
	case h.plot.Onset == experiment.OnsetNone && h.Flags.Has("water_without_onset"):
		return censored(end, 1, "no_runoff", "water_without_onset")
	case h.plot.Onset == experiment.OnsetNone:
		return censored(end, 1, "no_runoff")
	case h.plot.OnsetMin > end+sameMin:
		return censored(end, 1, "onset_after_rain")
	}
	e := h.estimate(h.plot.OnsetMin, h.errs.OnsetMin, 0, gum.NonNegative())
	e.N = 1
	if h.Flags.Has("water_before_onset") {
		e.Flags.Add("water_before_onset")
	}
	return e
}

// firstBottle is known to lie between the end of the last dry bottle before the
// first that holds water (or the start of rain) and the end of that one:
// interval-censored, with the middle as value.
//
//	t = (t_dry + t_wet) / 2,  u = (t_wet - t_dry) / sqrt(12)
//
// A first bottle that holds water and is taken to have been put up when flow
// began (flag start_assumed) gives the middle of its own time as value. Where all
// bottles are dry it is right-censored at the end of rain, or at the
// end of the last bottle where that is earlier.
// Source: definition; rectangular distribution [GUM2008] 4.3.7.
func (h *Hydrograph) firstBottle() result.Estimate {
	f, end := h.first, h.rain.DurationMin
	switch {
	case f.bottles == 0:
		return missing("no_bottles")
	case f.wet && f.startMin >= end-h.slackMin():
		return censored(end, f.bottles, "no_runoff", "runoff_after_rain")
	case f.wet && h.Flags.Has("start_assumed"):
		e := between(f.lowMin, f.highMin, (f.startMin+f.highMin)/2, f.bottles)
		e.Flags.Add("start_assumed")
		return e
	case f.wet:
		return between(f.lowMin, f.highMin, (f.lowMin+f.highMin)/2, f.bottles)
	case h.Status == NoData && h.NMeasured > 0:
		return h.unknownStart()
	case f.dryEndMin < end-h.slackMin():
		return censored(f.dryEndMin, f.bottles, "no_runoff", "collection_ended_early")
	}
	return censored(end, f.bottles, "no_runoff")
}

// threshold is the time at which the runoff rate passes a share of the
// intensity, 5 % unless set.
//
// The rate runs straight between the middles of intervals, and from zero at the
// end of one without flow. A mean rate below the threshold has the crossing
// after its start, one above has it before its end: interval-censored by these
// (with moving slopes of readings: by half their window on either side, and the
// rate has to stay above for one window).
// Source: definition; linear interpolation.
func (h *Hydrograph) threshold() result.Estimate {
	limit := h.set.ThresholdShare * h.rain.IntensityMMH
	if h.Status == NoData || h.NMeasured == 0 {
		return h.unknownStart()
	}
	if !(limit > 0) {
		return missing("no_rain")
	}
	if len(h.fine) > 0 {
		return h.thresholdOfReadings(limit)
	}
	for i := range h.Intervals {
		iv := &h.Intervals[i]
		if iv.RateMMH < limit {
			continue
		}
		if iv.StartMin >= h.rain.DurationMin-h.slackMin() {
			break
		}
		return h.crossing(i, limit)
	}
	if h.Status == Dry {
		return h.dryStart("below_threshold")
	}
	return censored(h.rain.DurationMin, h.NMeasured, "below_threshold")
}

// dryStart is the start of runoff of a stream that was dry: later than the end
// of rain, or than the end of the last bottle where that is earlier and nobody
// noted that there was none.
func (h *Hydrograph) dryStart(word string) result.Estimate {
	end := h.rain.DurationMin
	if h.plot.Onset != experiment.OnsetNone && h.first.bottles > 0 && !h.FromReadings && h.first.dryEndMin < end-h.slackMin() {
		return censored(h.first.dryEndMin, h.first.bottles, word, "collection_ended_early")
	}
	return censored(end, h.NMeasured, word)
}

// unknownStart is the start of runoff where bottles were dry as far as they could
// be read: later than the last of them.
func (h *Hydrograph) unknownStart() result.Estimate {
	if h.NMeasured == 0 || h.FromReadings {
		return missing("no_bottles")
	}
	var dry float64
	for i := range h.Intervals {
		if h.Intervals[i].Kind == Measured {
			dry = h.Intervals[i].EndMin
		}
	}
	e := censored(dry, h.NMeasured, "collection_ended_early")
	e.Flags = append(e.Flags, h.Flags...)
	return e
}

// crossing returns the crossing of the limit before or in interval i, the first
// whose mean rate is not below.
func (h *Hydrograph) crossing(i int, limit float64) result.Estimate {
	iv := &h.Intervals[i]
	low, t0, q0 := iv.StartMin, iv.StartMin, 0.0
	if i > 0 && h.Intervals[i-1].RateMMH > 0 {
		p := &h.Intervals[i-1]
		low, t0, q0 = p.StartMin, (p.StartMin+p.EndMin)/2, p.RateMMH
	}
	t1 := (iv.StartMin + iv.EndMin) / 2
	t := t0
	if iv.RateMMH > q0 {
		t += (t1 - t0) * max(0, limit-q0) / (iv.RateMMH - q0)
	}
	e := between(low, iv.EndMin, t, h.NMeasured)
	if iv.Kind == Interpolated {
		e.Flags.Add("interpolated")
	}
	return e
}

func (h *Hydrograph) thresholdOfReadings(limit float64) result.Estimate {
	mlMin := limit * h.AreaM2 / 0.06
	w := h.set.SlopeWindowMin
	for i := range h.fine {
		p := h.fine[i]
		if p.mlMin < mlMin || !stays(h.fine[i:], mlMin, w) {
			continue
		}
		if p.min > h.rain.DurationMin {
			break
		}
		t := p.min
		if i > 0 && p.mlMin > h.fine[i-1].mlMin {
			before := h.fine[i-1]
			t = before.min + (p.min-before.min)*(mlMin-before.mlMin)/(p.mlMin-before.mlMin)
		}
		return between(max(0, t-w/2), t+w/2, t, h.NMeasured)
	}
	return censored(h.rain.DurationMin, h.NMeasured, "below_threshold")
}

// stays reports whether the rate is at or above the limit for a window from the
// first point on.
func stays(points []ratePoint, limit, windowMin float64) bool {
	for _, p := range points {
		if p.min > points[0].min+windowMin {
			break
		}
		if p.mlMin < limit {
			return false
		}
	}
	return true
}

// backExtrapolated is the intercept of the rising limb of the running total: the
// line through it at both ends of the second interval that flowed, carried back
// to zero.
//
//	t0 = t1 - V(t1) / r2,  u(t0)^2 = u(t1)^2 + (u(V) / r2)^2 + (V u(r2) / r2^2)^2
//
// t1 is the start of that interval, V(t1) what ran off until then in mL, r2 its
// rate in mL/min. Where flow sets in at once this is the onset, however long the
// first bottle had been waiting; where it rises slowly it is late, by no more
// than two thirds of a bottle. The line through the rates themselves is not
// used: bottles of small plots are longer than the rise, and it runs along the
// plateau to a time before the rain.
// Readings count from the threshold on. With fewer than two such intervals by the
// end of rain it has no value (flag rising_limb_too_short), nor where the line
// comes down before flow began by more than twice its error, because the rate fell
// from the first to the second (flag no_rising_limb).
// The interval is that of the intercept, not of the onset.
// Source: tangent of the running total; [GUM2008] 5.1.2.
func (h *Hydrograph) backExtrapolated() result.Estimate {
	switch h.Status {
	case NoData:
		return h.unknownStart()
	case Dry:
		return h.dryStart("no_runoff")
	}
	first, second, before := h.risingLimb()
	if second == nil {
		return missing("rising_limb_too_short")
	}
	d := second.Minutes()
	rate := second.VolumeML / d
	back := before / rate
	uRate := rate * second.URateMMH / second.RateMMH
	u := gum.Combined(h.errs.BottleChange, first.UVolumeML/rate, back*uRate/rate)
	t0 := second.StartMin - back
	if t0 < first.StartMin-2*u-sameMin {
		return missing("no_rising_limb")
	}
	e := h.estimate(t0, u, 0, gum.NonNegative())
	e.N = 2
	return e
}

// risingLimb returns the first two measured intervals that flowed, by the end of
// rain, and the volume that ran off before the second, mL.
func (h *Hydrograph) risingLimb() (first, second *Interval, beforeML float64) {
	least := 0.0
	if h.FromReadings {
		least = h.set.ThresholdShare * h.rain.IntensityMMH
	}
	for i := range h.Intervals {
		iv := &h.Intervals[i]
		if iv.Kind == Measured && iv.RateMMH > least && h.withinRain(iv) {
			if first != nil {
				return first, iv, beforeML
			}
			first = iv
		}
		beforeML += iv.VolumeML
	}
	return nil, nil, 0
}

// TimeToPonding returns the observed time from the start of rain to standing
// water, min, with the standard uncertainty of an observed onset.
func (h *Hydrograph) TimeToPonding() result.Estimate {
	if !h.plot.PondingMin.OK {
		return missing("not_noted")
	}
	e := h.estimate(h.plot.PondingMin.V, h.errs.OnsetMin, 0, gum.NonNegative())
	e.N = 1
	return e
}

// missing returns an estimate without a value, and why.
func missing(word string) result.Estimate { return result.Estimate{Flags: result.Flags{word}} }

// censored returns a time that is at least this.
func censored(min float64, n int, words ...string) result.Estimate {
	return result.Estimate{Value: quantity.Some(min), Low: quantity.Some(min), Censored: result.Right, N: n, Flags: words}
}

// between returns a time that is known to lie in an interval.
func between(low, high, value float64, n int) result.Estimate {
	return result.Estimate{Value: quantity.Some(value), U: quantity.Some(gum.Rectangular((high - low) / 2)),
		Low: quantity.Some(low), High: quantity.Some(high), Censored: result.Interval, N: n}
}

// estimate returns a value with its standard uncertainty and interval.
func (h *Hydrograph) estimate(value, u, df float64, b gum.Bounds) result.Estimate {
	low, high := gum.Within(value, u, df, h.set.Level, b)
	return result.Estimate{Value: quantity.Some(value), U: quantity.Some(u), Low: quantity.Some(low), High: quantity.Some(high), Censored: result.Observed}
}
