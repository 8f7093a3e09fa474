package infiltration

import (
	"math"

	"sheetwash/analysis/internal/fit"
)

// GreenAmptModel names the model in the fits table.
const GreenAmptModel = "green_ampt"

// greenAmptCapacity has the coordinates S and K, with S^2 = 2 K PsiTheta: the
// square of the sorptivity is what intervals tell, the product's factors much
// less so.
func greenAmptCapacity() capacity {
	c := capacity{
		name:        GreenAmptModel,
		coordinates: []coordinate{positive(rootSorption), shareOfRain(leastShare)},
		depths:      greenAmptDepths,
		ponding:     func(p fit.Point, r rain) float64 { return p[0] * p[0] / (2 * (r.i - p[1]) * r.i) },
		pondingAt: func(tp float64, p fit.Point, r rain) fit.Point {
			p[0] = math.Sqrt(2 * (r.i - p[1]) * r.i * tp)
			return p
		},
		last: func(p fit.Point, r rain) float64 {
			var depth [1]float64
			greenAmptDepths(p, r, []float64{r.end}, depth[:], nil)
			return min(r.i, p[1]*(1+suction(p, r)/depth[0]))
		},
	}
	c.rows = []reported{
		c.alone("K", "mm/h", 1),
		{name: "psi_dtheta", unit: "mm", of: suction, coordinate: none, unboundedAt: 1, logarithm: true},
	}
	return c
}

// suction returns S^2/(2K): PsiTheta, or Smith & Parlange's G.
func suction(p fit.Point, _ rain) float64 { return p[0] * p[0] / (2 * p[1]) }

// greenAmptDepths solves GreenAmpt's equation after ponding for every time, from
// the depth at the time before. With x = F - Fp, m = t - tp and z = x/(PsiTheta +
// Fp) it is written
//
//	z Fp + PsiTheta (z - ln(1 + z)) = K m,
//
// which keeps its digits where K is small.
func greenAmptDepths(p fit.Point, r rain, t, depth []float64, slope *slopes) {
	s, k := p[0], p[1]
	psi := s * s / (2 * k)
	fp := s * s / (2 * (r.i - k))
	tp := fp / r.i
	x, at, rate := 0.0, tp, r.i
	for n := untilPonding(tp, r, t, depth, slope); n < len(t); n++ {
		m := t[n] - tp
		// The rate falls: going on with the last one is an upper bound.
		x += rate * (t[n] - at)
		var z, over float64
		for range 60 {
			z = x / (psi + fp)
			over = overLogarithm(z)
			step := (z*fp + psi*over - k*m) * (psi + fp + x) / (fp + x)
			x -= step
			if step <= enough*x {
				dz := -step / (psi + fp)
				over += z / (1 + z) * dz
				z += dz
				break
			}
		}
		f := fp + x
		at, rate = t[n], k*(1+psi/f)
		depth[n] = f
		if slope == nil {
			continue
		}
		byPsi := (z*f - (psi+f)*over) / f
		slope[0][n] = byPsi * 2 * psi / s
		slope[1][n] = (m*(psi+f)/f - byPsi*psi/k)
	}
}

// enough is the relative step of Newton's method after which the next one, of about its
// square, is lost in rounding.
const enough = 1e-8

// overLogarithm returns z - ln(1 + z) for z >= 0.
func overLogarithm(z float64) float64 {
	if z < 0.01 {
		return z * z * (1./2 - z*(1./3-z*(1./4-z*(1./5-z*(1./6-z*(1./7-z/8))))))
	}
	return z - math.Log1p(z)
}
