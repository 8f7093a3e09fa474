package fit

import "math"

// Optimum is the least sum of squares from one start.
type Optimum struct {
	End, Drop float64 // of the curve that is seen
	True      float64 // value at To without the lag
	Far       float64 // value that the curve tends to; -Inf for a falling straight line
	Kappa     float64
	Lag       float64
	Sum       float64 // of squares
	Penalised float64 // with the prior of the lag
	Largest   bool    // kappa is the largest of the grid: the fall is over before the data
}

// refinements is the number of golden-section steps: 0.618^24 of a grid step is 1e-5
// of kappa, below which a sum of squares does not tell.
const refinements = 24

// Best returns the least sum of squares from the chosen start, refined in kappa
// between the grid points by golden section (Kiefer 1953). The lag stays on its
// grid.
func (g *Grid) Best() Optimum {
	least, bk, bl := math.Inf(1), 0, 0
	for k := range g.sums {
		for l := range g.lags {
			if p := g.sums[k][l].best(g.d.Ceiling, least); p.sum < least-1e-9 {
				least, bk, bl = p.sum, k, l
			}
		}
	}
	best := g.at(kappaGrid[bk], bl)
	if bk == kappas-1 {
		best.Largest = true
		return best
	}
	low, high := kappaGrid[max(bk-1, 0)], kappaGrid[bk+1]
	const golden = 0.3819660112501051
	x1, x2 := low+golden*(high-low), high-golden*(high-low)
	o1, o2 := g.at(x1, bl), g.at(x2, bl)
	for range refinements {
		if o1.Penalised <= o2.Penalised {
			high, x2, o2 = x2, x1, o1
			x1 = low + golden*(high-low)
			o1 = g.at(x1, bl)
		} else {
			low, x1, o1 = x1, x2, o2
			x2 = high - golden*(high-low)
			o2 = g.at(x2, bl)
		}
	}
	for _, o := range [2]Optimum{o1, o2} {
		if o.Penalised < best.Penalised {
			best = o
		}
	}
	return best
}

// at returns the best curve of the chosen start for a kappa and a lag.
func (g *Grid) at(kappa float64, l int) Optimum {
	c := g.shape.curve(kappa)
	sw := g.shapeSums(c)
	var out [MaxStarts]quadratic
	g.sumsOf(&sw, l, &out)
	q := &out[g.start]
	p := q.best(g.d.Ceiling, math.Inf(1))
	o := Optimum{End: p.end, Drop: p.drop, Kappa: kappa, Lag: lagGrid[l] * g.d.LagScale, Sum: math.Max(p.sum-q.plus, 0), Penalised: p.sum}
	o.True = p.end - p.drop*c.steepness()*o.Lag/(g.d.To-g.d.From)
	o.Far = p.end
	if p.drop > 0 {
		o.Far = p.end - p.drop*c.below()
	}
	return o
}

// Seen returns the mean over an interval of what a curve shows, the transient
// after the onset included.
func (d *Decline) Seen(o Optimum, shape Shape, start, end float64) float64 {
	length := d.To - d.From
	mean := [1]float64{}
	shape.curve(o.Kappa).means([]float64{(start - d.From) / length}, []float64{(end - d.From) / length}, mean[:])
	one := Decline{Data: []Mean{{Start: start, End: end}}, Onset: d.Onset}
	h := [1]float64{}
	one.transient(o.Lag, h[:])
	return o.End*(1-h[0]) + o.Drop*(mean[0]-h[0]) + d.Ceiling*h[0]
}
