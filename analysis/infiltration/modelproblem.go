package infiltration

import (
	"slices"

	"sheetwash/analysis/internal/fit"
)

// pondingStarts are the times of ponding from which a fit begins, as shares of
// the time at which a tenth of the first interval has passed.
func pondingStarts() []float64 { return []float64{0.02, 0.3, 0.7, 1} }

// starts returns all combinations of the starts of the coordinates with times of
// ponding.
func (c *capacity) starts(data []fit.Mean, r rain) []fit.Point {
	starts := []fit.Point{{}}
	for n := range c.coordinates {
		if len(c.coordinates[n].starts) == 0 {
			continue
		}
		var more []fit.Point
		for _, s := range starts {
			for _, u := range c.coordinates[n].starts {
				s[n] = u
				more = append(more, s)
			}
		}
		starts = more
	}
	latest := (data[0].Start + 0.1*(data[0].End-data[0].Start)) / 60
	out := make([]fit.Point, 0, len(starts)*len(pondingStarts()))
	for _, s := range starts {
		p, _ := c.parameters(s, r)
		for _, share := range pondingStarts() {
			q := c.pondingAt(share*latest, p, r)
			for n := range c.coordinates {
				s[n] = c.coordinates[n].of(q[n], r)
			}
			if last := len(out) - 1; last < 0 || out[last] != s { // where nothing ponds later
				out = append(out, s)
			}
		}
	}
	return out
}

// box returns the least-squares problem of the model. Where water stays on the
// plot, its residence time has been taken out, and the last residual is its prior.
func (c *capacity) box(in *seen, r rain) *fit.Box {
	s, water := newSampling(in.data), newFlowing(in)
	k, n := len(c.coordinates), len(in.data)
	var low, high fit.Point
	for n := range c.coordinates {
		low[n], high[n] = c.coordinates[n].low, c.coordinates[n].high
	}
	residuals := n
	if water != nil {
		residuals++
	}
	return fit.NewBox(k, residuals, low, high, func(u fit.Point, res []float64, j *[fit.MostCoordinates][]float64) {
		p, by := c.parameters(u, r)
		if j == nil {
			c.depths(p, r, s.t, s.depth, nil)
		} else {
			c.depths(p, r, s.t, s.depth, &s.slope)
		}
		for n := range s.from {
			a, b, per := s.from[n], s.to[n], s.per[n]
			res[n] = s.y[n] - (s.depth[b]-s.depth[a])*per
			if j == nil {
				continue
			}
			for q := range k {
				j[q][n] = -(s.slope[q][b] - s.slope[q][a]) * per * by[q]
			}
		}
		if water != nil {
			water.project(res, j, k)
		}
	})
}

// sampling holds the times at which intervals begin and end, h, each once, and
// what a fit needs of the intervals: the mean over its error, and the inverse of
// error times length.
type sampling struct {
	t, depth []float64
	slope    slopes
	from, to []int
	y, per   []float64
}

func newSampling(data []fit.Mean) *sampling {
	n := len(data)
	s := &sampling{from: make([]int, n), to: make([]int, n)}
	buffer := make([]float64, 12*n)
	next := func(m int) (part []float64) {
		part, buffer = buffer[:m:m], buffer[m:]
		return part
	}
	s.t = next(2 * n)[:0]
	for _, m := range data {
		s.t = append(s.t, m.Start/60, m.End/60)
	}
	slices.Sort(s.t)
	s.t = slices.Compact(s.t)
	s.depth = next(2 * n)[:len(s.t)]
	for q := range s.slope {
		s.slope[q] = next(2 * n)[:len(s.t)]
	}
	s.y, s.per = next(n), next(n)
	for k, m := range data {
		s.from[k], _ = slices.BinarySearch(s.t, m.Start/60)
		s.to[k], _ = slices.BinarySearch(s.t, m.End/60)
		s.y[k], s.per[k] = m.Value/m.U, 60/((m.End-m.Start)*m.U)
	}
	return s
}
