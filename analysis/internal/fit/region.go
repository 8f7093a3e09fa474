package fit

import "math"

// Range is a closed range of values; Low > High: none.
type Range struct{ Low, High float64 }

func noRange() Range { return Range{math.Inf(1), math.Inf(-1)} }

func (r *Range) take(v float64) { r.Low, r.High = min(r.Low, v), max(r.High, v) }

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

// The part of kappa and lag that holds the region is looked at with grids of
// 2 regionKappas + 1 by 2 regionLags + 1 points round a curve within it, which
// shrink until the region covers enough of them and grow where it reaches their
// edge. What is found is the region but for less than a step of the last grid.
const (
	regionKappas, regionLags = 4, 2
	regionLevels             = 8
	regionEnough             = 5 // values of kappa within the region
)

// Region returns the extremes; since is the time from which Fall counts, and
// around, if there is one, a curve within the region. Where no curve has a sum
// as low as the limit the ranges are empty.
func (s Solution) Region(limit, since float64, around *Optimum) Region {
	r := Region{True: noRange(), First: noRange(), Far: noRange(), Fall: noRange(), Kappa: noRange(), Lag: noRange()}
	limit += 1e-9 * (1 + math.Abs(limit))
	g := s.coarse
	var kappa, lag float64
	if around != nil {
		kappa, lag = around.Kappa, around.Lag
	} else {
		k, l := g.bestAt()
		kappa, lag = g.kappa[k], g.lag[l]
	}
	lagHigh := g.lag[len(g.lag)-1]
	for range regionLevels {
		b := g.region(limit, since, &r)
		if b.kappas >= regionEnough && g != s.coarse && !goesOn(g.kappa, b.k, kappaHigh) && !goesOn(g.lag, b.l, lagHigh) {
			break
		}
		axes := [2][]float64{b.axis(g.kappa, kappa, b.k, regionKappas, kappaHigh), b.axis(g.lag, lag, b.l, regionLags, lagHigh)}
		g = s.coarse.around(axes[0], axes[1])
	}
	if r.Kappa.High >= kappaHigh {
		r.Kappa.High = math.Inf(1)
	}
	return r
}

// around returns a grid of the same problem over other values, good until the
// next.
func (g *grid) around(kappa, lag []float64) *grid {
	if g.near == nil {
		g.near = &grid{}
	}
	g.near.problem, g.near.shape = g.problem, g.shape
	g.near.over(kappa, lag)
	return g.near
}

// goesOn reports whether the region reaches an end of an axis that might go on.
func goesOn(axis []float64, touched [2]int, largest float64) bool {
	last := len(axis) - 1
	return touched[0] == 0 && axis[0] > 0 || touched[1] == last && axis[last] < largest
}

// axis returns an axis through a point that reaches one step of the axis before
// beyond the part that the region touches, and beyond the point, within 0 and
// the largest value.
func (b *box) axis(before []float64, through float64, touched [2]int, n int, largest float64) []float64 {
	last := len(before) - 1
	at := 0
	for at < last && before[at+1] <= through {
		at++
	}
	from, to := at, at
	if b.kappas > 0 {
		from, to = min(from, touched[0]-1), max(to, touched[1])
	}
	low, high := before[max(from, 0)], before[min(to+1, last)]
	if from < 0 {
		low = max(0, low-(high-low)/2)
	}
	if to == last {
		high = min(largest, high+(high-low)/2)
	}
	return append(between(low, through, n+1), between(through, high, n+1)[1:]...)
}

// between returns n points from low to high, in equal steps of the logarithm
// where low is positive; just low if that is not below high.
func between(low, high float64, n int) []float64 {
	if !(high > low) {
		return []float64{low}
	}
	axis := make([]float64, n, 2*n)
	step := 0.0
	if low > 0 {
		step = math.Pow(high/low, 1/float64(n-1))
	}
	for i := 1; i < n-1; i++ {
		if low > 0 {
			axis[i] = max(axis[i-1], low) * step
		} else {
			axis[i] = high * float64(i) / float64(n-1)
		}
	}
	axis[0], axis[n-1] = low, high
	return axis
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
		steep, fall := c.steepness(), c.at(x)
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
			if kappa == 0 {
				r.Far.Low = math.Inf(-1)
			}
			if part, ok := q.cut(limit, ceiling); ok {
				part.extremes(1, -steep*lag/length, &r.True)
				part.extremes(1, 1, &r.First)
				part.extremes(0, fall, &r.Fall)
				if kappa > 0 {
					part.extremes(1, -c.below(), &r.Far)
				}
			}
		}
	}
	return b
}
