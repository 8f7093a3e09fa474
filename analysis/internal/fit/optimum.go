package fit

import "math"

// Search holds the sums of squares of a Decline on the coarse grid.
type Search struct {
	coarse *grid
	least  [MaxStarts]float64 // from each start on
}

// NewSearch evaluates them for one family of shapes.
func NewSearch(d *Decline, shape Shape) *Search {
	s := &Search{coarse: &grid{problem: newProblem(d), shape: shape, kappa: coarseKappa(shape)}}
	for start := range s.least {
		s.least[start] = math.Inf(1)
	}
	s.coarse.overLags(d.coarseLag())
	s.coarse.evaluate(d.Starts, &s.least)
	return s
}

// Least returns the least sum of squares from a start that the grid shows, for
// comparing starts.
func (s *Search) Least(start int) float64 { return s.least[start] }

// LeastNear returns the same, or less where the curves like one that is given
// fit better than those of the grid.
func (s *Search) LeastNear(start int, near *Optimum) float64 {
	g := s.coarse
	least, rest := s.least[start], g.from(start)
	for _, lag := range [2]float64{near.Lag, 0} {
		o := rest.row(lag).overKappa(near.Kappa, 1.3, kappaOfTrial)
		least = min(least, o.Penalised)
		if near.Lag == 0 {
			break
		}
	}
	return least
}

// Solution is a Decline from one of its starts.
type Solution struct{ coarse *grid }

// From returns the problem from a start on.
func (s *Search) From(start int) Solution {
	if start == 0 {
		return Solution{s.coarse}
	}
	rest := s.coarse.from(start)
	rest.restOf(s.coarse, start)
	return Solution{rest}
}

// As returns the same problem for another family of shapes.
func (s Solution) As(shape Shape) Solution { return Solution{s.coarse.as(shape, coarseKappa(shape))} }

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

// trying says how often the vertex of a parabola is tried, and which change of
// the sum of squares is not worth another try.
type trying struct {
	times  int
	enough float64
}

var (
	kappaOfTrial = trying{2, 1e-3} // kappa for a lag that is only tried
	lagTrials    = trying{5, 1e-3} // the lag: it is a nuisance
	kappaAtLast  = trying{8, 1e-9} // kappa for the lag that was chosen
)

// Optimum finds the curve with the least sum of squares: over kappa for every
// lag of the grid, then over the lag between the neighbours of the best one,
// then over kappa once more, and polishes what it found.
func (s Solution) Optimum() Optimum {
	g := s.coarse
	var room [8]Optimum
	byLag := append(room[:0], make([]Optimum, len(g.lag))...)
	at := 0
	for l := range g.lag {
		if byLag[l] = g.overGrid(l); byLag[l].Penalised < byLag[at].Penalised-1e-9 {
			at = l
		}
	}
	best := byLag[at]
	if last := len(g.lag) - 1; last > 0 {
		low, high := byLag[max(at-1, 0)], byLag[min(at+1, last)]
		if at == 0 || at == last {
			best = g.row((low.Lag+high.Lag)/2).overKappa(best.Kappa, 1.3, kappaOfTrial)
		}
		best = parabolic(low, best, high, byTheLag, lagTrials, func(lag float64) Optimum {
			return g.row(lag).overKappa(best.Kappa, 1.3, kappaOfTrial)
		})
	}
	for _, lag := range [2]float64{best.Lag, g.lag[at]} { // the lag may well be none at all
		if o := g.row(lag).overKappa(best.Kappa, 1.1, kappaAtLast); o.Penalised < best.Penalised {
			best = o
		}
	}
	best.Largest = best.Kappa > kappaHigh*0.99
	return g.polish(best)
}

// overGrid returns the best curve for a lag of the grid.
func (g *grid) overGrid(l int) Optimum {
	least, k := math.Inf(1), 0
	for n := range g.kappa {
		if p := g.sums[n*len(g.lag)+l].best(g.d.Ceiling, least); p.sum < least-1e-9 {
			least, k = p.sum, n
		}
	}
	if k == 0 || k == len(g.kappa)-1 {
		return g.known(k, l)
	}
	return parabolic(g.known(k-1, l), g.known(k, l), g.known(k+1, l), byKappa, kappaOfTrial, func(kappa float64) Optimum {
		return g.single(kappa, l)
	})
}

// known returns the best curve for a point of the grid.
func (g *grid) known(k, l int) Optimum {
	q := &g.sums[k*len(g.lag)+l]
	return g.curveOf(g.shape.curve(g.kappa[k]), g.lag[l], q, q.best(g.d.Ceiling, math.Inf(1)))
}

// row returns a grid of one lag without values of kappa, good until the next.
func (g *grid) row(lag float64) *grid {
	if g.trial == nil {
		g.trial = &grid{problem: g.problem, shape: g.shape}
	}
	if t := g.trial; len(t.lag) == 0 || t.lag[0] != lag {
		t.overLags(append(t.lag[:0], lag))
	}
	return g.trial
}

// overKappa returns the best curve of a row near a kappa, which is looked for
// between kappa over and times step.
func (g *grid) overKappa(kappa, step float64, tries trying) Optimum {
	low, high := kappa/step, min(kappa*step, kappaHigh)
	if kappa < kappaLow*step {
		low, high = 0, kappa+kappaLow
	}
	single := func(kappa float64) Optimum { return g.single(kappa, 0) }
	return parabolic(single(low), single(kappa), single(high), byKappa, tries, single)
}

// along is the parameter along which parabolic moves.
type along uint8

const (
	byKappa along = iota
	byTheLag
)

func (a along) of(o *Optimum) float64 {
	if a == byTheLag {
		return o.Lag
	}
	return o.Kappa
}

// parabolic returns the best curve between three of rising x, by
// the vertices of parabolas through the three that enclose the least sum, or
// halfway to the first where that is the least.
func parabolic(a, b, c Optimum, x along, tries trying, at func(float64) Optimum) Optimum {
	for range tries.times {
		xa, xb, xc := x.of(&a), x.of(&b), x.of(&c)
		if a.Penalised < b.Penalised && a.Penalised < c.Penalised && xb > xa {
			b, c = at((xa+xb)/2), b
			continue
		}
		if b.Penalised > a.Penalised || b.Penalised > c.Penalised {
			break
		}
		p, q := (xb-xa)*(b.Penalised-c.Penalised), (xb-xc)*(b.Penalised-a.Penalised)
		v := xb - 0.5*((xb-xa)*p-(xb-xc)*q)/(p-q)
		if !(v > xa && v < xc) || v == xb {
			break
		}
		o := at(v)
		done := math.Abs(o.Penalised-b.Penalised) < tries.enough
		switch {
		case o.Penalised <= b.Penalised && v > xb:
			a, b = b, o
		case o.Penalised <= b.Penalised:
			b, c = o, b
		case v > xb:
			c = o
		default:
			a = o
		}
		if done {
			break
		}
	}
	for _, o := range [2]Optimum{a, c} {
		if o.Penalised < b.Penalised {
			b = o
		}
	}
	return b
}

// single returns the best curve for a kappa and a lag of the grid.
func (g *grid) single(kappa float64, l int) Optimum {
	c := g.shape.curve(kappa)
	starts := g.d.Starts[:1]
	sw := g.shapeSums(&c, starts)
	g.quadratics(&sw, l, starts, &g.out)
	return g.curveOf(c, g.lag[l], &g.out[0], g.out[0].best(g.d.Ceiling, math.Inf(1)))
}

func (g *grid) curveOf(c curve, lag float64, q *quadratic, p point) Optimum {
	o := Optimum{
		End: p.end, Drop: p.drop, Kappa: c.kappa, Lag: lag,
		Sum: max(p.sum-q.plus, 0), Penalised: p.sum,
		True: p.end - p.drop*c.steepness()*lag/(g.d.To-g.d.From), Far: p.end,
	}
	if p.drop > 0 {
		o.Far = p.end - p.drop*c.below()
	}
	return o
}
