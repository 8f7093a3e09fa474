package fit

import "math"

// Search holds the sums of squares of a Decline on the coarse grid.
type Search struct{ coarse *grid }

// NewSearch evaluates them for one family of shapes.
func NewSearch(d *Decline, shape Shape) Search {
	return Search{newGrid(d, shape, coarseKappa(), d.coarseLag())}
}

// Least returns the least sum of squares on the grid from a start, for
// comparing starts.
func (s Search) Least(start int) float64 { return s.coarse.least[start] }

// Solution is a Decline solved from one of its starts.
type Solution struct {
	Optimum
	coarse *grid
}

// Optimum is the curve with the least sum of squares.
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

// The search for the optimum looks at ever smaller boxes of kappa and lag round
// the best point, each by a grid of zoomPoints squared.
const (
	zoomPoints = 5
	zoomLevels = 7
)

// Solve finds the optimum from a start.
func (s Search) Solve(start int) Solution {
	g := s.coarse
	if start != 0 {
		g = newGrid(g.d.from(start), g.shape, g.kappa, g.lag)
	}
	out := Solution{coarse: g}
	k, l, p := g.best()
	out.Optimum = g.optimum(k, l, p)
	out.Largest = k == len(g.kappa)-1
	fine := g
	for range zoomLevels {
		fine = newGrid(g.d, g.shape, around(fine.kappa, k, zoomPoints), around(fine.lag, l, zoomPoints))
		k, l, p = fine.best()
		if p.sum < out.Penalised {
			out.Optimum = fine.optimum(k, l, p)
		}
	}
	return out
}

// around returns an axis of n points between the neighbours of a point of
// another axis.
func around(axis []float64, at, n int) []float64 {
	return between(axis[max(at-1, 0)], axis[min(at+1, len(axis)-1)], n)
}

// between returns n points from low to high, in equal steps of the logarithm
// where low is positive.
func between(low, high float64, n int) []float64 {
	if !(high > low) {
		return []float64{low}
	}
	axis := make([]float64, n)
	for i := range axis {
		share := float64(i) / float64(n-1)
		if low > 0 {
			axis[i] = low * math.Pow(high/low, share)
		} else {
			axis[i] = high * share
		}
	}
	axis[0], axis[n-1] = low, high
	return axis
}

func (g *grid) optimum(k, l int, p point) Optimum {
	c := g.shape.curve(g.kappa[k])
	q := &g.sums[k*len(g.lag)+l]
	o := Optimum{
		End: p.end, Drop: p.drop, Kappa: g.kappa[k], Lag: g.lag[l],
		Sum: math.Max(p.sum-q.plus, 0), Penalised: p.sum,
		True: p.end - p.drop*c.steepness()*g.lag[l]/(g.d.To-g.d.From), Far: p.end,
	}
	if p.drop > 0 {
		o.Far = p.end - p.drop*c.below()
	}
	return o
}
