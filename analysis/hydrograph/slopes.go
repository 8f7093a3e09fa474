package hydrograph

import (
	"math"

	"sheetwash/analysis/experiment"
)

// ratePoint is a rate at a moment, mL/min.
type ratePoint struct{ min, mlMin float64 }

// level is a straight line through readings: value = mean + slope (t - at).
type level struct {
	n               int
	at, mean, slope float64 // slope per min
	sxx             float64 // sum of (t - at)^2
	first, last     float64 // mean times of the first and the last bin
	// Sums over the readings that mean and slope follow from, of times since
	// origin and values above base.
	origin, base             float64
	sumT, sumV, sumTT, sumTV float64
}

// line fits a least-squares line to the readings of some bins.
//
//	slope = sum (t - T)(v - V) / sum (t - T)^2
//
// with the means T and V of times and values: the linear first derivative of
// Savitzky and Golay over the window that the bins make, for readings that need
// not be evenly spaced. The sums of the bins give it exactly.
// Source: [SavitzkyGolay1964].
func line(bins []experiment.Bin, binMin float64) level {
	var l level
	if len(bins) == 0 {
		return l
	}
	origin := float64(bins[0].Index) * binMin
	base := bins[0].SumV / float64(bins[0].N)
	var n, t, v, tt, tv float64
	for i := range bins {
		b := &bins[i]
		k, o := float64(b.N), float64(b.Index)*binMin-origin
		n += k
		t += b.SumT + k*o
		v += b.SumV - k*base
		tt += b.SumTT + o*(2*b.SumT+k*o)
		tv += b.SumTV - base*b.SumT + o*(b.SumV-k*base)
	}
	l.n = int(n)
	l.origin, l.base, l.sumT, l.sumV, l.sumTT, l.sumTV = origin, base, t, v, tt, tv
	l.at, l.mean = origin+t/n, base+v/n
	l.sxx = max(0, tt-t*t/n)
	if l.sxx > 1e-9*max(tt, 1e-12) {
		l.slope = (tv - t*v/n) / l.sxx
	} else {
		l.sxx = 0
	}
	l.first, l.last = binMean(bins[0], binMin), binMean(bins[len(bins)-1], binMin)
	return l
}

// binMean returns the mean time of a bin's readings.
func binMean(b experiment.Bin, binMin float64) float64 {
	return float64(b.Index)*binMin + b.SumT/float64(b.N)
}

// value returns the line's value at a time.
func (l *level) value(min float64) float64 { return l.mean + l.slope*(min-l.at) }

// squares returns the weighted squared distances of the means of bins from the
// line, and how many more bins there are than the line has parameters.
func (l *level) squares(bins []experiment.Bin, binMin float64) (ss float64, df int) {
	if len(bins) < 3 || l.sxx == 0 {
		return 0, 0
	}
	for i := range bins {
		r := bins[i].SumV/float64(bins[i].N) - l.value(binMean(bins[i], binMin))
		ss += float64(bins[i].N) * r * r
	}
	return ss, len(bins) - 2
}

// moving returns the slopes of windows that move on by one bin, at their
// middles, in mL/min: each over the bins whose index is within half a window.
func moving(s *experiment.Series, windowMin, toML float64) []ratePoint {
	k := max(1, int(math.Round(windowMin/s.BinMin)))
	out := make([]ratePoint, 0, len(s.Bins))
	lo := 0
	for hi := range s.Bins {
		for int(s.Bins[hi].Index-s.Bins[lo].Index) >= k {
			lo++
		}
		if int(s.Bins[hi].Index-s.Bins[lo].Index) != k-1 {
			continue
		}
		w := s.Bins[lo : hi+1]
		if !s.Channel.Cumulative() {
			var sum, n float64
			for _, b := range w {
				sum, n = sum+b.SumV, n+float64(b.N)
			}
			out = append(out, ratePoint{(float64(w[0].Index) + float64(k)/2) * s.BinMin, sum / n * toML})
			continue
		}
		if l := line(w, s.BinMin); l.sxx > 0 {
			out = append(out, ratePoint{l.at, l.slope * toML})
		}
	}
	return out
}

// withoutResets returns the points whose window touches no stretch in which the
// container was emptied: the slope there is not that of the flow.
func withoutResets(points []ratePoint, pieces []stretch, windowMin float64) []ratePoint {
	out := points[:0]
	at := 0
	for _, p := range points {
		for at < len(pieces) && (!pieces[at].flags.Has("reset") || pieces[at].end < p.min-windowMin/2) {
			at++
		}
		if at == len(pieces) || pieces[at].start > p.min+windowMin/2 {
			out = append(out, p)
		}
	}
	return out
}
