package infiltration

import (
	"sheetwash/analysis/internal/fit"
)

// seen is what the models are fitted to: mean infiltration over intervals as it is
// seen, and by how much, mm/h, every minute that water takes to leave the plot
// raises each.
type seen struct {
	data []fit.Mean
	rise []float64 // mm/h per min; nil: water leaves at once
}

// rises returns what the intervals hold of water that is still in flow on the
// plot: its depth is the residence time L times the rate q at which it leaves, so
// that over an interval from t1 to t2
//
//	f seen = f + L (q(t2) - q(t1))/(t2 - t1).
//
// q is that of the curve of the headline, delay included; at the onset there is
// none.
func (c *curveFit) rises() seen {
	d := &c.decline
	s := seen{data: d.Data[c.first:]}
	s.rise = make([]float64, len(s.data))
	for n, m := range s.data {
		s.rise[n] = (c.runoff(m.End) - c.runoff(m.Start)) / (m.End - m.Start)
	}
	return s
}

// runoff returns the rate at which water leaves the plot, mm/h, as the curve has it.
func (c *curveFit) runoff(atMin float64) float64 {
	d := &c.decline
	if atMin <= d.Onset {
		return 0
	}
	return d.Ceiling - d.SeenAt(c.best, fit.Exponential, atMin)
}

// flowing takes the residence time out of a fit: for all else given, the sum of
// squares with the half-normal prior of the residence time, as in fit.Decline, is
// a parabola in it, whose least value the residuals are changed to (variable
// projection, Golub & Pereyra 1973).
type flowing struct {
	per       []float64 // change of the residuals per min
	curvature float64   // of the sum of squares
}

func newFlowing(s *seen) *flowing {
	if s.rise == nil {
		return nil
	}
	w := &flowing{per: make([]float64, len(s.data)), curvature: 1 / (lagScaleMin * lagScaleMin)}
	for n := range w.per {
		w.per[n] = s.rise[n] / s.data[n].U
		w.curvature += w.per[n] * w.per[n]
	}
	return w
}

// project changes residuals, and their derivatives by k coordinates where j is not
// nil, to those with the best residence time, whose prior is the last of them.
func (w *flowing) project(r []float64, j *[fit.MostCoordinates][]float64, k int) {
	last := len(w.per)
	r[last] = 0
	lag := dot(w.per, r) / w.curvature
	if !(lag > 0) {
		lag = 0
	}
	less(r, lag, w.per)
	r[last] = lag / lagScaleMin
	if j == nil {
		return
	}
	for c := range k {
		j[c][last] = 0
		if lag > 0 {
			by := dot(w.per, j[c]) / w.curvature
			less(j[c], by, w.per)
			j[c][last] = by / lagScaleMin
		}
	}
}

func dot(a, b []float64) float64 {
	s := 0.0
	b = b[:len(a)]
	for n, v := range a {
		s += v * b[n]
	}
	return s
}

// less takes a multiple of b off a.
func less(a []float64, multiple float64, b []float64) {
	a = a[:len(b)]
	for n, v := range b {
		a[n] -= multiple * v
	}
}
