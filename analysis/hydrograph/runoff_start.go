package hydrograph

import (
	"math"

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
	case h.first.bottles == 0 && h.FromReadings:
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
	e := h.estimate(h.plot.OnsetMin, h.errs.OnsetMin, 0, gum.NonNegative)
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
	case f.wet && f.startMin >= end-sameMin:
		return censored(end, f.bottles, "no_runoff", "runoff_after_rain")
	case f.wet && h.Flags.Has("start_assumed"):
		e := between(f.lowMin, f.highMin, (f.startMin+f.highMin)/2, f.bottles)
		e.Flags.Add("start_assumed")
		return e
	case f.wet:
		return between(f.lowMin, f.highMin, (f.lowMin+f.highMin)/2, f.bottles)
	case f.dryEndMin < end-sameMin:
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
		return missing("no_bottles")
	}
	if len(h.fine) > 0 {
		return h.thresholdOfReadings(limit)
	}
	for i := range h.Intervals {
		iv := &h.Intervals[i]
		if iv.RateMMH < limit {
			continue
		}
		if iv.StartMin >= h.rain.DurationMin-sameMin {
			break
		}
		return h.crossing(i, limit)
	}
	return censored(h.rain.DurationMin, h.NMeasured, "below_threshold")
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

// backExtrapolated is the intercept of the rising limb with zero flow.
//
//	q = b (t - t0),  t0 = T - Q / b
//
// by weighted least squares over the mean rates at the middles of the measured
// intervals from the first that flowed throughout up to the first that reaches
// 80 % of the largest rate; b is the slope, T and Q the weighted means. A first
// bottle that began before flow did is diluted and left out. Of the error of t0,
//
//	u(t0)^2 = u(Q)^2 / b^2 + (Q u(b) / b^2)^2
//
// widened by sqrt(chi2 / df) where the points scatter more. With fewer than two
// such intervals, or a limb that does not rise, it has no value (flag
// rising_limb_too_short).
// Source: linear regression; [GUM2008] 5.1.2.
func (h *Hydrograph) backExtrapolated() result.Estimate {
	switch h.Status {
	case NoData:
		return missing("no_bottles")
	case Dry:
		return censored(h.rain.DurationMin, h.NMeasured, "no_runoff")
	}
	limb := h.risingLimb()
	if len(limb) < 2 {
		return missing("rising_limb_too_short")
	}
	var sw, st, sq float64
	for _, iv := range limb {
		w := weight(iv)
		sw, st, sq = sw+w, st+w*(iv.StartMin+iv.EndMin)/2, sq+w*iv.RateMMH
	}
	t, q := st/sw, sq/sw
	var sxx, sxy float64
	for _, iv := range limb {
		w, d := weight(iv), (iv.StartMin+iv.EndMin)/2-t
		sxx, sxy = sxx+w*d*d, sxy+w*d*(iv.RateMMH-q)
	}
	b := sxy / sxx
	if !(b > 0) {
		return missing("rising_limb_too_short")
	}
	var chi2 float64
	for _, iv := range limb {
		r := iv.RateMMH - q - b*((iv.StartMin+iv.EndMin)/2-t)
		chi2 += weight(iv) * r * r
	}
	df := float64(len(limb) - 2)
	widen := 1.0
	if df > 0 {
		widen = math.Sqrt(max(1, chi2/df))
	}
	u := widen * math.Hypot(1/math.Sqrt(sw)/b, q/math.Sqrt(sxx)/(b*b))
	e := h.estimate(t-q/b, u, df*boolTo01(widen > 1), gum.NonNegative)
	e.N = len(limb)
	switch f := h.first; {
	case e.Value.V < 0:
		e.Flags.Add("before_rain")
	case f.wet && e.Value.V < f.lowMin-sameMin:
		e.Flags.Add("before_last_dry_bottle")
	case f.wet && e.Value.V > f.highMin+sameMin:
		e.Flags.Add("after_first_bottle")
	}
	return e
}

func boolTo01(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

func weight(iv *Interval) float64 { return 1 / max(iv.URateMMH*iv.URateMMH, 1e-12) }

// risingLimb returns the measured intervals of the rising limb.
func (h *Hydrograph) risingLimb() []*Interval {
	var peak float64
	for i := range h.Intervals {
		if iv := &h.Intervals[i]; iv.Kind == Measured && iv.EndMin <= h.rain.DurationMin+sameMin {
			peak = max(peak, iv.RateMMH)
		}
	}
	var limb []*Interval
	diluted := !h.FromReadings && h.plot.Onset != experiment.OnsetNoted
	least := 0.0
	if h.FromReadings {
		least = h.set.ThresholdShare * h.rain.IntensityMMH
	}
	for i := range h.Intervals {
		iv := &h.Intervals[i]
		if iv.Kind != Measured || iv.RateMMH <= least {
			continue
		}
		if diluted {
			diluted = false
			continue
		}
		limb = append(limb, iv)
		if iv.RateMMH >= 0.8*peak {
			break
		}
	}
	return limb
}

// TimeToPonding returns the observed time from the start of rain to standing
// water, min, with the standard uncertainty of an observed onset.
func (h *Hydrograph) TimeToPonding() result.Estimate {
	if !h.plot.PondingMin.OK {
		return missing("not_noted")
	}
	e := h.estimate(h.plot.PondingMin.V, h.errs.OnsetMin, 0, gum.NonNegative)
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
