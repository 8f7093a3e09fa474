package fit

import "math"

// grid holds the sums of squares of a Decline for one family of shapes over
// some values of kappa and lag.
type grid struct {
	d          *Decline
	shape      Shape
	kappa, lag []float64
	sums       []quadratic // from the first start on; kappa by kappa
	least      [MaxStarts]float64

	// per interval: ends and inverse length in units of To - From, weight, mean
	// of the curve in hand
	a, b, per, w, means []float64
	columns             []lagColumns
	out                 [MaxStarts]quadratic // what was computed last
}

// lagColumns is what one lag adds. With h the mean of the transient over an
// interval, b1 = 1 - h and z = y - Ceiling h, the model is z = End b1 + Drop (g - h).
type lagColumns struct {
	h, wb1, wz []float64
	from       [MaxStarts]lagSums
}

// lagSums are sums over the intervals from a start on.
type lagSums struct{ b1b1, b1h, hh, b1z, hz, zz float64 }

// shapeSums are the sums of w g and w g^2 over the intervals from a start on.
type shapeSums struct{ g, gg [MaxStarts]float64 }

func newGrid(d *Decline, shape Shape, kappa, lag []float64) *grid {
	n, length := len(d.Data), d.To-d.From
	g := &grid{d: d, shape: shape}
	buffer := make([]float64, 4*n)
	g.a, g.b, g.per, g.w = buffer[:n:n], buffer[n:2*n:2*n], buffer[2*n:3*n:3*n], buffer[3*n:]
	for i, m := range d.Data {
		g.a[i], g.b[i] = (m.Start-d.From)/length, (m.End-d.From)/length
		g.per[i], g.w[i] = length/(m.End-m.Start), 1/(m.U*m.U)
	}
	return g.over(kappa, lag)
}

// from returns a grid of the problem without the data before a start.
func (g *grid) from(start int, kappa, lag []float64) *grid {
	at := g.d.Starts[start]
	rest := grid{d: g.d.from(start), shape: g.shape, a: g.a[at:], b: g.b[at:], per: g.per[at:], w: g.w[at:]}
	return rest.over(kappa, lag)
}

// over returns a grid of the same problem over other values.
func (g *grid) over(kappa, lag []float64) *grid {
	o := &grid{d: g.d, shape: g.shape, a: g.a, b: g.b, per: g.per, w: g.w, kappa: kappa, lag: lag}
	o.evaluate()
	return o
}

// evaluate fills the columns and the sums of squares.
func (g *grid) evaluate() {
	d, shape, kappa, lag := g.d, g.shape, g.kappa, g.lag
	g.sums = make([]quadratic, len(kappa)*len(lag))
	g.prepare()
	for s := range g.least {
		g.least[s] = math.Inf(1)
	}
	out := &g.out
	for k := range kappa {
		sw := g.shapeSums(shape.curve(kappa[k]))
		for l := range lag {
			g.quadratics(&sw, l, out)
			g.sums[k*len(lag)+l] = out[0]
			for s := range d.Starts {
				if s > 0 && (k|l)&1 != 0 {
					break // half of the grid each way tells the other starts well enough
				}
				if p := out[s].best(d.Ceiling, g.least[s]); p.sum < g.least[s] {
					g.least[s] = p.sum
				}
			}
		}
	}
}

// prepare fills the columns.
func (g *grid) prepare() {
	d, n := g.d, len(g.d.Data)
	buffer := make([]float64, (1+3*len(g.lag))*n)
	next := func() (column []float64) {
		column, buffer = buffer[:n:n], buffer[n:]
		return column
	}
	g.means = next()
	g.columns = make([]lagColumns, len(g.lag))
	for l := range g.lag {
		c := &g.columns[l]
		c.h, c.wb1, c.wz = next(), next(), next()
		d.transient(g.lag[l], c.h)
		var sum lagSums
		start := len(d.Starts) - 1
		for i := n - 1; start >= 0; i-- {
			h, w := c.h[i], g.w[i]
			z := d.Data[i].Value - d.Ceiling*h
			w1, wz := w*(1-h), w*z
			c.wb1[i], c.wz[i] = w1, wz
			sum.b1b1 += w1 * (1 - h)
			sum.b1h += w1 * h
			sum.hh += w * h * h
			sum.b1z += w1 * z
			sum.hz += wz * h
			sum.zz += wz * z
			if i == d.Starts[start] {
				c.from[start] = sum
				start--
			}
		}
	}
}

// transient fills h with the mean of exp(-(t-Onset)/lag) over the intervals.
func (d *Decline) transient(lag float64, h []float64) {
	clear(h)
	if lag <= 0 {
		return
	}
	per := 1 / lag
	end, endAt := 0.0, math.NaN()
	for n := range h {
		m := &d.Data[n]
		a, b := max(m.Start-d.Onset, 0)*per, max(m.End-d.Onset, 0)*per
		if a > 40 { // exp(-40) is nothing
			break
		}
		start := end
		if m.Start != endAt {
			start = math.Exp(-a)
		}
		end, endAt = math.Exp(-b), m.End
		if b-a < 1e-6 {
			h[n] = start
			continue
		}
		h[n] = (start - end) / (b - a)
	}
}

// shapeSums makes a curve the one in hand.
func (g *grid) shapeSums(c curve) (s shapeSums) {
	c.means(g.a, g.b, g.per, g.means)
	var sg, sgg float64
	start := len(g.d.Starts) - 1
	for i := len(g.means) - 1; start >= 0; i-- {
		v := g.means[i]
		wv := g.w[i] * v
		sg += wv
		sgg += wv * v
		if i == g.d.Starts[start] {
			s.g[start], s.gg[start] = sg, sgg
			start--
		}
	}
	return s
}

// quadratics fills out with the sums of squares of the curve in hand with a lag.
func (g *grid) quadratics(sw *shapeSums, l int, out *[MaxStarts]quadratic) {
	c := &g.columns[l]
	var b1g, zg, plus float64
	if g.lag[l] > 0 {
		plus = g.lag[l] / g.d.LagScale
		plus *= plus
	}
	to := len(g.means)
	for s := len(g.d.Starts) - 1; s >= 0; s-- {
		from := g.d.Starts[s]
		means, wb1, wz := g.means[from:to], c.wb1[from:to], c.wz[from:to]
		for i, v := range means {
			b1g += wb1[i] * v
			zg += wz[i] * v
		}
		to = from
		f := &c.from[s]
		out[s] = quadratic{
			w11: f.b1b1, w12: b1g - f.b1h, w22: sw.gg[s] - 2*(sw.g[s]-b1g) + f.hh,
			w1y: f.b1z, w2y: zg - f.hz, wyy: f.zz, plus: plus,
		}
	}
}

// best returns where on the grid the sum of squares is least.
func (g *grid) best() (kappa, lag float64) {
	least := math.Inf(1)
	for at := range g.sums {
		if p := g.sums[at].best(g.d.Ceiling, least); p.sum < least-1e-9 {
			least, kappa, lag = p.sum, g.kappa[at/len(g.lag)], g.lag[at%len(g.lag)]
		}
	}
	return kappa, lag
}
