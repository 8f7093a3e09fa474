package season

import (
	"math"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// geometric is the geometric mean of the plots that ran off, with the interval
// of their logarithms. NCensored counts the plots that did not run off.
func (f frame) geometric(info result.MetricInfo, c *cell) result.TreatmentRow {
	wet := c.with(func(u unit) bool { return u.value > 0 })
	without := c.dry + len(c.units) - len(wet.units)
	r := f.start(info, wet, geometricMean, "geometric_mean_t")
	r.Headline = true
	switch {
	case without > 0 && len(wet.units) == 0:
		r.Flags.Add(FlagNoneRanOff)
	case without > 0:
		r.Flags.Add(FlagSomeWithoutRunoff)
	}
	r.NCensored += without
	if len(wet.units) == 0 {
		return r
	}
	r.SDBetween, _ = inference.SD(wet.values())
	if wet.censored() > 0 {
		r.Method = "censored_lognormal"
		r.SDBetween = quantity.None()
		f.censoredMean(&r, wet, true)
		return r
	}
	g, err := inference.GeometricMean(wet.values(), f.level)
	if err != nil {
		r.Flags.Add(inference.FlagNotDefined)
		return r
	}
	f.takeLog(&r, g.Interval, wet)
	return r
}

// takeLog is take for an estimate whose interval is that of a logarithm:
// uncertainties are relative, distances are those of logarithms.
func (f frame) takeLog(r *result.TreatmentRow, i inference.Interval, c *cell) {
	r.Value = i.Value
	if !i.Value.OK {
		return
	}
	u, hidden := c.measured(relative)
	r.UMeasurement = u.Map(func(v float64) float64 { return v * i.Value.V })
	if i.Low.OK || i.High.OK {
		l, h := widen(math.Log(i.Value.V), i.Low.Map(math.Log), i.High.Map(math.Log), f.z*math.Sqrt(hidden))
		r.Low, r.High = l.Map(math.Exp), h.Map(math.Exp)
		if r.Low.OK != r.High.OK { // by the data, or beyond all numbers
			r.Flags.Add(map[bool]string{true: inference.FlagNoUpperLimit, false: inference.FlagNoLowerLimit}[r.Low.OK])
		}
		return
	}
	if i.Flags.Has(inference.FlagNoSpread) {
		r.Flags.Add(inference.FlagNoSpread)
		f.measurementOnly(r)
	}
}

// skewedMean is the arithmetic mean beside a geometric one: by the log-normal
// formula where all plots ran off, else the plain mean with zeros counted.
func (f frame) skewedMean(info result.MetricInfo, c *cell) result.TreatmentRow {
	r := f.start(info, c, mean, "modified_cox")
	if c.dry > 0 {
		r.NCensored += c.dry
		r.Flags.Add(FlagSomeWithoutRunoff)
	}
	if len(c.units) == 0 {
		return r
	}
	r.SDBetween, _ = inference.SD(c.values())
	zeros := len(c.units) - len(c.with(func(u unit) bool { return u.value > 0 }).units)
	switch {
	case c.censored() > 0:
		f.bound(&r, c, false)
	case zeros > 0:
		r.Method = "mean_t"
		r.Flags.Add(FlagZerosIncluded)
		i, err := inference.MeanT(c.values(), f.level)
		if err != nil {
			r.Flags.Add(inference.FlagNotDefined)
			return r
		}
		f.take(&r, i, c, absolute)
	default:
		i, err := inference.LognormalMean(c.values(), f.level, inference.ModifiedCox)
		if err != nil {
			r.Flags.Add(inference.FlagNotDefined)
			return r
		}
		f.takeLog(&r, i, c)
	}
	checkRange(&r, info)
	return r
}
