package season

import (
	"math"
	"slices"
	"strconv"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// commonTime returns the time to which all means of times in a scope are
// restricted: the shortest of the longest times among those treatments and
// events that have a censored plot. +Inf if nothing is censored: then nothing
// needs a restriction.
func commonTime(cells []*cell) float64 {
	tau := math.Inf(1)
	for _, c := range cells {
		longest, censored := 0.0, false
		for _, u := range c.units {
			longest = max(longest, u.value)
			censored = censored || u.censored == result.Right
		}
		if censored && longest > 0 {
			tau = min(tau, longest)
		}
	}
	return tau
}

// followed returns the times and whether runoff came. Interval-censored times
// stand at their reported value, the middle of their interval; left-censored ones
// at their limit.
func (c *cell) followed() (time []float64, event []bool) {
	for _, u := range c.units {
		time = append(time, u.value)
		event = append(event, u.censored != result.Right)
	}
	return time, event
}

func (c *cell) flagMiddles(r *result.TreatmentRow) {
	if slices.ContainsFunc(c.units, func(u unit) bool { return u.censored == result.Interval || u.censored == result.Left }) {
		r.Flags.Add(FlagIntervalAsMiddle)
	}
}

// restricted is the mean time within the common time of the scope.
func (f frame) restricted(info result.MetricInfo, c *cell) result.TreatmentRow {
	method := "kaplan_meier" // without censoring its area is the mean
	if !math.IsInf(f.tau, 1) {
		method += ":to_" + strconv.FormatFloat(math.Round(f.tau*1000)/1000, 'g', -1, 64) + "_" + info.SI
	}
	r := f.start(info, c, restrictedMean, method)
	r.Headline = true
	c.flagMiddles(&r)
	if len(c.units) == 0 {
		return r
	}
	i, err := f.restrictedInterval(c)
	if err != nil {
		r.Flags.Add(inference.FlagNotDefined)
		return r
	}
	if i.Flags.Has(inference.FlagAllCensored) { // none within tau
		if time, _ := c.followed(); slices.Max(time) < f.tau { // nor followed: rain that ended as it began
			r.Flags.Add(inference.FlagAllCensored)
			return r
		}
		r.Value = i.Value
		r.Flags.Add(FlagNotReached, FlagLowerBound)
		return r
	}
	f.take(&r, i, c, until(f.tau))
	if len(c.units) > 1 && i.Flags.Has(inference.FlagOneValue) { // the others were not followed so far
		r.Flags.Add(inference.FlagFewObserved)
	}
	f.clip(&r)
	if c.censored() == 0 {
		r.SDBetween, _ = inference.SD(c.values())
	}
	checkRange(&r, info)
	return r
}

func (f frame) restrictedInterval(c *cell) (inference.Interval, error) {
	time, event := c.followed()
	if math.IsInf(f.tau, 1) {
		if slices.Min(time) > 0 {
			return inference.SkewedMean(time, f.level)
		}
		return inference.MeanT(time, f.level)
	}
	s, err := inference.KaplanMeier(time, event, f.level)
	if err != nil {
		return inference.Interval{}, err
	}
	return s.RestrictedMean(f.tau)
}

// clip keeps a restricted mean and its limits within 0 and the common time.
func (f frame) clip(r *result.TreatmentRow) {
	if math.IsInf(f.tau, 1) {
		return
	}
	r.Low = r.Low.Map(func(v float64) float64 { return max(0, v) })
	r.High = r.High.Map(func(v float64) float64 { return min(f.tau, v) })
	r.Value = r.Value.Map(func(v float64) float64 { return min(f.tau, v) }) // by rounding
}

// medianTime is the time by which half of the plots ran off. An interval needs
// as many plots as the median of an uncensored sample does (6 for 0.95).
func (f frame) medianTime(info result.MetricInfo, c *cell) result.TreatmentRow {
	r := f.start(info, c, median, "kaplan_meier")
	c.flagMiddles(&r)
	if len(c.units) == 0 {
		return r
	}
	time, event := c.followed()
	s, err := inference.KaplanMeier(time, event, f.level)
	if err != nil {
		r.Flags.Add(inference.FlagNotDefined)
		return r
	}
	q := s.Quantile(0.5)
	switch {
	case !q.Value.OK:
		r.Value = quantity.Some(slices.Max(time))
		r.Flags.Add(FlagNotReached, FlagLowerBound)
	case q.Flags.Has(inference.FlagCurveEnds):
		r.Value = quantity.Some(lastEvent(time, event))
		r.Flags.Add(FlagNotReached, FlagLowerBound)
	default:
		r.Value = q.Value
		r.UMeasurement, _ = c.measured(until(math.Inf(1)))
	}
	switch {
	case 1-math.Pow(2, 1-float64(len(time))) >= f.level:
		r.Low, r.High = q.Low, q.High
		for _, w := range q.Flags {
			if w == inference.FlagNoUpperLimit || w == inference.FlagNoLowerLimit || w == inference.FlagNoSpread {
				r.Flags.Add(w)
			}
		}
	case len(time) > 1:
		r.Flags.Add(inference.FlagNSmall)
	}
	return r
}

// geometricTime is the geometric mean of log-normal times, censored ones as
// such and interval-censored ones by their interval.
func (f frame) geometricTime(info result.MetricInfo, c *cell) result.TreatmentRow {
	r := f.start(info, c, geometricMean, "censored_lognormal")
	if len(c.units) < 2 {
		switch {
		case len(c.units) == 0:
		case c.censored() == 0:
			r.Value = quantity.Some(c.units[0].value)
			r.UMeasurement, _ = c.measured(absolute)
		case closed(c.units[0]):
			r.Flags.Add(inference.FlagFewObserved)
		default:
			r.Flags.Add(inference.FlagAllCensored)
		}
		return r
	}
	b := make([]inference.Bounds, len(c.units))
	for i, u := range c.units {
		b[i] = u.bounds
	}
	i, err := inference.CensoredGeometricMean(b, f.levelOf(info, c))
	if err != nil {
		r.Flags.Add(inference.FlagNotDefined)
		return r
	}
	r.Flags.Add(i.Flags...)
	f.takeLog(&r, i, c.with(closed))
	openOfTwo(&r, info, c)
	return r
}

func lastEvent(time []float64, event []bool) float64 {
	last := 0.0
	for i, t := range time {
		if event[i] {
			last = max(last, t)
		}
	}
	return last
}
