package infiltration

import "sheetwash/analysis/internal/fit"

// ConstantRate is the model whose capacity does not change. It is not a failed
// fit of another one: it is what a plot shows whose rate does not decline.
const ConstantRate = "constant"

func constantCapacity() capacity {
	return capacity{
		name:        ConstantRate,
		coordinates: []coordinate{{bounds: share, starts: []float64{-2, 0, 2}}},
		depths: func(p fit.Point, _ rain, t, depth []float64, slope *slopes) float64 {
			for n, at := range t {
				depth[n] = p[0] * at
			}
			if slope != nil {
				copy(slope[0], t)
			}
			return 0
		},
		last: func(p fit.Point, _ rain) float64 { return p[0] },
		rows: []reported{{name: "fc", unit: "mm/h", of: itself(0), coordinate: 0}},
	}
}
