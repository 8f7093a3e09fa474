package fit

import "math"

// Parameters of a curve in the order in which polish treats them.
const (
	endAt = iota
	dropAt
	kappaAt
	lagAt
	parameters
)

const (
	mostRounds  = 8
	mostPolish  = 40
	polishedTo  = 1e-11 // relative step that ends a walk
	settledAt   = 1e-6  // the same after the last step: rounding may keep a walk from less
	ofCeiling   = 1e-9  // how near to the ceiling, relative, a curve is held on it
	differences = 1e-4  // relative step of the second derivatives in kappa and lag
)

// held says which parameters a bound holds: End + Drop at the ceiling, Drop at
// zero, kappa and lag where they are.
type held struct{ ceiling, drop, kappa, lag bool }

func (g *grid) heldAt(o *Optimum) held {
	var h held
	h.ceiling = o.End+o.Drop >= g.d.Ceiling-ofCeiling*math.Abs(g.d.Ceiling)
	h.drop = !(o.Drop > 0)
	h.kappa = h.drop || !(o.Kappa > 0) || o.Kappa >= 0.99*kappaHigh
	h.lag = h.ceiling || !(o.Lag > 0) || o.Lag >= 0.999*g.longestLag()
	return h
}

func (g *grid) longestLag() float64 { return g.lag[len(g.lag)-1] }

// polish moves the best curve of a search, whose trials end some way from the
// minimum, to the point where the gradient of the penalised sum of squares is
// zero in the parameters that no bound holds: by Gauss-Newton steps, and by
// Newton steps in kappa and lag where those do not settle. The answer then
// depends on the data alone and not on the path of the search, so that the same
// readings in other units give the same digits. Steps that lead nowhere leave
// the curve as it was.
func (g *grid) polish(o Optimum) Optimum {
	h := g.heldAt(&o)
	for range mostRounds {
		var below held // what a walk took below zero
		var longer bool
		nearer := o // where a walk went that has not settled yet
		for _, walk := range [2]func(Optimum, held) ([parameters]float64, bool){g.gaussNewton, g.newton} {
			x, settled := walk(o, h)
			if !(x[kappaAt] >= 0 && x[kappaAt] <= kappaHigh && x[lagAt] >= 0 && x[lagAt] <= g.longestLag()) {
				below.kappa = below.kappa || x[kappaAt] < 0 && !h.kappa
				below.lag = below.lag || x[lagAt] < 0 && !h.lag
				longer = longer || x[lagAt] > g.longestLag()
				continue
			}
			p, ok := g.noWorse(x[kappaAt], x[lagAt], &o, 1e-9)
			if settled && ok {
				return p
			}
			if p.Penalised < nearer.Penalised {
				nearer = p
			}
		}
		p, met := nearer, nearer.Penalised < o.Penalised
		if below.lag && !met {
			p, met = g.noWorse(o.Kappa, 0, &o, 0)
			h.lag = met
		}
		if longer && !met {
			p, met = g.noWorse(o.Kappa, g.longestLag(), &o, 0)
			h.lag = met
		}
		if below.kappa && !met {
			p, met = g.straight(&o, h)
			h.kappa = met
		}
		if !met {
			return o
		}
		now := g.heldAt(&p)
		o, h.ceiling, h.drop = p, now.ceiling, now.drop
	}
	return o
}

// straight returns the best straight line, with the lag that suits it and not
// that of the curve, and whether it fits as well as the curve.
func (g *grid) straight(o *Optimum, h held) (Optimum, bool) {
	h.kappa = true
	if x, settled := g.gaussNewton(g.row(o.Lag).single(0, 0), h); settled && x[lagAt] >= 0 && x[lagAt] <= g.longestLag() {
		if p, ok := g.noWorse(0, x[lagAt], o, 0); ok {
			return p, true
		}
	}
	return g.noWorse(0, o.Lag, o, 0)
}

// noWorse returns the best curve of a kappa and a lag and whether it fits as well
// as another but for a share.
func (g *grid) noWorse(kappa, lag float64, than *Optimum, share float64) (Optimum, bool) {
	p := g.row(lag).single(kappa, 0)
	p.Largest = than.Largest
	return p, p.Penalised <= than.Penalised+share*(1+math.Abs(than.Penalised))
}

// gaussNewton walks in all free parameters and reports whether it settled. A
// kappa or lag below zero ends the walk.
func (g *grid) gaussNewton(o Optimum, hold held) (x [parameters]float64, settled bool) {
	d := g.d
	free := [parameters]bool{endAt: true, dropAt: !hold.drop && !hold.ceiling, kappaAt: !hold.kappa, lagAt: !hold.lag}
	x[endAt], x[dropAt], x[kappaAt], x[lagAt] = o.End, o.Drop, o.Kappa, o.Lag
	largest := math.Inf(1)
	for range mostPolish {
		step, ok := g.step(x, free, hold.ceiling)
		if !ok {
			return x, false
		}
		largest = 0
		for i := range x {
			x[i] += step[i]
			largest = max(largest, math.Abs(step[i])/(1e-9+math.Abs(x[i])))
		}
		if hold.ceiling {
			x[dropAt] = d.Ceiling - x[endAt]
		}
		switch {
		case x[kappaAt] < 0 || x[lagAt] < 0 || x[kappaAt] > kappaHigh || x[lagAt] > g.longestLag() || !(largest < 10):
			return x, false
		case largest < polishedTo:
			return x, true
		}
	}
	return x, largest < settledAt
}

// newton walks in kappa and lag, for which the best End and Drop are known, to
// the zero of the gradient, with second derivatives by differences.
func (g *grid) newton(o Optimum, hold held) (x [parameters]float64, settled bool) {
	x[kappaAt], x[lagAt] = o.Kappa, o.Lag
	free := [parameters]bool{kappaAt: !hold.kappa, lagAt: !hold.lag}
	largest := math.Inf(1)
	for range mostPolish {
		f := g.gradient(x, free)
		var j [parameters][parameters]float64
		for p := kappaAt; p <= lagAt; p++ {
			if free[p] {
				y, by := x, differences*x[p]
				y[p] += by
				fy := g.gradient(y, free)
				j[kappaAt][p], j[lagAt][p] = (fy[kappaAt]-f[kappaAt])/by, (fy[lagAt]-f[lagAt])/by
			} else {
				j[p][p] = 1
			}
		}
		det := j[kappaAt][kappaAt]*j[lagAt][lagAt] - j[kappaAt][lagAt]*j[lagAt][kappaAt]
		dk := (f[lagAt]*j[kappaAt][lagAt] - f[kappaAt]*j[lagAt][lagAt]) / det
		dl := (f[kappaAt]*j[lagAt][kappaAt] - f[lagAt]*j[kappaAt][kappaAt]) / det
		x[kappaAt] += dk
		x[lagAt] += dl
		largest = max(math.Abs(dk)/(1e-9+math.Abs(x[kappaAt])), math.Abs(dl)/(1e-9+math.Abs(x[lagAt])))
		switch {
		case x[kappaAt] < 0 || x[lagAt] < 0 || x[kappaAt] > kappaHigh || x[lagAt] > g.longestLag() || !(largest < 10):
			return x, false
		case largest < polishedTo:
			return x, true
		}
	}
	return x, largest < settledAt
}

// gradient returns half the negative gradient of the penalised sum of squares
// in kappa and lag, at the best End and Drop; zero for what is held.
func (g *grid) gradient(x [parameters]float64, free [parameters]bool) [parameters]float64 {
	p := g.row(x[lagAt]).single(x[kappaAt], 0)
	x[endAt], x[dropAt] = p.End, p.Drop
	_, r := g.normal(x, free, false)
	for i, f := range free {
		if !f {
			r[i] = 0
		}
	}
	return r
}

// step returns one Gauss-Newton step in the free parameters.
func (g *grid) step(x [parameters]float64, free [parameters]bool, full bool) ([parameters]float64, bool) {
	a, r := g.normal(x, free, full)
	return solve(&a, r, free)
}

// normal returns the matrix and the right side of the normal equations. With the
// means m of g and h of the transient over an interval the model is
//
//	End (1 - h) + Drop (m - h) + Ceiling h
//
// and full ties Drop to Ceiling - End.
func (g *grid) normal(x [parameters]float64, free [parameters]bool, full bool) (a [parameters][parameters]float64, r [parameters]float64) {
	d := g.d
	c := g.shape.curve(x[kappaAt])
	g.curveMeans(&c, g.means, g.slope)
	g.transient(x[lagAt], g.h, g.hSlope)
	toCeiling := d.Ceiling - x[endAt] - x[dropAt]
	for i := range d.Data {
		m, h := g.means[i], g.h[i]
		rest := d.Data[i].Value - x[endAt]*(1-h) - x[dropAt]*(m-h) - d.Ceiling*h
		var j [parameters]float64
		j[endAt], j[dropAt] = 1-h, m-h
		if full {
			j[endAt] -= j[dropAt]
		}
		if free[kappaAt] {
			j[kappaAt] = x[dropAt] * g.slope[i]
		}
		if free[lagAt] {
			j[lagAt] = toCeiling * g.hSlope[i]
		}
		w := g.w[i]
		w0, w1, w2, w3 := w*j[0], w*j[1], w*j[2], w*j[3]
		a[0][0] += w0 * j[0]
		a[1][0] += w1 * j[0]
		a[1][1] += w1 * j[1]
		a[2][0] += w2 * j[0]
		a[2][1] += w2 * j[1]
		a[2][2] += w2 * j[2]
		a[3][0] += w3 * j[0]
		a[3][1] += w3 * j[1]
		a[3][2] += w3 * j[2]
		a[3][3] += w3 * j[3]
		r[0] += w0 * rest
		r[1] += w1 * rest
		r[2] += w2 * rest
		r[3] += w3 * rest
	}
	if free[lagAt] {
		s := 1 / (d.LagScale * d.LagScale)
		a[lagAt][lagAt] += s
		r[lagAt] -= x[lagAt] * s
	}
	return a, r
}

// solve solves the normal equations of the free parameters by Cholesky's
// decomposition with the diagonal scaled to 1; false where they are singular.
func solve(a *[parameters][parameters]float64, r [parameters]float64, free [parameters]bool) (x [parameters]float64, ok bool) {
	var at [parameters]int
	n := 0
	for p, f := range free {
		if f {
			at[n] = p
			n++
		}
	}
	var l [parameters][parameters]float64
	var scale, y [parameters]float64
	for i := range n {
		if scale[i] = math.Sqrt(a[at[i]][at[i]]); !(scale[i] > 0) {
			return x, false
		}
	}
	for i := range n {
		y[i] = r[at[i]] / scale[i]
		for j := range i + 1 {
			v := a[at[i]][at[j]] / (scale[i] * scale[j])
			for k := range j {
				v -= l[i][k] * l[j][k]
			}
			if i > j {
				l[i][j] = v / l[j][j]
				continue
			}
			if !(v > 1e-13) {
				return x, false
			}
			l[i][i] = math.Sqrt(v)
		}
		for k := range i {
			y[i] -= l[i][k] * y[k]
		}
		y[i] /= l[i][i]
	}
	for i := n - 1; i >= 0; i-- {
		for k := i + 1; k < n; k++ {
			y[i] -= l[k][i] * y[k]
		}
		y[i] /= l[i][i]
		x[at[i]] = y[i] / scale[i]
	}
	return x, true
}
