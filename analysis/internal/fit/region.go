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
	Kappa Range // High is +Inf where the region goes on beyond the grid
	Lag   Range
}

// The grid with which the part of kappa and lag that holds the region is looked
// at once more, and how often it may shrink to find the region.
const (
	regionKappas, regionLags = 9, 5
	regionLevels             = 6
	regionEnough             = 4 // values of kappa within the region
)

// Region returns the extremes; since is the time from which Fall counts. Where
// no curve has a sum as low as the limit the ranges are empty.
func (s *Solution) Region(limit, since float64) Region {
	r := Region{True: noRange(), First: noRange(), Far: noRange(), Fall: noRange(), Kappa: noRange(), Lag: noRange()}
	limit += 1e-9 * (1 + math.Abs(limit))
	g := s.coarse
	for range regionLevels {
		box := g.region(limit, since, &r)
		if box.kappas == 0 {
			// The region lies between grid points: look round the optimum.
			k, l, _ := g.best()
			box.k, box.l = [2]int{k, k}, [2]int{l, l}
		}
		if box.kappas >= regionEnough && g != s.coarse {
			break
		}
		g = newGrid(g.d, g.shape,
			between(g.kappa[max(box.k[0]-1, 0)], g.kappa[min(box.k[1]+1, len(g.kappa)-1)], regionKappas),
			between(g.lag[max(box.l[0]-1, 0)], g.lag[min(box.l[1]+1, len(g.lag)-1)], regionLags))
	}
	if r.Kappa.High >= kappaHigh {
		r.Kappa.High = math.Inf(1)
	}
	return r
}

// box is the part of a grid that the region touches.
type box struct {
	k, l   [2]int
	kappas int // how many values of kappa
}

// region widens r by what the grid shows.
func (g *grid) region(limit, since float64, r *Region) box {
	b := box{k: [2]int{len(g.kappa), -1}, l: [2]int{len(g.lag), -1}}
	ceiling := g.d.Ceiling
	length := g.d.To - g.d.From
	x := (since - g.d.From) / length
	for k, kappa := range g.kappa {
		c := g.shape.curve(kappa)
		for l, lag := range g.lag {
			q := &g.sums[k*len(g.lag)+l]
			if q.best(ceiling, limit).sum > limit {
				continue
			}
			if k > b.k[1] {
				b.kappas++
			}
			b.k[0], b.k[1] = min(b.k[0], k), max(b.k[1], k)
			b.l[0], b.l[1] = min(b.l[0], l), max(b.l[1], l)
			r.Kappa.take(kappa)
			r.Lag.take(lag)
			q.extremes(1, -c.steepness()*lag/length, limit, ceiling, &r.True)
			q.extremes(1, 1, limit, ceiling, &r.First)
			q.extremes(0, c.at(x), limit, ceiling, &r.Fall)
			if kappa > 0 {
				q.extremes(1, -c.below(), limit, ceiling, &r.Far)
			} else {
				r.Far.Low = math.Inf(-1)
			}
		}
	}
	return b
}
