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

// smithParlangeCapacity has the coordinates K and G.
func smithParlangeCapacity() capacity {
	return capacity{
		name: SmithParlangeModel,
		coordinates: []coordinate{
			{bounds: share, starts: []float64{-3, -1, 0, 1.4}},
			{bounds: positive, scale: rainDepth, starts: []float64{-5, -3.5, -2.3, -1.2, 0}},
		},
		depths: smithParlangeDepths,
		last: func(p fit.Point, r rain) float64 {
			var depth [1]float64
			if tp := smithParlangeDepths(p, r, []float64{r.end}, depth[:], nil); !(r.end > tp) {
				return r.i
			}
			return p[0] / -math.Expm1(-depth[0]/p[1])
		},
		rows: []reported{
			{name: "K", unit: "mm/h", of: itself(0), coordinate: 0},
			{name: "G", unit: "mm", of: itself(1), coordinate: 1, logarithm: true},
		},
	}
}

func smithParlangeDepths(p fit.Point, r rain, t, depth []float64, slope *slopes) float64 {
	k, g := p[0], p[1]
	left := 1 - k/r.i // exp(-Fp/G)
	fp := -g * math.Log1p(-k/r.i)
	tp := fp / r.i
	f, at, rate := fp, tp, r.i
	for n := untilPonding(tp, r, t, depth, slope); n < len(t); n++ {
		// The rate falls: going on with the last one is an upper bound.
		kt := k * (t[n] - tp)
		f += rate * (t[n] - at)
		var e float64
		for range 60 {
			e = math.Exp(-f / g)
			step := (f - fp + g*(e-left) - kt) / (1 - e)
			f -= step
			if math.Abs(step) <= 1e-13*f {
				break
			}
		}
		at, rate = t[n], k/(1-e)
		depth[n] = f
		if slope != nil {
			slope[0][n] = (t[n] - tp) / (1 - e)
			slope[1][n] = (left*(1+fp/g) - e*(1+f/g)) / (1 - e)
		}
	}
	return tp
}
