package infiltration

import (
	"math"

	"sheetwash/analysis/internal/fit"
)

// HortonPonding is the Horton curve under rain by time compression, the one
// that is compared with the other models. HortonCurve is the one of the
// headline, which starts at the onset of runoff and knows of water on the way.
const HortonPonding = "horton_ponding"

// hortonCapacity has the coordinates fc, k and the time at which the curve has
// the intensity:
//
//	f = fc + (i - fc) exp(-k (t - tp)).
//
// From a positive tp on, the time of ponding, that is what goes in; before
// it, f = i. A curve that starts below the intensity, at f0 = fc + (i - fc)
// exp(k tp), has a negative one and ponds at once.
func hortonCapacity() capacity {
	c := capacity{
		name: HortonPonding,
		coordinates: []coordinate{
			shareOfRain(0),
			positive(perRain, 0, 1, 2, 3),
			{linear, rainLength, -reach, 1, nil},
		},
		depths:  hortonDepths,
		ponding: func(p fit.Point, _ rain) float64 { return p[2] },
		pondingAt: func(tp float64, p fit.Point, _ rain) fit.Point {
			p[2] = tp
			return p
		},
		last: func(p fit.Point, r rain) float64 {
			return p[0] + (r.i-p[0])*math.Exp(-p[1]*max(r.end-p[2], 0))
		},
	}
	c.rows = []reported{
		{name: "f0", unit: "mm/h", of: hortonF0, coordinate: none, unboundedAt: none, logarithm: true},
		c.alone("fc", "mm/h", 0), c.alone("k", "1/h", 1),
	}
	return c
}

// hortonF0 returns the capacity at the start of rain: for a positive time of
// ponding the root of Horton.PondingDepth = i tp,
//
//	f0 - i + fc ln((f0 - fc)/(i - fc)) = k i tp.
func hortonF0(p fit.Point, r rain) float64 {
	fc, k, tp := p[0], p[1], p[2]
	g := r.i - fc
	if tp <= 0 {
		return fc + g*math.Exp(k*tp)
	}
	// With y = (f0 - fc)/g the left side g (y - 1) + fc ln y is concave: from below
	// the root Newton's steps come up to it without overshooting.
	y := 1.0
	for range 100 {
		step := (k*r.i*tp - g*(y-1) - fc*math.Log(y)) / (g + fc/y)
		y += step
		if !(step > 1e-14*y) {
			break
		}
	}
	return fc + g*y
}

func hortonDepths(p fit.Point, r rain, t, depth []float64, slope *slopes) {
	fc, k, tp := p[0], p[1], p[2]
	g, wet := r.i-fc, max(tp, 0)
	passed := math.Exp(k * min(tp, 0)) // what of the fall is left at the start
	for n := untilPonding(wet, r, t, depth, slope); n < len(t); n++ {
		m := t[n] - wet
		gone := -math.Expm1(-k * m)
		per := passed * gone / k
		depth[n] = r.i*wet + fc*m + g*per
		if slope == nil {
			continue
		}
		byK := (m*(1-gone) - gone/k) / k
		if k*m < 1e-4 { // the difference would lose its digits
			byK = -m * m / 2 * (1 - 2*k*m/3)
		}
		slope[0][n] = m - per
		slope[1][n] = g * (passed*byK + min(tp, 0)*per)
		slope[2][n] = g * passed * gone
	}
}
