package hydrograph

import (
	"math"

	"sheetwash/analysis/derivation"
)

// minutes is the length of an interval.
func (d *Derivations) minutes(i int) derivation.Node {
	iv := &d.h.Intervals[i]
	return derivation.Formula("minutes", iv.Minutes(), "min", "end - start", d.end(i), d.start(i))
}

// start is when an interval begins.
func (d *Derivations) start(i int) derivation.Node {
	h := d.h
	iv := &h.Intervals[i]
	if iv.Sample < 0 || h.FromReadings {
		return derivation.Setting("start", iv.StartMin, "min", "")
	}
	s := &h.plot.Samples[iv.Sample]
	switch {
	case iv.StartMin == s.StartMin:
		return d.bottleTime("start", iv.Sample, false)
	case iv.Flags.Has("from_onset") && iv.StartMin == h.plot.OnsetMin:
		return derivation.Read("start", iv.StartMin, "min", h.errs.OnsetMin, place(h.plot.Place, "runoff_start")).
			Noting("the noted onset: the bottle was under the lip before")
	}
	return derivation.Setting("start", iv.StartMin, "min", "the end of the bottle before, which it overlaps")
}

// end is when an interval ends.
func (d *Derivations) end(i int) derivation.Node {
	iv := &d.h.Intervals[i]
	if iv.Sample < 0 || d.h.FromReadings || d.h.plot.Samples[iv.Sample].EndMin != iv.EndMin {
		return derivation.Setting("end", iv.EndMin, "min", "")
	}
	return d.bottleTime("end", iv.Sample, true)
}

// bottleTime is the noted start or end of a bottle.
func (d *Derivations) bottleTime(name string, sample int, end bool) derivation.Node {
	s := &d.h.plot.Samples[sample]
	if end {
		return derivation.Read(name, s.EndMin, "min", d.h.errs.BottleChange, place(s.Place, "end"))
	}
	return derivation.Read(name, s.StartMin, "min", d.h.errs.BottleChange, place(s.Place, "start")).Noting("the end of the bottle before, if none is noted")
}

// endOfBottle is the time at which a bottle of the stream ended.
func (d *Derivations) endOfBottle(name string, min float64) derivation.Node {
	for i := range d.h.plot.Samples {
		if s := &d.h.plot.Samples[i]; s.Stream == d.h.Stream && s.EndMin == min && !s.Exclude {
			return d.bottleTime(name, i, true)
		}
	}
	return derivation.Setting(name, min, "min", "")
}

// startOfBottle is the time at which the bottle that ended at a time began.
func (d *Derivations) startOfBottle(name string, start, end float64) derivation.Node {
	for i := range d.h.plot.Samples {
		if s := &d.h.plot.Samples[i]; s.Stream == d.h.Stream && s.EndMin == end && s.StartMin == start && !s.Exclude {
			return d.bottleTime(name, i, false)
		}
	}
	return derivation.Setting(name, start, "min", "")
}

// RunoffMinutes returns how the length of runoff of RunoffMinutes came about;
// false where it has none.
func (d *Derivations) RunoffMinutes(name string) (derivation.Node, bool) {
	h := d.h
	minutes, u, ok := h.RunoffMinutes()
	if !ok {
		return derivation.Node{}, false
	}
	last := len(h.Intervals) - 1
	for !h.flows(last) {
		last--
	}
	end := d.end(last).Named("end")
	from := h.Intervals[last].EndMin - minutes
	start := d.TimeToRunoff(h.HeadlineMethod()).Named("start")
	if start.Value == nil || math.Abs(*start.Value-from) > sameMin || h.headlineCensored() {
		first := 0
		for !h.flows(first) {
			first++
		}
		start = d.start(first).Named("start")
	}
	n := derivation.Formula(name, minutes, "min", "end - start", end, start).With(u)
	n.Note = "from the time to runoff to the end of the last interval with water"
	return n, true
}

func (h *Hydrograph) headlineCensored() bool {
	e := h.TimeToRunoff(h.HeadlineMethod())
	return !e.Value.OK || e.Censored == "right"
}
