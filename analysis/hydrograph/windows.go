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
	closing    float64 // mL between both ends beyond mlMin times the length
	known      bool
	line       level
	flags      result.Flags
}

// windows cuts a channel into windows of equal length from the start of rain on.
// A rest shorter than half a window joins the last one. A window in which the
// container was emptied is divided there, so that no more is lost than the bins
// before and after.
func (h *Hydrograph) windows(s *experiment.Series, toML float64) []stretch {
	k := max(1, int(math.Round(h.set.SlopeWindowMin/s.BinMin)))
	width := float64(k) * s.BinMin
	emptied := h.emptied(s)
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
		out = p.divide(out, s, lo, hi, emptied, toML)
		lo = hi
	}
	return out
}

// divide appends the window p of the bins lo to hi: whole, or in parts where
// the container was emptied.
func (p *stretch) divide(out []stretch, s *experiment.Series, lo, hi int, emptied []bool, toML float64) []stretch {
	for a := lo; a < hi; {
		b := a + 1
		for b < hi && emptied[b] == emptied[a] {
			b++
		}
		part := stretch{start: p.start, end: p.end}
		if a > lo {
			part.start = float64(s.Bins[a].Index) * s.BinMin
		}
		if b < hi {
			part.end = float64(s.Bins[b].Index) * s.BinMin
		}
		if emptied[a] {
			part.flags.Add("reset")
		} else {
			part.fill(s, s.Bins[a:b], toML)
		}
		out = append(out, part)
		a = b
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

// sparse cuts a channel at its readings. Where the total falls the container was
// emptied, and nothing is known.
func (h *Hydrograph) sparse(s *experiment.Series, toML float64) []stretch {
	falls := h.falls(s)
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
		if len(falls) > 0 && falls[0] == i {
			falls, p.known = falls[1:], false
			p.flags.Add("reset")
		}
		out = append(out, p)
	}
	return out
}

// closeTotal gives the stretches of a running total the volume between their
// ends, where the total is the mean of the two lines that meet. The slope alone
// is not that: at a bend, such as the end of rain, a least-squares line weighs
// the middle of its window, and the sum of slopes would miss part of the
// recession. So the volumes add up to what the total gained.
func closeTotal(s *experiment.Series, pieces []stretch, toML float64) {
	if !s.Channel.Cumulative() {
		return
	}
	for i := 1; i < len(pieces); i++ {
		a, b := &pieces[i-1], &pieces[i]
		if !a.known || !b.known || b.start > a.end+sameMin {
			continue
		}
		half := (b.line.value(b.start) - a.line.value(a.end)) / 2 * toML
		a.closing += half
		b.closing += half
	}
}

// errorsOf fills the uncertainties of the rates, mL/min.
//
//	u(slope) = s / sqrt(sum (t - T)^2)
//
// s is the largest of the reading's own error, the scatter of the means of bins
// about their lines, pooled over the windows, and, for readings too far apart
// for lines, their tremor. Windows in which the container was emptied have no
// part in it. The error of a rate's mean is
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
	if df == 0 && s.Channel.Cumulative() {
		own = max(own, tremor(s.Bins, s.BinMin, h.falls(s))*toML)
	}
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
