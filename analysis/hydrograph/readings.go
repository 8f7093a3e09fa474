package hydrograph

import (
	"math"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/water"
)

// runoffSeries returns the channel that tells the flow of a stream, or nil: a
// running mass before a running volume before a rate.
func runoffSeries(series []experiment.Series, stream experiment.Stream) *experiment.Series {
	order := [3]experiment.Channel{experiment.RunoffMass, experiment.RunoffVolume, experiment.RunoffRate}
	if stream == experiment.Drainage {
		order = [3]experiment.Channel{experiment.DrainageMass, experiment.DrainageVolume, experiment.DrainageRate}
	}
	for _, c := range order {
		for i := range series {
			if series[i].Channel == c && usable(&series[i]) {
				return &series[i]
			}
		}
	}
	return nil
}

// usable reports whether a channel has readings in two bins since the start of rain.
func usable(s *experiment.Series) bool {
	n := len(s.Bins)
	return n >= 2 && s.Bins[n-2].Index >= 0 && s.BinMin > 0
}

// covers reports whether a channel spans the run, up to the end of rain, as far
// as the bottles do, but for a tenth.
func covers(s *experiment.Series, bottles []bottle, rainMin float64) bool {
	if len(bottles) == 0 {
		return true
	}
	span := min(bottles[len(bottles)-1].end, rainMin) - bottles[0].start
	return min(s.LastMin, rainMin)-max(s.FirstMin, bottles[0].start) >= 0.9*span
}

// fromReadings makes the hydrograph of a logger channel.
//
// A running mass or volume gives in each window of SlopeWindowMin the slope of
// the least-squares line, and as its volume what the total gained (closeTotal);
// a rate gives its mean. Where readings are further
// apart than half a window, the slope is that between neighbouring readings and
// the rate the mean of the two. Mass becomes volume by the density of water at
// the run's temperature and the plot's mean concentration.
//
// A time without readings is a gap: a running total has carried on through it
// and gives the volume (flag gap); a rate is interpolated by the trapezoidal
// rule (flags gap, interpolated). A total that falls by more than its error was
// emptied: the bins on both sides of the fall are interpolated (flag reset).
// Source: [SavitzkyGolay1964]; data dictionary for the window.
func (h *Hydrograph) fromReadings(run *experiment.Run, s *experiment.Series) {
	h.FromReadings, h.Status = true, Dry
	s = sinceRain(s)
	toML := h.toML(run, s)
	spacing := (s.LastMin - s.FirstMin) / float64(s.N-1)
	var pieces []stretch
	if spacing > h.set.SlopeWindowMin/2 {
		pieces = h.sparse(s, toML)
	} else {
		pieces = h.windows(s, toML)
		h.fine = moving(s, h.set.SlopeWindowMin, toML)
	}
	h.fine = withoutResets(h.fine, pieces, h.set.SlopeWindowMin)
	h.errorsOf(s, pieces, toML)
	closeTotal(s, pieces, toML)
	h.bridgePieces(s, pieces, toML)
	h.closeReadings(pieces)
	noise := 0.0
	for i := range h.Intervals {
		iv := &h.Intervals[i]
		h.VolumeML += iv.VolumeML
		noise += iv.UVolumeML * iv.UVolumeML
		if iv.Kind == Measured {
			h.NMeasured++
		}
	}
	if s.Channel != experiment.RunoffMass && s.Channel != experiment.DrainageMass {
		gain := h.errs.VolumeRel * h.VolumeML
		noise += gain * gain
	}
	h.UVolumeML = math.Sqrt(noise)
	if h.VolumeML > 3*h.UVolumeML && h.VolumeML > 0 && (h.Stream != experiment.Runoff || h.sustained()) {
		h.Status = Flowing
	} else {
		h.Flags.Add("no_runoff")
	}
}

// leastShare is the share of the intensity below which the rate of a logger is
// taken for the drift of the instrument: 0.5 g/min of a balance is a tenth of
// that on a plot of 0.5 m2 under 60 mm/h. Common practice, no source.
const leastShare = 0.02

// sustained reports whether the mean rate of two neighbouring intervals passes
// three times its error and leastShare of the intensity somewhere. A running
// total that only drifts or trembles does not, however long its record.
func (h *Hydrograph) sustained() bool {
	least := leastShare * h.rain.IntensityMMH
	if len(h.Intervals) == 1 {
		return h.Intervals[0].RateMMH > max(least, 3*h.Intervals[0].URateMMH)
	}
	for i := 1; i < len(h.Intervals); i++ {
		a, b := &h.Intervals[i-1], &h.Intervals[i]
		d := b.EndMin - a.StartMin
		rate, u := h.rateMMH(a.VolumeML+b.VolumeML, d), h.rateMMH(math.Hypot(a.UVolumeML, b.UVolumeML), d)
		if rate > max(least, 3*u) {
			return true
		}
	}
	return false
}

// sinceRain returns a channel without the readings before the start of rain.
func sinceRain(s *experiment.Series) *experiment.Series {
	if len(s.Bins) == 0 || s.Bins[0].Index >= 0 {
		return s
	}
	out := *s
	for len(out.Bins) > 0 && out.Bins[0].Index < 0 {
		out.N -= int64(out.Bins[0].N)
		out.Bins = out.Bins[1:]
	}
	if len(out.Bins) > 0 {
		out.FirstMin = float64(out.Bins[0].Index) * out.BinMin
	}
	return &out
}

// toML returns the factor from the channel's unit (per min for a total) to mL/min.
func (h *Hydrograph) toML(run *experiment.Run, s *experiment.Series) float64 {
	switch {
	case s.VolumeRate, s.Channel == experiment.RunoffVolume, s.Channel == experiment.DrainageVolume:
		return 1
	case !s.Channel.Cumulative():
		return h.AreaM2 / 0.06 // mm/h over the plot
	}
	m := newMasses(run, h)
	var none experiment.Sample
	none.Stream = h.Stream
	perML := m.density(&none, &m.flags)
	h.Flags.Add(m.flags...)
	return water.VolumeOfMass(1, m.concentration(perML), perML)
}

// compare flags readings whose volume over the bottles' intervals differs from
// the bottles' by more than 5 %.
func (h *Hydrograph) compare(bottles []bottle) {
	var caught, logged float64
	for i := range bottles {
		b := &bottles[i]
		if b.lower {
			continue
		}
		caught += b.ml
		for k := range h.Intervals {
			iv := &h.Intervals[k]
			if overlap := min(iv.EndMin, b.end) - max(iv.StartMin, b.start); overlap > 0 {
				logged += iv.VolumeML * overlap / iv.Minutes()
			}
		}
	}
	if math.Abs(caught-logged) > 0.05*math.Max(caught, logged) {
		h.Flags.Add("readings_disagree")
	}
}
