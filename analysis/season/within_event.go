package season

import (
	"math"
	"slices"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// The statistics of the results contract.
const (
	mean           = "mean"
	geometricMean  = "geometric_mean"
	median         = "median"
	restrictedMean = "restricted_mean"
)

// frame is what all statements of one scope have in common.
type frame struct {
	level float64
	z     float64 // normal quantile of the level
	named bool    // a reference was asked for: each treatment is compared with it only
	tau   float64 // common time of restricted means, min; +Inf: nothing is censored
}

// within returns the statements about one treatment within one event, always
// the same statistics in the same order for a kind of metric, headline first.
func (f frame) within(info result.MetricInfo, c *cell) []result.TreatmentRow {
	return slices.Clone(f.stated(info, c))
}

// stated returns the statements that the cell remembers, for reading: an event is
// stated in its own scope, its season's and that of all.
func (f frame) stated(info result.MetricInfo, c *cell) []result.TreatmentRow {
	if c.stated == nil || c.statedTau != f.tau {
		c.stated, c.statedTau = f.state(info, c), f.tau
		for i := range c.stated {
			c.stated[i].Flags = slices.Clip(c.stated[i].Flags) // what others add is theirs
		}
	}
	return c.stated
}

func (f frame) state(info result.MetricInfo, c *cell) []result.TreatmentRow {
	switch info.Kind {
	case result.Skewed:
		return []result.TreatmentRow{f.geometric(info, c), f.skewedMean(info, c)}
	case result.TimeToEvent:
		return []result.TreatmentRow{f.restricted(info, c), f.medianTime(info, c), f.geometricTime(info, c)}
	}
	return []result.TreatmentRow{f.plainMean(info, c)}
}

// start returns a row with what every statement about the cell says.
func (f frame) start(info result.MetricInfo, c *cell, statistic, method string) result.TreatmentRow {
	r := result.TreatmentRow{
		Metric: info.ID, Statistic: statistic, Method: method, Unit: info.SI, Level: f.level,
		NPlots: len(c.units), NEvents: 1,
	}
	for _, u := range c.units {
		if u.censored == result.Right || u.censored == result.Left {
			r.NCensored++
		}
	}
	if c.separated {
		r.Flags.Add(FlagSequencesDiffer)
	}
	if c.repeated {
		r.Flags.Add(FlagRepeatedMeasures)
	}
	if c.missing > 0 {
		r.Flags.Add(FlagSomeMissing)
	}
	switch len(c.units) {
	case 0:
		r.Flags.Add(inference.FlagNoData)
		r.Flags.Add(c.why...)
	case 1:
		r.Flags.Add(FlagOnePlot)
	case 2:
		r.Flags.Add(inference.FlagNSmall)
	}
	return r
}

// plainMean is the mean with Student's interval; see censoredMean where a value is censored.
func (f frame) plainMean(info result.MetricInfo, c *cell) result.TreatmentRow {
	r := f.start(info, c, mean, "mean_t")
	r.Headline = true
	if c.censored() > 0 {
		r.Method = "censored_normal"
		f.censoredMean(&r, c, false)
	} else {
		i, err := inference.MeanT(c.values(), f.levelOf(info, c))
		if err != nil {
			r.Flags.Add(inference.FlagNotDefined)
			return r
		}
		r.SDBetween = i.SD
		f.take(&r, i, c, absolute)
	}
	openOfTwo(&r, info, c)
	checkRange(&r, info)
	return r
}

// take puts an interval on the natural scale into the row and adds the errors
// that the scatter of the plots does not show.
func (f frame) take(r *result.TreatmentRow, i inference.Interval, c *cell, of func(unit) (u, shared float64, known bool)) {
	r.Value = i.Value
	u, hidden := c.measured(of)
	r.UMeasurement = u
	if i.Low.OK || i.High.OK {
		r.Low, r.High = widen(i.Value.V, i.Low, i.High, f.z*math.Sqrt(hidden))
		return
	}
	if i.Flags.Has(inference.FlagNoSpread) {
		r.Flags.Add(inference.FlagNoSpread)
		f.measurementOnly(r)
	}
}

// endsWithRain reports whether the values of a metric are bounds by design: of a
// plot that does not run off before the rain ends.
func endsWithRain(info result.MetricInfo) bool {
	return info.Kind == result.TimeToEvent || info.ID == result.SteadyInfiltrationRate
}

// levelOf is the level at which three plots are stated whose values would have been bounds had they been
// larger, and are not: half the error is left to them, since that all three are known
// chooses small ones (at the full error they cover 0.64 where 60 % are bounds, and all answers of three plots 0.93).
func (f frame) levelOf(info result.MetricInfo, c *cell) float64 {
	if len(c.units) == 3 && endsWithRain(info) && c.censored() == 0 {
		return 1 - (1-f.level)/2
	}
	return f.level
}

// openOfTwo takes the upper limit off an interval of two plots whose values would have
// been bounds had they been larger. That both are known says that both are small: a
// plot above the bound makes the pair unusable, so no two values exclude a large mean
// (t of one degree of freedom covers 0.87 where 60 % are bounds). The lower limit holds for any share of bounds.
func openOfTwo(r *result.TreatmentRow, info result.MetricInfo, c *cell) {
	if len(c.units) == 2 && endsWithRain(info) && r.Low.OK && r.High.OK {
		r.High = quantity.None()
		r.Flags.Add(inference.FlagNoUpperLimit)
	}
}

// measurementOnly bounds equal replicates by their measurement, where it is known.
func (f frame) measurementOnly(r *result.TreatmentRow) {
	if !r.Value.OK || !r.UMeasurement.OK || r.UMeasurement.V == 0 {
		return
	}
	h := f.z * r.UMeasurement.V
	r.Low, r.High = quantity.Some(r.Value.V-h), quantity.Some(r.Value.V+h)
	r.Flags.Add(FlagMeasurementOnly)
}

// censoredMean fills the row from a likelihood that knows of censoring, of the
// values or of their logarithms. Where too little was observed for one, the row
// gets a bound and no interval.
func (f frame) censoredMean(r *result.TreatmentRow, c *cell, logarithmic bool) {
	estimate := inference.CensoredMean
	if logarithmic {
		estimate = inference.CensoredGeometricMean
	}
	b := make([]inference.Bounds, len(c.units))
	for i, u := range c.units {
		b[i] = u.bounds
	}
	i, err := estimate(b, f.level)
	if err != nil || !i.Value.OK {
		if len(c.units) > 1 {
			r.Flags.Add(i.Flags...)
		}
		f.bound(r, c, logarithmic)
		return
	}
	r.Flags.Add(i.Flags...)
	if logarithmic {
		f.takeLog(r, i, c.with(closed))
		return
	}
	r.SDBetween = i.SD
	f.take(r, i, c.with(closed), absolute)
}

// bound gives the row the mean, or the geometric mean, of the values with each
// censored one at its limit: that of the true values is at least
// (right-censored) or at most (left-censored) that.
func (f frame) bound(r *result.TreatmentRow, c *cell, logarithmic bool) {
	left := slices.ContainsFunc(c.units, func(u unit) bool { return u.censored == result.Left })
	right := slices.ContainsFunc(c.units, func(u unit) bool { return u.censored == result.Right })
	r.Method = "bound"
	switch {
	case left && right:
	case logarithmic:
		g, _ := inference.GeometricMean(c.values(), f.level)
		r.Value = g.Value
	default:
		m, _ := inference.MeanT(c.values(), f.level)
		r.Value = m.Value
	}
	switch {
	case left && right:
		r.Flags.Add(inference.FlagNotDefined)
	case right:
		r.Flags.Add(FlagLowerBound)
	case left:
		r.Flags.Add(FlagUpperBound)
	}
	if logarithmic {
		u, _ := c.measured(relative)
		r.UMeasurement = u.Map(func(v float64) float64 { return v * r.Value.V })
		return
	}
	r.UMeasurement, _ = c.measured(absolute)
}

// checkRange flags limits that no true value can have. They stay as they are, so
// that the interval can be computed again from the plots.
func checkRange(r *result.TreatmentRow, info result.MetricInfo) {
	if r.Low.OK && r.Low.V < 0 && !signed[info.ID] {
		r.Flags.Add(FlagBelowZero)
	}
	if info.ID == result.RunoffCoefficient && r.High.OK && r.High.V > 1 {
		r.Flags.Add(FlagAboveOne)
	}
}

// signed lists the metrics that can be below zero.
var signed = map[result.Metric]bool{
	result.BalanceClosure:       true,
	result.StorageDepth:         true,
	result.SedimentFluxExponent: true,
	result.CoverExponent:        true,
}
