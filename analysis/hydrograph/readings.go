package hydrograph

import (
	"math"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/result"
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

// stretch is a piece of the course that readings give: a window with its rate,
// or a time without enough readings.
type stretch struct {
	start, end float64
	mlMin, u   float64
	known      bool
	line       level
	flags      result.Flags
}

// fromReadings makes the hydrograph of a logger channel.
//
// A running mass or volume gives in each window of SlopeWindowMin the slope of
// the least-squares line; a rate gives its mean. Where readings are further
// apart than half a window, the slope is that between neighbouring readings and
// the rate the mean of the two. Mass becomes volume by the density of water at
// the run's temperature and the plot's mean concentration.
//
// A time without readings is a gap: a running total has carried on through it
// and gives the volume (flag gap); a rate is interpolated by the trapezoidal
// rule (flags gap, interpolated). A total that falls by more than its error was
// emptied: its window is interpolated (flag reset).
// Source: [SavitzkyGolay1964]; data dictionary for the window.
func (h *Hydrograph) fromReadings(run *experiment.Run, s *experiment.Series) {
	h.FromReadings, h.Status = true, Dry
	s = sinceRain(s)
	toML := h.toML(run, s)
	spacing := (s.LastMin - s.FirstMin) / float64(s.N-1)
	var pieces []stretch
	if spacing > h.set.SlopeWindowMin/2 {
		pieces = sparse(s, toML)
	} else {
		pieces = windows(s, h.set.SlopeWindowMin, toML)
		h.fine = moving(s, h.set.SlopeWindowMin, toML)
	}
	h.errorsOf(s, pieces, toML)
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
	if h.VolumeML > 3*h.UVolumeML && h.VolumeML > 0 {
		h.Status = Flowing
	} else {
		h.Flags.Add("no_runoff")
	}
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

// windows cuts a channel into windows of equal length from the start of rain on.
// A rest shorter than half a window joins the last one.
func windows(s *experiment.Series, windowMin, toML float64) []stretch {
	k := max(1, int(math.Round(windowMin/s.BinMin)))
	width := float64(k) * s.BinMin
	out := make([]stretch, 0, int((s.LastMin-s.FirstMin)/width)+2)
	for lo := 0; lo < len(s.Bins); {
		tile := floorDiv(int(s.Bins[lo].Index), k)
		hi := lo
		for hi < len(s.Bins) && floorDiv(int(s.Bins[hi].Index), k) == tile {
			hi++
		}
		p := stretch{start: max(float64(tile)*width, s.FirstMin), end: float64(tile+1) * width}
		if rest := s.LastMin - p.end; rest < width/2 {
			p.end = s.LastMin
			hi = len(s.Bins)
		}
		if n := len(out); n > 0 && p.start > out[n-1].end+sameMin {
			out = append(out, stretch{start: out[n-1].end, end: p.start, flags: result.Flags{"gap"}})
		}
		p.fill(s, s.Bins[lo:hi], toML)
		out = append(out, p)
		lo = hi
	}
	return out
}

func floorDiv(a, b int) int {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// fill gives a stretch the rate of its bins, if they cover half of it.
func (p *stretch) fill(s *experiment.Series, bins []experiment.Bin, toML float64) {
	p.line = line(bins, s.BinMin)
	spread := p.line.last - p.line.first + s.BinMin
	switch {
	case spread < (p.end-p.start)/2:
		p.flags.Add("gap")
	case s.Channel.Cumulative():
		p.known = p.line.sxx > 0
		p.mlMin = p.line.slope * toML
	default:
		p.known = true
		p.mlMin = p.line.mean * toML
	}
}

// sparse cuts a channel at its readings.
func sparse(s *experiment.Series, toML float64) []stretch {
	out := make([]stretch, 0, len(s.Bins))
	for i := 1; i < len(s.Bins); i++ {
		p := stretch{start: binMean(s.Bins[i-1], s.BinMin), end: binMean(s.Bins[i], s.BinMin), known: true}
		p.line = line(s.Bins[i-1:i+1], s.BinMin)
		a, b := s.Bins[i-1].SumV/float64(s.Bins[i-1].N), s.Bins[i].SumV/float64(s.Bins[i].N)
		if s.Channel.Cumulative() {
			p.mlMin = (b - a) / (p.end - p.start) * toML
		} else {
			p.mlMin = (a + b) / 2 * toML
		}
		out = append(out, p)
	}
	return out
}

// errorsOf fills the uncertainties of the rates, mL/min.
//
//	u(slope) = s / sqrt(sum (t - T)^2)
//
// s is the larger of the reading's own error and the scatter of the means of
// bins about their lines, pooled over the windows. The error of a rate's mean is
// the scatter over sqrt(n).
func (h *Hydrograph) errorsOf(s *experiment.Series, pieces []stretch, toML float64) {
	var ss float64
	df := 0
	bins := s.Bins
	for i := range pieces {
		p := &pieces[i]
		lo := 0
		for lo < len(bins) && binMean(bins[lo], s.BinMin) < p.start {
			lo++
		}
		hi := lo
		for hi < len(bins) && binMean(bins[hi], s.BinMin) < p.end {
			hi++
		}
		if p.known {
			q, n := p.line.squares(bins[lo:hi], s.BinMin)
			ss, df = ss+q, df+n
		}
		bins = bins[lo:]
	}
	scatter := 0.0
	if df > 0 {
		scatter = math.Sqrt(ss/float64(df)) * toML
	}
	own := h.readingError(s) * toML
	for i := range pieces {
		p := &pieces[i]
		switch {
		case !p.known:
		case s.Channel.Cumulative() && p.line.sxx > 0:
			p.u = max(own, scatter) / math.Sqrt(p.line.sxx)
		default:
			p.u = scatter / math.Sqrt(float64(max(p.line.n, 1)))
		}
	}
}

// readingError returns the standard uncertainty of one reading of a running
// total, in its unit: of a mass, or the absolute part of a volume.
func (h *Hydrograph) readingError(s *experiment.Series) float64 {
	if s.Channel == experiment.RunoffMass || s.Channel == experiment.DrainageMass {
		return h.errs.MassG
	}
	return h.errs.VolumeML
}

// bridgePieces turns stretches into intervals, and fills those without a rate.
func (h *Hydrograph) bridgePieces(s *experiment.Series, pieces []stretch, toML float64) {
	h.Intervals = make([]Interval, 0, len(pieces)+2)
	h.emptied(s, pieces)
	if len(pieces) > 0 && pieces[0].start > sameMin {
		h.Intervals = append(h.Intervals, Interval{EndMin: pieces[0].start, Kind: NoFlow, Sample: -1})
		if pieces[0].start > h.set.SlopeWindowMin {
			h.Flags.Add("start_assumed")
		}
	}
	for i := 0; i < len(pieces); {
		j := i
		for j < len(pieces) && !pieces[j].known {
			j++
		}
		if j > i {
			h.bridgeGap(s, pieces, i, j, toML)
			i = j
			continue
		}
		h.addPiece(&pieces[i], Measured)
		i++
	}
}

// bridgeGap fills stretches i to j, of which none has a rate.
func (h *Hydrograph) bridgeGap(s *experiment.Series, pieces []stretch, i, j int, toML float64) {
	gap := stretch{start: pieces[i].start, end: pieces[j-1].end}
	for k := i; k < j; k++ {
		gap.flags.Add(pieces[k].flags...)
	}
	gap.flags.Add("gap")
	d := gap.end - gap.start
	before, after := stretch{}, stretch{}
	if i > 0 {
		before = pieces[i-1]
	}
	if j < len(pieces) {
		after = pieces[j]
	}
	if s.Channel.Cumulative() && before.known && after.known && !gap.flags.Has("reset") {
		gap.mlMin = (after.line.value(gap.end) - before.line.value(gap.start)) / d * toML
		gap.u = math.Hypot(before.u, after.u)
		h.addPiece(&gap, Measured)
		h.Flags.Add("gap")
		return
	}
	gap.mlMin = (before.mlMin + after.mlMin) / 2
	gap.u = math.Hypot(math.Abs(after.mlMin-before.mlMin)/math.Sqrt(12), math.Hypot(before.u, after.u)/2)
	gap.flags.Add("interpolated")
	h.addPiece(&gap, Interpolated)
	h.InterpolatedML += gap.mlMin * d
	h.Flags.Add(gap.flags...)
}

// emptied marks the stretches in which a running total falls by more than ten
// times the error of a reading and a fifth of its range: the container was emptied.
func (h *Hydrograph) emptied(s *experiment.Series, pieces []stretch) {
	if !s.Channel.Cumulative() {
		return
	}
	highest, lowest := math.Inf(-1), math.Inf(1)
	for i := range s.Bins {
		v := s.Bins[i].SumV / float64(s.Bins[i].N)
		highest, lowest = max(highest, v), min(lowest, v)
	}
	limit := max(0.2*(highest-lowest), 10*h.readingError(s))
	at := 0
	for i := 1; i < len(s.Bins); i++ {
		if s.Bins[i-1].SumV/float64(s.Bins[i-1].N)-s.Bins[i].SumV/float64(s.Bins[i].N) <= limit {
			continue
		}
		from, to := binMean(s.Bins[i-1], s.BinMin), binMean(s.Bins[i], s.BinMin)
		for ; at < len(pieces) && pieces[at].start < to; at++ {
			if pieces[at].end > from {
				pieces[at].known = false
				pieces[at].flags.Add("reset")
			}
		}
		at = max(0, at-1)
	}
}

func (h *Hydrograph) addPiece(p *stretch, kind Kind) {
	d := p.end - p.start
	h.Intervals = append(h.Intervals, Interval{StartMin: p.start, EndMin: p.end, VolumeML: p.mlMin * d, UVolumeML: p.u * d,
		RateMMH: h.rateMMH(p.mlMin, 1), URateMMH: h.rateMMH(p.u, 1), Kind: kind, Sample: -1, Flags: p.flags})
}

// closeReadings holds the last rate to the end of rain where the logger stopped early.
func (h *Hydrograph) closeReadings(pieces []stretch) {
	if len(pieces) == 0 {
		return
	}
	last := &pieces[len(pieces)-1]
	g := h.rain.DurationMin - last.end
	if g <= h.set.SlopeWindowMin/2 {
		return
	}
	h.Flags.Add("collection_ended_early")
	if h.Stream != experiment.Runoff {
		return
	}
	held := stretch{start: last.end, end: h.rain.DurationMin, mlMin: last.mlMin, u: last.u, flags: result.Flags{"gap", "held"}}
	h.addPiece(&held, Held)
	h.HeldML += held.mlMin * g
	h.Flags.Add("held")
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
