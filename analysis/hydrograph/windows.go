package hydrograph

import (
	"math"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/result"
)

// stretch is a piece of the course that readings give: a window with its rate,
// or a time without enough readings.
type stretch struct {
	start, end float64
	mlMin, u   float64
	known      bool
	line       level
	flags      result.Flags
}

// windows cuts a channel into windows of equal length from the start of rain on.
// A rest shorter than half a window joins the last one.
func windows(s *experiment.Series, windowMin, toML float64) []stretch {
	k := max(1, int(math.Round(windowMin/s.BinMin)))
	width := float64(k) * s.BinMin
	out := make([]stretch, 0, int((s.LastMin-s.FirstMin)/width)+2)
	for lo := 0; lo < len(s.Bins); {
		tile := int(s.Bins[lo].Index) / k
		hi := lo
		for hi < len(s.Bins) && int(s.Bins[hi].Index)/k == tile {
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
