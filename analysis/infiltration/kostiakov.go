package infiltration

import "sheetwash/analysis/internal/fit"

// KostiakovModel names the model F = a t^b, KostiakovLewis without its constant,
// in the fits table. Its rate goes to 0: it has no steady one, only a capacity
// at the end of rain.
const KostiakovModel = "kostiakov"

// kostiakovCapacity has the first two coordinates of KostiakovLewis, whose
// third is 0.
func kostiakovCapacity() capacity {
	whole := kostiakovLewisCapacity()
	return capacity{
		name:        KostiakovModel,
		coordinates: []coordinate{positive(rainLength), exponent(0.25, 0.5, 0.7, 0.9)},
		depths: func(p fit.Point, r rain, t, depth []float64, slope *slopes) {
			p[2] = 0
			if slope == nil {
				kostiakovLewisDepths(p, r, t, depth, nil)
				return
			}
			kostiakovLewisDepths(p, r, t, depth, &slopes{slope[0], slope[1], nil})
		},
		last: func(p fit.Point, r rain) float64 {
			p[2] = 0
			return whole.last(p, r)
		},
		ponding:   whole.ponding,
		pondingAt: whole.pondingAt,
		rows:      whole.rows[:2],
	}
}
