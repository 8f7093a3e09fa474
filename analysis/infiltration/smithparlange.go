package infiltration

import (
	"fmt"
	"math"

	"sheetwash/analysis/internal/fit"
)

// SmithParlangeModel names the model in the fits table.
const SmithParlangeModel = "smith_parlange"

// SmithParlange is the capacity
//
//	f = K exp(F/G) / (exp(F/G) - 1) = K / (1 - exp(-F/G))
//
// after a depth F has infiltrated, with K the rate that it tends to and G about
// S^2/(2K). Units are the caller's, consistently.
//
// Source, from memory: Smith & Parlange 1978, Water Resour. Res. 14:533-538.
type SmithParlange struct{ K, G float64 }

func (m SmithParlange) check() error {
	if !(m.K > 0) || !(m.G > 0) || math.IsInf(m.K, 0) || math.IsInf(m.G, 0) {
		return fmt.Errorf("%w: Smith-Parlange with K %v, G %v; both must be positive", ErrModel, m.K, m.G)
	}
	return nil
}

// Depth returns the depth that a surface ponded from the start takes in by time
// t: the root of F - G (1 - exp(-F/G)) = K t.
func (m SmithParlange) Depth(t float64) (float64, error) {
	if err := m.check(); err != nil {
		return 0, err
	}
	if !(t >= 0) || math.IsInf(t, 0) {
		return 0, fmt.Errorf("%w: time %v", ErrModel, t)
	}
	kt := m.K * t
	if kt == 0 {
		return 0, nil
	}
	return m.depthFrom(0, kt, kt+math.Sqrt(2*m.G*kt)), nil
}

// depthFrom solves F - Fp + G (exp(-F/G) - exp(-Fp/G)) = kt from an upper bound
// of the root. The left side is convex and rises, so that Newton's steps come
// down to the root without overshooting.
func (m SmithParlange) depthFrom(ponding, kt, upper float64) float64 {
	f := upper
	from := ponding/m.G + math.Expm1(-ponding/m.G)
	for range 60 {
		gone := -math.Expm1(-f / m.G)
		step := (m.G*(f/m.G-gone-from) - kt) / gone
		f -= step
		if math.Abs(step) <= 1e-14*f {
			break
		}
	}
	return f
}

// Rate returns the capacity after a depth has infiltrated.
func (m SmithParlange) Rate(depth float64) (float64, error) {
	if err := m.check(); err != nil {
		return 0, err
	}
	if !(depth > 0) {
		return 0, fmt.Errorf("%w: the Smith-Parlange capacity is unbounded at depth %v", ErrModel, depth)
	}
	return m.K / -math.Expm1(-depth/m.G), nil
}

// SmithParlangePondingDepth returns the depth infiltrated at ponding under a
// constant intensity i, Fp = g ln(i/(i - k)). There is no ponding, and an error,
// for i <= k.
func SmithParlangePondingDepth(g, k, i float64) (float64, error) {
	if !(g > 0) || !(k > 0) || !(i > k) {
		return 0, fmt.Errorf("%w: Smith-Parlange with G %v, K %v at intensity %v; need G > 0 and i > K > 0", ErrModel, g, k, i)
	}
	return -g * math.Log1p(-k/i), nil
}

// smithParlangeCapacity has the coordinates S and K, with S^2 = 2 K G.
func smithParlangeCapacity() capacity {
	c := capacity{
		name:        SmithParlangeModel,
		coordinates: []coordinate{positive(rootSorption), shareOfRain(leastShare)},
		depths:      smithParlangeDepths,
		ponding:     func(p fit.Point, r rain) float64 { return -suction(p, r) * math.Log1p(-p[1]/r.i) / r.i },
		pondingAt: func(tp float64, p fit.Point, r rain) fit.Point {
			p[0] = math.Sqrt(2 * p[1] * r.i * tp / -math.Log1p(-p[1]/r.i))
			return p
		},
		last: func(p fit.Point, r rain) float64 {
			var depth [1]float64
			smithParlangeDepths(p, r, []float64{r.end}, depth[:], nil)
			return min(r.i, p[1]/-math.Expm1(-depth[0]/suction(p, r)))
		},
	}
	c.rows = []reported{
		c.alone("K", "mm/h", 1),
		{name: "G", unit: "mm", of: suction, coordinate: none, unboundedAt: 1, logarithm: true},
	}
	return c
}

// smithParlangeDepths solves the equation after ponding for every time, from the
// depth at the time before. With w = (F - Fp)/G, m = t - tp and exp(-Fp/G) = 1 -
// K/i it is written
//
//	G ((K/i) w + (1 - K/i) (w - 1 + exp(-w))) = K m,
//
// which keeps its digits where K is small.
func smithParlangeDepths(p fit.Point, r rain, t, depth []float64, slope *slopes) {
	s, k := p[0], p[1]
	g := s * s / (2 * k)
	share := k / r.i
	left := 1 - share
	y := -math.Log1p(-share) // Fp/G
	fp := g * y
	tp := fp / r.i
	x, at, rate := 0.0, tp, r.i
	for n := untilPonding(tp, r, t, depth, slope); n < len(t); n++ {
		m := t[n] - tp
		// The rate falls: going on with the last one is an upper bound.
		x += rate * (t[n] - at)
		var gone float64
		for range 60 {
			w := x / g
			e := -math.Expm1(-w)
			gone = share + left*e
			over := w - e
			if w < 0.01 {
				over = w * w * (1./2 - w*(1./6-w*(1./24-w*(1./120-w/720))))
			}
			step := (g*(share*w+left*over) - k*m) / gone
			x -= step
			if step <= enough*x {
				gone -= left * (1 - e) * step / g
				break
			}
		}
		f := fp + x
		at, rate = t[n], k/gone
		depth[n] = f
		if slope == nil {
			continue
		}
		byG := (fallen(y+x/g) - fallen(y)) / gone
		slope[0][n] = byG * 2 * g / s
		slope[1][n] = m/gone - byG*g/k
	}
}

// fallen returns 1 - exp(-y) (1 + y) for y >= 0.
func fallen(y float64) float64 {
	if y < 0.05 {
		return y * y * (1./2 - y*(1./3-y*(1./8-y*(1./30-y*(1./144-y*(1./840-y/5760))))))
	}
	return -math.Expm1(-y) - y*math.Exp(-y)
}
