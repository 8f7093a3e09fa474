package fit

import "math"

// grid holds the sums of squares of a Decline for one family of shapes over
// some values of kappa and lag.
type grid struct {
	*problem
	shape      Shape
	kappa, lag []float64
	sums       []quadratic  // from the first start on; kappa by kappa
	columns    []lagColumns // one per lag

	trial *grid // scratch: a single lag without values of kappa
	near  *grid // scratch: round a region
}

// lagColumns is what one lag adds. With h the mean of the transient over an
// interval, b1 = 1 - h and z = y - Ceiling h, the model is z = End b1 + Drop (g - h).
type lagColumns struct {
	wh   []float64 // w h, as far as it is not 0
	from [MaxStarts]lagSums
}

// lagSums are weighted sums over the intervals from a start on.
type lagSums struct{ b1b1, b1h, hh, b1z, hz, zz float64 }

// shapeSums are the weighted sums of g, g^2 and g y over the intervals from a
// start on.
type shapeSums struct{ g, gg, gy [MaxStarts]float64 }

// from returns a grid of the problem without the data before a start.
func (g *grid) from(start int) *grid {
	return &grid{problem: g.problem.from(start), shape: g.shape}
}

// restOf fills the grid of the data from a start on with what the grid of all
// of them knows.
func (g *grid) restOf(whole *grid, start int) {
	at := whole.d.Starts[start]
	g.kappa, g.lag = whole.kappa, whole.lag
	g.columns = make([]lagColumns, len(whole.columns))
	for l := range g.columns {
		c := &whole.columns[l]
		g.columns[l].wh = c.wh[min(at, len(c.wh)):]
		g.columns[l].from[0] = c.from[start]
	}
	g.evaluate(g.d.Starts, nil)
}

// as returns a grid of the same problem for another family of shapes.
func (g *grid) as(shape Shape, kappa []float64) *grid {
	o := &grid{problem: g.problem, shape: shape, kappa: kappa, lag: g.lag, columns: g.columns, near: g.near}
	o.evaluate(o.d.Starts[:1], nil)
	return o
}

// over moves a grid to other values.
func (g *grid) over(kappa, lag []float64) {
	g.kappa = kappa
	g.overLags(lag)
	g.evaluate(g.d.Starts[:1], nil)
}

// evaluate fills the sums of squares from the first start on, and takes the least
// ones from each of the starts.
func (g *grid) evaluate(starts []int, least *[MaxStarts]float64) {
	if n := len(g.kappa) * len(g.lag); cap(g.sums) < n {
		g.sums = make([]quadratic, n)
	} else {
		g.sums = g.sums[:n]
	}
	out := &g.out
	for k, kappa := range g.kappa {
		c := g.shape.curve(kappa)
		sw := g.shapeSums(&c, starts)
		for l := range g.lag {
			of := starts
			if (k|l)&1 != 0 {
				of = starts[:1] // half of the grid each way tells the other starts well enough
			}
			g.quadratics(&sw, l, of, out)
			g.sums[k*len(g.lag)+l] = out[0]
			if least == nil {
				continue
			}
			for s := range of {
				if p := out[s].best(g.d.Ceiling, least[s]); p.sum < least[s] {
					least[s] = p.sum
				}
			}
		}
	}
}

// overLags fills the columns.
func (g *grid) overLags(lag []float64) {
	d, n := g.d, len(g.d.Data)
	g.lag = lag
	if cap(g.columns) < len(lag) {
		g.columns = make([]lagColumns, len(lag))
		buffer := make([]float64, n*len(lag))
		for l := range g.columns {
			g.columns[l].wh = buffer[n*l : n*l : n*(l+1)]
		}
	}
	g.columns = g.columns[:len(lag)]
	for l := range lag {
		c := &g.columns[l]
		reach := g.transient(lag[l], g.h, nil)
		c.wh = c.wh[:reach]
		for i, h := range g.h[:reach] {
			c.wh[i] = g.w[i] * h
		}
		sum := g.late[reach]
		start := len(d.Starts) - 1
		for ; start >= 0 && d.Starts[start] >= reach; start-- {
			c.from[start] = g.late[d.Starts[start]]
		}
		for i := reach - 1; start >= 0; i-- {
			h, w := g.h[i], g.w[i]
			z := d.Data[i].Value - d.Ceiling*h
			w1, wz := w*(1-h), w*z
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

// shapeSums makes a curve the one in hand.
func (g *grid) shapeSums(c *curve, starts []int) (s shapeSums) {
	g.curveMeans(c, g.means, nil)
	var sg, sgg, sgy float64
	to := len(g.means)
	for start := len(starts) - 1; start >= 0; start-- {
		from := starts[start]
		means := g.means[from:to]
		w, wy := g.w[from:to][:len(means)], g.wy[from:to][:len(means)]
		for i, v := range means {
			wv := w[i] * v
			sg += wv
			sgg += wv * v
			sgy += wy[i] * v
		}
		s.g[start], s.gg[start], s.gy[start] = sg, sgg, sgy
		to = from
	}
	return s
}

// quadratics fills out with the sums of squares of the curve in hand with a lag,
// from each start on.
func (g *grid) quadratics(sw *shapeSums, l int, starts []int, out *[MaxStarts]quadratic) {
	c := &g.columns[l]
	var hg, plus float64
	if g.lag[l] > 0 {
		plus = g.lag[l] / g.d.LagScale
		plus *= plus
	}
	to := len(c.wh)
	for s := len(starts) - 1; s >= 0; s-- {
		from := min(starts[s], to)
		wh := c.wh[from:to]
		for i, v := range g.means[from:to] {
			hg += wh[i] * v
		}
		to = from
		f := &c.from[s]
		out[s] = quadratic{
			w11: f.b1b1, w12: sw.g[s] - hg - f.b1h, w22: sw.gg[s] - 2*hg + f.hh,
			w1y: f.b1z, w2y: sw.gy[s] - g.d.Ceiling*hg - f.hz, wyy: f.zz, plus: plus,
		}
	}
}

// bestAt returns where on the grid the sum of squares is least.
func (g *grid) bestAt() (k, l int) {
	least := math.Inf(1)
	for at := range g.sums {
		if p := g.sums[at].best(g.d.Ceiling, least); p.sum < least-1e-9 {
			least, k, l = p.sum, at/len(g.lag), at%len(g.lag)
		}
	}
	return k, l
}
