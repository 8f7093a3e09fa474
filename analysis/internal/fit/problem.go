package fit

import "math"

// problem is a Decline in the units of the search, with the room in which its
// sums are worked out. One search works on one problem at a time: what a scratch
// slice holds is good until the next curve or lag.
type problem struct {
	d *Decline

	// Times in units of To - From after From, and in minutes after the Onset (0
	// before it), at which intervals begin and end; neighbours that touch share
	// one. Interval i lies between those of index first[i] and first[i]+1.
	edge, after []float64
	first       []int
	w, wy       []float64 // weight of an interval; times its value
	late        []lagSums // sums over the intervals from one on without a transient

	decay        []float64 // scratch: what decays made of the edges
	means, slope []float64 // scratch: of the curve in hand, and by kappa
	h, hSlope    []float64 // scratch: of the transient in hand, and by the lag
	out          [MaxStarts]quadratic
}

func newProblem(d *Decline) *problem {
	n := len(d.Data)
	p := &problem{d: d, first: make([]int, n), late: make([]lagSums, n+1)}
	buffer := make([]float64, 12*n)
	next := func(m int) (part []float64) {
		part, buffer = buffer[:m:m], buffer[m:]
		return part
	}
	p.edge, p.after, p.decay = next(2 * n)[:0], next(2 * n)[:0], next(2*n)
	p.w, p.wy = next(n), next(n)
	p.means, p.slope, p.h, p.hSlope = next(n), next(n), next(n), next(n)
	at := math.NaN()
	for i := range d.Data {
		m := &d.Data[i]
		if m.Start != at {
			p.addEdge(m.Start)
		}
		p.first[i] = len(p.edge) - 1
		p.addEdge(m.End)
		at = m.End
		p.w[i] = 1 / (m.U * m.U)
		p.wy[i] = p.w[i] * m.Value
	}
	for i := n - 1; i >= 0; i-- {
		s := p.late[i+1]
		s.b1b1 += p.w[i]
		s.b1z += p.wy[i]
		s.zz += p.wy[i] * d.Data[i].Value
		p.late[i] = s
	}
	return p
}

func (p *problem) addEdge(t float64) {
	p.edge = append(p.edge, (t-p.d.From)/(p.d.To-p.d.From))
	p.after = append(p.after, max(t-p.d.Onset, 0))
}

// from returns the problem without the data before a start, with the same
// scratch.
func (p *problem) from(start int) *problem {
	rest := *p
	rest.d = p.d.from(start)
	at := p.d.Starts[start]
	rest.first, rest.w, rest.wy, rest.late = p.first[at:], p.w[at:], p.wy[at:], p.late[at:]
	rest.means, rest.slope, rest.h, rest.hSlope = p.means[at:], p.slope[at:], p.h[at:], p.hSlope[at:]
	return &rest
}

// curveMeans fills out with the mean of g over every interval: the difference of
// the antiderivative over the length. slope, if there is one, takes its
// derivative by kappa.
func (p *problem) curveMeans(c *curve, out, slope []float64) {
	switch {
	case c.kappa == 0:
		for i, f := range p.first {
			out[i] = 1 - (p.edge[f]+p.edge[f+1])/2
		}
		return
	case c.shape == Root:
		p.rootMeans(c.kappa, out, slope)
	default:
		p.decayMeans(c.kappa, p.edge, out, slope)
	}
	scale, below := 1/c.height, c.last/c.height
	for i, v := range out {
		out[i] = v*scale - below
	}
	if slope != nil {
		steep := c.lastSlope()
		for i, v := range slope {
			slope[i] = (v + steep*(1-out[i])) * scale
		}
	}
}

// rootMeans fills out with the mean of (1 + 2 kappa x)^(-1/2) over every
// interval.
func (p *problem) rootMeans(kappa float64, out, slope []float64) {
	from := p.first[0]
	roots := p.decay[from:len(p.edge)]
	for k, x := range p.edge[from:] {
		roots[k] = math.Sqrt(1 + 2*kappa*x)
	}
	for i, f := range p.first {
		// (sqrt(1+2kb) - sqrt(1+2ka)) / (k (b-a)), without the difference
		start, end := roots[f-from], roots[f-from+1]
		out[i] = 2 / (start + end)
		if slope != nil {
			slope[i] = -out[i] * out[i] / 2 * (p.edge[f]/start + p.edge[f+1]/end)
		}
	}
}

// transient fills h with the mean of exp(-(t-Onset)/lag) over every interval,
// and slope, if there is one, with its derivative by the lag. It returns how
// many intervals the transient reaches.
func (p *problem) transient(lag float64, h, slope []float64) int {
	if !(lag > 0) {
		clear(h)
		return 0
	}
	p.decayMeans(1/lag, p.after, h, slope)
	for i := range slope {
		slope[i] /= -lag * lag
	}
	reach := 0
	for reach < len(h) && h[reach] > 0 {
		reach++
	}
	return reach
}

// shortest is the product of rate and length below which the difference of the
// decays at both ends of an interval would lose its digits: the root of their
// product is exact to a 24th of its square.
const shortest = 1e-4

// decayMeans fills out with the mean of exp(-rate x) over every interval,
//
//	M = (exp(-rate a) - exp(-rate b)) / (rate (b-a)),
//
// and slope, if there is one, with its derivative by the rate: with y = rate
// (b-a)/2,
//
//	dM/drate = -M ((a+b)/2 - (b-a)/2 (coth y - 1/y)).
func (p *problem) decayMeans(rate float64, x, out, slope []float64) {
	from := p.first[0]
	e := p.decay[from:len(x)]
	x = x[from:]
	decays(rate, x, e)
	for i, f := range p.first {
		f -= from
		start, end, product := e[f], e[f+1], rate*(x[f+1]-x[f])
		if product < shortest {
			out[i] = math.Sqrt(start * end)
		} else {
			out[i] = (start - end) / product
		}
		if slope != nil {
			slope[i] = -out[i] * ((x[f]+x[f+1])/2 - (x[f+1]-x[f])/2*langevin(product/2, start, end))
		}
	}
}

// langevin returns coth y - 1/y; the ratio of start to end is exp(2y).
func langevin(y, start, end float64) float64 {
	if y > 0.125 {
		if !(start > 0) {
			return 0 // of a mean that is nothing
		}
		return (start+end)/(start-end) - 1/y
	}
	y2 := y * y
	return y * (1./3 - y2*(1./45-y2*(2./945-y2*(1./4725-y2*2/93555))))
}
