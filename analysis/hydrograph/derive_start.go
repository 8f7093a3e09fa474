package hydrograph

import (
	"sheetwash/analysis/derivation"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/result"
)

// TimeToRunoff returns how the time to runoff by a method came about: a node
// without a value where it has none.
func (d *Derivations) TimeToRunoff(method string) derivation.Node {
	e := d.h.TimeToRunoff(method)
	name := string(result.TimeToRunoff)
	var n derivation.Node
	switch {
	case !e.Value.OK:
		n = derivation.Empty(name, "min")
	case e.Censored == result.Right:
		n = d.atLeast(name, e.Value.V)
	case method == MethodObserved:
		n = derivation.Read(name, e.Value.V, "min", d.h.errs.OnsetMin, place(d.h.plot.Place, "runoff_start"))
		n.Note = "first sustained runoff as noted"
	case method == MethodFirstBottle:
		n = d.firstBottle(name, e.Value.V)
	case method == MethodThreshold && len(d.h.fine) > 0:
		n = d.thresholdOfReadings(name, e.Value.V)
	case method == MethodThreshold:
		n = d.threshold(name, e.Value.V)
	default:
		n = d.backExtrapolated(name, e.Value.V)
	}
	n.Method, n.U = method, derivation.Number(e.U)
	return n
}

// atLeast is a time that is known to be later: than the end of rain, or than the
// end of the last dry bottle.
func (d *Derivations) atLeast(name string, v float64) derivation.Node {
	if v != d.h.rain.DurationMin {
		return d.endOfBottle(name, v).Noting("later than the end of the last dry bottle: nobody knows how much")
	}
	n := d.rain.Minutes.Named(name)
	n.Note = "later than the end of rain: none ran off until then"
	if d.h.plot.Onset == experiment.OnsetNone {
		n.Note = "none was noted by the end of rain, so that it is later than that"
	}
	return n
}

func (d *Derivations) firstBottle(name string, v float64) derivation.Node {
	f := d.h.first
	wet := d.endOfBottle("wet", f.highMin).Noting("end of the first bottle that holds water")
	if d.h.Flags.Has("start_assumed") {
		return derivation.Formula(name, v, "min", "(start + wet) / 2", d.startOfBottle("start", f.startMin, f.highMin).
			Noting("start of that bottle, which is taken to have been put up when flow began"), wet)
	}
	dry := derivation.Setting("dry", f.lowMin, "min", "the start of rain: no bottle before was dry")
	if f.lowMin != 0 {
		dry = d.endOfBottle("dry", f.lowMin).Noting("end of the last dry bottle before it")
	}
	n := derivation.Formula(name, v, "min", "(dry + wet) / 2", dry, wet)
	n.Note = "it lies between the two; the value is the middle"
	return n
}

// limit is the rate that runoff passes at the time by threshold.
func (d *Derivations) limit() derivation.Node {
	h := d.h
	n := derivation.Formula("limit", h.set.ThresholdShare*h.rain.IntensityMMH, "mm/h", "share * intensity",
		derivation.Setting("share", h.set.ThresholdShare, "1", "setting threshold_share"), d.rain.Intensity.Named("intensity"))
	return n
}

func (d *Derivations) threshold(name string, v float64) derivation.Node {
	h := d.h
	limit := d.limit()
	i := 0
	for h.Intervals[i].RateMMH < *limit.Value {
		i++
	}
	iv := &h.Intervals[i]
	before := derivation.Setting("before", iv.StartMin, "min", "start of the interval: no flow before")
	rateBefore := derivation.Setting("rate_before", 0, "mm/h", "no flow before")
	if i > 0 && h.Intervals[i-1].RateMMH > 0 {
		before = d.middle("before", i-1)
		rateBefore = d.Rate(i - 1).Named("rate_before")
	}
	if !(iv.RateMMH > *rateBefore.Value) {
		return derivation.Formula(name, v, "min", "before", before)
	}
	return derivation.Formula(name, v, "min", "before + (at - before) * max(0, limit - rate_before) / (rate - rate_before)",
		before, d.middle("at", i), limit, rateBefore, d.Rate(i)).Noting("the rate runs straight between the middles of intervals")
}

// middle is the middle of an interval.
func (d *Derivations) middle(name string, i int) derivation.Node {
	iv := &d.h.Intervals[i]
	return derivation.Formula(name, (iv.StartMin+iv.EndMin)/2, "min", "(start + end) / 2", d.start(i), d.end(i)).Noting("middle of the interval")
}

func (d *Derivations) backExtrapolated(name string, v float64) derivation.Node {
	h := d.h
	_, second, before := h.risingLimb()
	at := 0
	for &h.Intervals[at] != second {
		at++
	}
	rate := derivation.Formula("rate", second.VolumeML/second.Minutes(), "mL/min", "volume / minutes", d.volumes[at], d.minutes(at))
	rate.Note = "of the second interval that flowed"
	n := derivation.Formula(name, v, "min", "start - before / rate", d.start(at),
		derivation.Of("before", before, "mL", derivation.Sum, d.volumes[:at]...).Noting("what ran off until then"), rate)
	n.Source = "tangent of the running total"
	return n
}
