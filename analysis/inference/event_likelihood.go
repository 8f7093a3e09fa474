package inference

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/integrate/quad"
)

// eventFit is the likelihood of values that events shift together, some known as
// bounds only. Values are shifted and scaled to unit range before.
type eventFit struct {
	groups         []eventGroup
	alone          bool // each value is a group: only the sum of the two scatters is seen, and events are taken not to differ
	centre, scale  float64
	middle, inside float64 // roughly the mean, and the deviation within events: where climbs start
	rule           *nodes  // of the quadratures
}

// eventGroup holds the values of one event.
type eventGroup struct {
	n, mean, ss float64 // observed: how many, their mean, squares about it
	bounds      []countedBound
}

// eventPoint is a mean, the logarithm of the deviation of plots and the
// deviation of events in that of plots. The likelihood is even in the last.
type eventPoint [3]float64

// nodes of a quadrature over the shift of an event: of Hermite about the mode of the
// integrand where a value is observed; of Legendre in each panel from -1 to 1 where all
// are bounds, since the integrand may be a step there.
type nodes struct {
	hermite, weight, panel, share []float64
	enough                        float64 // a climb ends where the rise that is left is below this share
}

// The error of the likelihood is below 1e-8 with the whole nodes and below
// fewErr with the few, which show the way to a maximum.
var wholeNodes, fewNodes = newNodes(24, 16, 1e-16), newNodes(9, 8, 1e-6)

const fewErr = 1e-3

func newNodes(hermite, legendre int, enough float64) *nodes {
	n := &nodes{make([]float64, hermite), make([]float64, hermite), make([]float64, legendre), make([]float64, legendre), enough}
	quad.Hermite{}.FixedLocations(n.hermite, n.weight, math.Inf(-1), math.Inf(1))
	for i, x := range n.hermite {
		n.weight[i] *= math.Exp(x * x)
	}
	quad.Legendre{}.FixedLocations(n.panel, n.share, -1, 1)
	return n
}

func newEventFit(groups [][]Bounds) (*eventFit, bool) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, g := range groups {
		for _, b := range g {
			for _, v := range [2]float64{b.Low, b.High} {
				if !math.IsInf(v, 0) {
					lo, hi = min(lo, v), max(hi, v)
				}
			}
		}
	}
	f := &eventFit{centre: lo + (hi-lo)/2, scale: hi - lo, rule: wholeNodes}
	if !(f.scale > 0) || !spread(f.centre, f.scale) {
		return nil, false
	}
	for _, g := range groups {
		f.groups = append(f.groups, f.group(g))
	}
	return f, true
}

func (f *eventFit) group(values []Bounds) eventGroup {
	var g eventGroup
	var observed []float64
	for _, b := range values {
		s := Bounds{(b.Low - f.centre) / f.scale, (b.High - f.centre) / f.scale}
		if s.Observed() {
			observed = append(observed, s.Low)
			continue
		}
		at := len(g.bounds)
		for i, o := range g.bounds {
			if o.Bounds == s {
				at = i
			}
		}
		if at == len(g.bounds) {
			g.bounds = append(g.bounds, countedBound{Bounds: s})
		}
		g.bounds[at].n++
	}
	g.n = float64(len(observed))
	g.mean, g.ss = moments(observed)
	return g
}

// climb is ln L with its gradient and curvature by the parameters of a point.
type climb struct {
	l float64
	g [3]float64
	h [3][3]float64
}

func (c *climb) add(o climb) {
	c.l += o.l
	for i := range 3 {
		c.g[i] += o.g[i]
		for j := range 3 {
			c.h[i][j] += o.h[i][j]
		}
	}
}

// standing is a standardised distance (y - mu)/sigma - k u with its derivatives by
// mu, ln sigma and k.
type standing struct{ z, m, s, k float64 }

// through adds n times a function of a standing, given with its first two derivatives.
func (c *climb) through(n, l, d, dd float64, z standing, inverse float64) {
	c.l += n * l
	by := [3]float64{z.m, z.s, z.k}
	for i := range 3 {
		c.g[i] += n * d * by[i]
		for j := range 3 {
			c.h[i][j] += n * dd * by[i] * by[j]
		}
	}
	// Second derivatives of the standing: 1/sigma by mu and ln sigma, minus that by ln sigma twice.
	c.h[0][1] += n * d * inverse
	c.h[1][0] += n * d * inverse
	c.h[1][1] -= n * d * z.s
}

// at returns ln L, without the constant of the observed values.
func (f *eventFit) at(p eventPoint) climb {
	var c climb
	for i := range f.groups {
		c.add(f.event(&f.groups[i], p))
	}
	if f.alone {
		c.g[2], c.h[2] = 0, [3]float64{0, 0, -1}
		c.h[0][2], c.h[1][2] = 0, 0
	}
	return c
}

// event returns ln of the integral over the event's shift tau u, u standard normal,
// with its derivatives: means and variances of those of the integrand.
//
// Without bounds it is closed: the mean of n values has the variance tau² + sigma²/n.
func (f *eventFit) event(g *eventGroup, p eventPoint) climb {
	inverse := math.Exp(-p[1])
	var c climb
	c.l = -g.n*p[1] - g.ss*inverse*inverse/2
	c.g[1] = -g.n + g.ss*inverse*inverse
	c.h[1][1] = -2 * g.ss * inverse * inverse
	if len(g.bounds) == 0 {
		c.closed(g, p, inverse)
		return c
	}
	u, curve := f.mode(g, p, inverse)
	m := moment{top: f.inner(g, p, inverse, u).l}
	if g.n > 0 {
		step := math.Sqrt2 / math.Sqrt(curve)
		for i, x := range f.rule.hermite {
			m.add(step*f.rule.weight[i], f.inner(g, p, inverse, u+step*x))
		}
	} else {
		cuts := f.cuts(g, p, inverse, u, curve)
		for i, lo := range cuts[:len(cuts)-1] {
			half := (cuts[i+1] - lo) / 2
			for j, x := range f.rule.panel {
				m.add(half*f.rule.share[j], f.inner(g, p, inverse, lo+half*(1+x)))
			}
		}
	}
	c.add(m.climb())
	return c
}

// cuts are the ends of the panels of an event of bounds only: about each step of
// its integrand, about its mode, and where the normal density bends.
func (f *eventFit) cuts(g *eventGroup, p eventPoint, inverse, mode, curve float64) []float64 {
	const end = 8.5
	cuts := []float64{-end, -3, 3, end}
	about := []float64{mode}
	if curve > 9 { // sharper than the normal density: opposed bounds act as a value
		about = append(about, mode-5/math.Sqrt(curve), mode+5/math.Sqrt(curve))
	}
	for _, u := range about {
		if u > -end && u < end {
			cuts = append(cuts, u)
		}
	}
	if k := math.Abs(p[2]); k > 0 {
		for _, b := range g.bounds {
			for _, limit := range [2]float64{b.Low, b.High} {
				at := (limit - p[0]) * inverse / p[2]
				for _, u := range [3]float64{at - 6/k, at, at + 6/k} {
					if u > -end && u < end {
						cuts = append(cuts, u)
					}
				}
			}
		}
	}
	slices.Sort(cuts)
	return cuts
}

// moment is an integral with those of the derivatives of its integrand.
type moment struct {
	top, sum float64
	mean     climb
	square   [3][3]float64
}

func (m *moment) add(weight float64, in climb) {
	w := weight * math.Exp(in.l-m.top)
	m.sum += w
	for a := range 3 {
		m.mean.g[a] += w * in.g[a]
		for b := range a + 1 {
			m.mean.h[a][b] += w * in.h[a][b]
			m.square[a][b] += w * in.g[a] * in.g[b]
		}
	}
}

// climb returns the logarithm of the integral over a normal density, which the
// integrand has without its constant, and its derivatives.
func (m *moment) climb() (c climb) {
	c.l = m.top + math.Log(m.sum/math.Sqrt(2*math.Pi))
	for a := range 3 {
		c.g[a] = m.mean.g[a] / m.sum
		for b := range a + 1 {
			c.h[a][b] = (m.mean.h[a][b]+m.square[a][b])/m.sum - m.mean.g[a]*m.mean.g[b]/(m.sum*m.sum)
			c.h[b][a] = c.h[a][b]
		}
	}
	return c
}

// closed adds -ln(H)/2 - n e²/(2 H) with H = 1 + n k², e = (mean - mu)/sigma.
func (c *climb) closed(g *eventGroup, p eventPoint, inverse float64) {
	n, k := g.n, p[2]
	e, h := (g.mean-p[0])*inverse, 1+g.n*p[2]*p[2]
	c.through(1, -math.Log(h)/2-n*e*e/(2*h), -n*e/h, -n/h, standing{e, -inverse, -e, 0}, inverse)
	dh := 2 * n * k
	c.g[2] += dh * (-1/(2*h) + n*e*e/(2*h*h))
	c.h[2][2] += 2*n*(-1/(2*h)+n*e*e/(2*h*h)) + dh*dh*(1/(2*h*h)-n*e*e/(h*h*h))
	cross := dh * n * e / (h * h) // by e and k
	for i, by := range [2]float64{-inverse, -e} {
		c.h[i][2] += cross * by
		c.h[2][i] += cross * by
	}
}

// inner is the logarithm of the integrand at u with its derivatives, without what does not depend on it.
func (f *eventFit) inner(g *eventGroup, p eventPoint, inverse, u float64) climb {
	c := climb{l: -u * u / 2}
	at := func(y float64) standing {
		e := (y - p[0]) * inverse
		return standing{e - p[2]*u, -inverse, -e, -u}
	}
	if g.n > 0 {
		z := at(g.mean)
		c.through(g.n, -z.z*z.z/2, -z.z, -1, z, inverse)
	}
	for _, o := range g.bounds {
		switch {
		case math.IsInf(o.High, 1):
			z := at(o.Low)
			q, h := upperTail(z.z)
			c.through(o.n, q, -h, -h*(h-z.z), z, inverse)
		case math.IsInf(o.Low, -1):
			z := at(o.High)
			q, h := upperTail(-z.z)
			c.through(o.n, q, h, -h*(h+z.z), z, inverse)
		default:
			c.between(o, at(o.Low), at(o.High), inverse)
		}
	}
	return c
}

// between adds values known to lie between two bounds.
func (c *climb) between(o countedBound, a, b standing, inverse float64) {
	p := 0.0
	if a.z > 0 {
		p = NormalCDF(-a.z) - NormalCDF(-b.z)
	} else {
		p = NormalCDF(b.z) - NormalCDF(a.z)
	}
	if !(p > 0) { // far away: the nearer limit says it
		if a.z > 0 {
			q, h := upperTail(a.z)
			c.through(o.n, q, -h, -h*(h-a.z), a, inverse)
		} else {
			q, h := upperTail(-b.z)
			c.through(o.n, q, h, -h*(h+b.z), b, inverse)
		}
		return
	}
	fa, fb := density(a.z)/p, density(b.z)/p
	c.through(o.n, math.Log(p), -fa, a.z*fa-fa*fa, a, inverse)
	c.through(o.n, 0, fb, -b.z*fb-fb*fb, b, inverse)
	cross := o.n * fa * fb
	x, y := [3]float64{a.m, a.s, a.k}, [3]float64{b.m, b.s, b.k}
	for i := range 3 {
		for j := range 3 {
			c.h[i][j] += cross * (x[i]*y[j] + x[j]*y[i])
		}
	}
}

// mode returns the u at which the integrand is largest, by Newton's steps on a
// concave function, and its curvature there.
func (f *eventFit) mode(g *eventGroup, p eventPoint, inverse float64) (u, curve float64) {
	k := p[2]
	e := (g.mean - p[0]) * inverse
	u = g.n * k * e / (1 + g.n*k*k)
	for range 50 {
		slope := -u + g.n*k*(e-k*u)
		curve = 1 + g.n*k*k
		for _, o := range g.bounds {
			d, dd := boundSlopes((o.Low-p[0])*inverse-k*u, (o.High-p[0])*inverse-k*u)
			slope -= o.n * k * d
			curve -= o.n * k * k * dd
		}
		step := slope / curve
		u += step
		if math.Abs(step) < 1e-8 {
			break
		}
	}
	return u, curve
}

// boundSlopes returns the first two derivatives, by a common shift of both limits,
// of the logarithm of the probability between them.
func boundSlopes(a, b float64) (d, dd float64) {
	switch {
	case math.IsInf(b, 1):
		_, h := upperTail(a)
		return -h, -h * (h - a)
	case math.IsInf(a, -1):
		_, h := upperTail(-b)
		return h, -h * (h + b)
	}
	var c climb
	c.between(countedBound{n: 1}, standing{z: a, m: 1}, standing{z: b, m: 1}, 0)
	return c.g[0], c.h[0][0]
}
