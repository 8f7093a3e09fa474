package infiltration

import (
	"math"

	"sheetwash/analysis/internal/fit"
)

// GreenAmptModel names the model in the fits table.
const GreenAmptModel = "green_ampt"

// greenAmptCapacity has the coordinates K and PsiTheta.
func greenAmptCapacity() capacity {
	return capacity{
		name: GreenAmptModel,
		coordinates: []coordinate{
			{bounds: share, starts: []float64{-3, -1, 0, 1.4}},
			{bounds: positive, scale: rainDepth, starts: []float64{-5, -3.5, -2.3, -1.2, 0}},
		},
		depths: greenAmptDepths,
		last: func(p fit.Point, r rain) float64 {
			var depth [1]float64
			if tp := greenAmptDepths(p, r, []float64{r.end}, depth[:], nil); !(r.end > tp) {
				return r.i
			}
			return p[0] * (1 + p[1]/depth[0])
		},
		rows: []reported{
			{name: "K", unit: "mm/h", of: itself(0), coordinate: 0},
			{name: "psi_dtheta", unit: "mm", of: itself(1), coordinate: 1, logarithm: true},
		},
	}
}

// greenAmptDepths solves GreenAmpt's equation after ponding for every time, from
// the depth at the time before.
func greenAmptDepths(p fit.Point, r rain, t, depth []float64, slope *slopes) float64 {
	k, psi := p[0], p[1]
	fp := k * psi / (r.i - k)
	tp := fp / r.i
	f, at, rate := fp, tp, r.i
	for n := untilPonding(tp, r, t, depth, slope); n < len(t); n++ {
		// The rate falls: going on with the last one is an upper bound.
		kt := k * (t[n] - tp)
		f += rate * (t[n] - at)
		var ln float64
		for range 60 {
			ln = math.Log1p((f - fp) / (psi + fp))
			step := (f - fp - psi*ln - kt) * (psi + f) / f
			f -= step
			if math.Abs(step) <= 1e-13*f {
				break
			}
		}
		at, rate = t[n], k*(1+psi/f)
		depth[n] = f
		if slope != nil {
			slope[0][n] = (t[n] - tp) * (psi + f) / f
			slope[1][n] = (psi + f) / f * (ln + psi/(psi+f) - psi/(psi+fp))
		}
	}
	return tp
}
