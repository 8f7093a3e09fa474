package simulate

import "math"

// SmithParlange is the capacity
//
//	f = K / (1 - exp(-F/G))
//
// (Smith & Parlange 1978, Water Resour. Res. 14:533-538) of a soil that has taken
// in the depth F, mm; K in mm/h, G, the capillary drive times the deficit of water
// content, in mm.
type SmithParlange struct{ K, G float64 }

func (s SmithParlange) begin() func(timeH, infiltratedMM float64) float64 {
	return func(_, depth float64) float64 { return s.K / -math.Expm1(-math.Max(depth, 1e-6)/s.G) }
}
