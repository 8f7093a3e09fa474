package fit

import "math"

// Grid holds the sums of squares of a Decline for one family of shapes over
// the grids of kappa and lag.
type Grid struct {
	d     *Decline
	shape Shape
	lags  int
	means []float64 // of the shape in hand over every interval
	cols  columns
	start int // the start that sums speaks of
	sums  [kappas][lags]quadratic
	least [MaxStarts]float64
}

// columns holds what does not depend on the shape, one value an interval.
type columns struct {
	a, b []float64 // the interval in units of To - From
	w    []float64 // weight
	lag  [lags]lagColumns
}

// lagColumns is what one lag adds. With h the mean of the transient over an
// interval, b1 = 1 - h and z = y - Ceiling h, the model is z = End b1 + Drop (g - h).
type lagColumns struct {
	h, wb1, wz []float64
	// sums over the intervals from every start on
	b1b1, b1h, hh, b1z, hz, zz [MaxStarts]float64
}

// NewGrid evaluates the sums and keeps those of the first start.
func NewGrid(d *Decline, shape Shape) *Grid {
	g := &Grid{d: d, shape: shape, lags: lags}
	if !(d.LagScale > 0) {
		g.lags = 1
	}
	g.prepare()
	for s := range g.least {
		g.least[s] = math.Inf(1)
	}
	var out [MaxStarts]quadratic
	for k, kappa := range kappaGrid {
		sw := g.shapeSums(shape.curve(kappa))
		for l := range g.lags {
			g.sumsOf(&sw, l, &out)
			g.sums[k][l] = out[0]
			for s := range d.Starts {
				if s > 0 && (k|l)&1 != 0 {
					break // half of the grid in each direction tells the other starts well enough
				}
				if p := out[s].best(d.Ceiling, g.least[s]); p.sum < g.least[s] {
					g.least[s] = p.sum
				}
			}
		}
	}
	return g
}

// prepare fills the columns.
func (g *Grid) prepare() {
	d := g.d
	n := len(d.Data)
	buffer := make([]float64, (4+3*g.lags)*n)
	next := func() (column []float64) {
		column, buffer = buffer[:n:n], buffer[n:]
		return column
	}
	c := &g.cols
	c.a, c.b, c.w, g.means = next(), next(), next(), next()
	length := d.To - d.From
	for i, m := range d.Data {
		c.a[i], c.b[i] = (m.Start-d.From)/length, (m.End-d.From)/length
		c.w[i] = 1 / (m.U * m.U)
	}
	for l := range g.lags {
		lc := &c.lag[l]
		lc.h, lc.wb1, lc.wz = next(), next(), next()
		d.transient(lagGrid[l]*d.LagScale, lc.h)
		for i, m := range d.Data {
			lc.wb1[i] = c.w[i] * (1 - lc.h[i])
			lc.wz[i] = c.w[i] * (m.Value - d.Ceiling*lc.h[i])
		}
		var q lagColumns
		d.suffix(func(i int) {
			h, w1, wz := lc.h[i], lc.wb1[i], lc.wz[i]
			z := d.Data[i].Value - d.Ceiling*h
			q.b1b1[0] += w1 * (1 - h)
			q.b1h[0] += w1 * h
			q.hh[0] += c.w[i] * h * h
			q.b1z[0] += w1 * z
			q.hz[0] += wz * h
			q.zz[0] += wz * z
		}, func(s int) {
			lc.b1b1[s], lc.b1h[s], lc.hh[s] = q.b1b1[0], q.b1h[0], q.hh[0]
			lc.b1z[s], lc.hz[s], lc.zz[s] = q.b1z[0], q.hz[0], q.zz[0]
		})
	}
}

// suffix calls add for the data from the last to the first, and note whenever
// all data of a start have been added.
func (d *Decline) suffix(add func(i int), note func(start int)) {
	next := len(d.Starts) - 1
	for i := len(d.Data) - 1; next >= 0; i-- {
		add(i)
		if i == d.Starts[next] {
			note(next)
			next--
		}
	}
}

// transient fills h with the mean of exp(-(t-Onset)/lag) over the intervals.
func (d *Decline) transient(lag float64, h []float64) {
	for n, m := range d.Data {
		h[n] = 0
		if lag <= 0 {
			continue
		}
		a, b := math.Max(m.Start-d.Onset, 0)/lag, math.Max(m.End-d.Onset, 0)/lag
		switch {
		case a > 40: // exp(-40) is nothing
		case b-a < 1e-6:
			h[n] = math.Exp(-a)
		default:
			h[n] = (math.Exp(-a) - math.Exp(-b)) / (b - a)
		}
	}
}

// shapeSums holds the sums of w g and w g^2 from every start on.
type shapeSums struct{ g, gg [MaxStarts]float64 }

// shapeSums makes a curve the one in hand.
func (g *Grid) shapeSums(c curve) (s shapeSums) {
	c.means(g.cols.a, g.cols.b, g.means)
	var sg, sgg float64
	next := len(g.d.Starts) - 1
	for i := len(g.means) - 1; next >= 0; i-- {
		v := g.means[i]
		wv := g.cols.w[i] * v
		sg += wv
		sgg += wv * v
		if i == g.d.Starts[next] {
			s.g[next], s.gg[next] = sg, sgg
			next--
		}
	}
	return s
}

// sumsOf fills out with the quadratics of the curve in hand with a lag.
func (g *Grid) sumsOf(sw *shapeSums, l int, out *[MaxStarts]quadratic) {
	lc := &g.cols.lag[l]
	var b1g, zg float64
	starts := g.d.Starts
	to := len(g.means)
	plus := lagGrid[l] * lagGrid[l]
	for s := len(starts) - 1; s >= 0; s-- {
		from := starts[s]
		means, wb1, wz := g.means[from:to], lc.wb1[from:to], lc.wz[from:to]
		for i, v := range means {
			b1g += wb1[i] * v
			zg += wz[i] * v
		}
		to = from
		out[s] = quadratic{
			w11: lc.b1b1[s], w12: b1g - lc.b1h[s], w22: sw.gg[s] - 2*(sw.g[s]-b1g) + lc.hh[s],
			w1y: lc.b1z[s], w2y: zg - lc.hz[s], wyy: lc.zz[s], plus: plus,
		}
	}
}

// Least returns the least sum of squares on the grid from a start, for
// comparing starts.
func (g *Grid) Least(start int) float64 { return g.least[start] }

// Choose makes a start the one that Best and Region speak of.
func (g *Grid) Choose(start int) {
	if start == g.start {
		return
	}
	g.start = start
	var out [MaxStarts]quadratic
	for k, kappa := range kappaGrid {
		sw := g.shapeSums(g.shape.curve(kappa))
		for l := range g.lags {
			g.sumsOf(&sw, l, &out)
			g.sums[k][l] = out[start]
		}
	}
}

func logGrid() (grid [kappas]float64) {
	step := math.Pow(kappaHigh/kappaLow, 1/float64(kappas-2))
	kappa := kappaLow
	for k := 1; k < kappas; k++ {
		grid[k] = kappa
		kappa *= step
	}
	return grid
}
