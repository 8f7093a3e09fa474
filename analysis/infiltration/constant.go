package infiltration

import "sheetwash/analysis/internal/fit"

// ConstantRate is the model whose capacity does not change. It is not a failed
// fit of another one: it is what a plot shows whose rate does not decline.
const ConstantRate = "constant"

func constantCapacity() capacity {
	c := capacity{
		name:        ConstantRate,
		coordinates: []coordinate{shareOfRain(0)},
		depths: func(p fit.Point, _ rain, t, depth []float64, slope *slopes) {
			for n, at := range t {
				depth[n] = p[0] * at
			}
			if slope != nil {
				copy(slope[0], t)
			}
		},
		last:      func(p fit.Point, _ rain) float64 { return p[0] },
		ponding:   func(fit.Point, rain) float64 { return 0 },
		pondingAt: func(_ float64, p fit.Point, _ rain) fit.Point { return p },
	}
	c.rows = []reported{c.alone("fc", "mm/h", 0)}
	return c
}
