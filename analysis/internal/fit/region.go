package fit

import "math"

// Range is a closed range of values; Low > High: none.
type Range struct{ Low, High float64 }

func noRange() Range { return Range{math.Inf(1), math.Inf(-1)} }

func (r *Range) take(v float64) { r.Low, r.High = math.Min(r.Low, v), math.Max(r.High, v) }

// Region holds the extremes over all parameters whose sum of squares, with the
// prior of the lag, is at most a limit.
type Region struct {
	True  Range // value at To without the lag
	First Range // value at From
	Far   Range // value that the curve tends to; Low is -Inf where a falling straight line is among them
	Fall  Range // fall from a time to To
	Kappa Range // Low is 0 and High +Inf where the region goes on beyond the grid
}

// Region returns the extremes for the chosen start; since is the time from
// which Fall counts. Below the least sum the region is empty.
func (g *Grid) Region(limit, since float64) Region {
	r := Region{True: noRange(), First: noRange(), Far: noRange(), Fall: noRange(), Kappa: noRange()}
	limit += 1e-9 * (1 + math.Abs(limit))
	c := g.d.Ceiling
	length := g.d.To - g.d.From
	x := (since - g.d.From) / length
	before := math.Inf(1)
	for k, kappa := range kappaGrid {
		cv := g.shape.curve(kappa)
		least := math.Inf(1)
		for l := range g.lags {
			q := &g.sums[k][l]
			sum := q.best(c, limit).sum
			least = math.Min(least, sum)
			if sum > limit {
				continue
			}
			q.extremes(1, -cv.steepness()*lagGrid[l]*g.d.LagScale/length, limit, c, &r.True)
			q.extremes(1, 1, limit, c, &r.First)
			q.extremes(0, cv.at(x), limit, c, &r.Fall)
			if kappa > 0 {
				q.extremes(1, -cv.below(), limit, c, &r.Far)
			} else {
				r.Far.Low = math.Inf(-1)
			}
		}
		r.Kappa.cross(k, before, least, limit)
		before = least
	}
	return r
}

// cross widens the range of kappa by the part between grid point k and the one
// before that lies below the limit, linear in kappa.
func (r *Range) cross(k int, before, here, limit float64) {
	if here <= limit {
		r.take(kappaGrid[k])
		if k == kappas-1 {
			r.High = math.Inf(1)
		}
	}
	if k == 0 || (here <= limit) == (before <= limit) || math.IsInf(here-before, 0) {
		return
	}
	share := (limit - before) / (here - before)
	r.take(kappaGrid[k-1] + share*(kappaGrid[k]-kappaGrid[k-1]))
}
