package hydrograph

import (
	"math"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/result"
)

// bridgePieces turns stretches into intervals, and fills those without a rate.
func (h *Hydrograph) bridgePieces(s *experiment.Series, pieces []stretch, toML float64) {
	h.Intervals = make([]Interval, 0, len(pieces)+2)
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
	} else {
		after.mlMin, after.u = before.mlMin, before.u // goes on as it was
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

// falls returns the bins at which a running total has fallen by more than ten
// times the error of a reading, or its tremor, and a fifth of its range: the
// container was emptied.
func (h *Hydrograph) falls(s *experiment.Series) []int {
	if !s.Channel.Cumulative() || len(s.Bins) == 0 {
		return nil
	}
	highest, lowest := math.Inf(-1), math.Inf(1)
	for i := range s.Bins {
		v := s.Bins[i].SumV / float64(s.Bins[i].N)
		highest, lowest = max(highest, v), min(lowest, v)
	}
	steep := fallsBeyond(s, 0.5*(highest-lowest)) // these would pass for tremor
	return fallsBeyond(s, max(0.2*(highest-lowest), 10*max(h.readingError(s), tremor(s.Bins, s.BinMin, steep))))
}

// fallsBeyond returns the bins whose mean is lower than that of the bin before by
// more than the limit.
func fallsBeyond(s *experiment.Series, limit float64) []int {
	var out []int
	for i := 1; i < len(s.Bins); i++ {
		if s.Bins[i-1].SumV/float64(s.Bins[i-1].N)-s.Bins[i].SumV/float64(s.Bins[i].N) > limit {
			out = append(out, i)
		}
	}
	return out
}

// emptied tells of each bin whether the container may have been emptied in it:
// of the bins on both sides of a fall, since the mean of the one in which it
// happened lies in between.
func (h *Hydrograph) emptied(s *experiment.Series) []bool {
	out := make([]bool, len(s.Bins))
	for _, i := range h.falls(s) {
		out[i-1], out[i] = true, true
	}
	return out
}

func (h *Hydrograph) addPiece(p *stretch, kind Kind) {
	d := p.end - p.start
	h.Intervals = append(h.Intervals, Interval{StartMin: p.start, EndMin: p.end, VolumeML: p.mlMin*d + p.closing, UVolumeML: p.u * d,
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
	h.Flags.Add("gap", "held")
}
