package simulate

import "math"

// Capacity is the rate at which a soil could take in water that stands on it.
type Capacity interface {
	// begin returns the capacity, mm/h, at a time since the start of rain, h,
	// when the given depth, mm, has infiltrated. The function may keep state
	// and is called with rising times only.
	begin() func(timeH, infiltratedMM float64) float64
}

// Horton is the capacity curve
//
//	f = Fc + (F0 - Fc) exp(-K t)
//
// (Horton 1940, Soil Sci. Soc. Am. Proc. 5:399-417), F0 and Fc in mm/h, K in
// 1/h. With ByClock, t is the time since the start of rain: the surface seals
// whether or not it takes in water. Otherwise t is the time at which a surface
// ponded from the start would have taken in the depth that has infiltrated
// (time compression), so that a soil that gets less water declines later.
type Horton struct {
	F0, Fc, K float64
	ByClock   bool
}

func (h Horton) begin() func(timeH, infiltratedMM float64) float64 {
	rate := func(t float64) float64 { return h.Fc + (h.F0-h.Fc)*math.Exp(-h.K*t) }
	if h.ByClock || h.K == 0 {
		return func(timeH, _ float64) float64 { return rate(timeH) }
	}
	t := 0.0
	return func(_, depth float64) float64 {
		// The depth infiltrated by a ponded surface is concave in time, so
		// Newton's steps from below never overshoot.
		for range 50 {
			miss := depth - (h.Fc*t + (h.F0-h.Fc)*(-math.Expm1(-h.K*t))/h.K)
			r := rate(t)
			if math.Abs(miss) < 1e-9 || !(r > 1e-9) {
				break
			}
			t += miss / r
		}
		return rate(t)
	}
}

// GreenAmpt is the capacity
//
//	f = K (1 + PsiTheta/F)
//
// (Green & Ampt 1911, J. Agric. Sci. 4:1-24) of a soil that has taken in the
// depth F, mm; K in mm/h, PsiTheta, the suction at the wetting front times the
// deficit of water content, in mm.
type GreenAmpt struct{ K, PsiTheta float64 }

func (g GreenAmpt) begin() func(timeH, infiltratedMM float64) float64 {
	return func(_, depth float64) float64 { return g.K * (1 + g.PsiTheta/math.Max(depth, 1e-6)) }
}

// Philip is the capacity of a soil of sorptivity S, mm/h^0.5, and constant A,
// mm/h, that has taken in the depth F = S sqrt(t) + A t, mm, of a ponded surface
// (Philip 1957, Soil Sci. 84:257-264): f = S/(2 sqrt t) + A.
type Philip struct{ S, A float64 }

func (p Philip) begin() func(timeH, infiltratedMM float64) float64 {
	return func(_, depth float64) float64 {
		// sqrt(t), the root of A x^2 + S x - F = 0 without a difference
		x := 2 * math.Max(depth, 1e-6) / (p.S + math.Sqrt(p.S*p.S+4*p.A*math.Max(depth, 1e-6)))
		return p.S/(2*x) + p.A
	}
}
