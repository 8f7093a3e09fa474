package infiltration

import (
	"fmt"
	"math"
)

// GreenAmpt is the capacity
//
//	f = K (1 + PsiTheta/F)
//
// after a depth F has infiltrated; PsiTheta is the suction at the wetting front
// (with the depth of ponded water, where that matters) times the deficit of
// water content. Only this product can be known from a hydrograph. Units are
// the caller's, consistently.
//
// Sources: Green & Ampt 1911, J. Agric. Sci. 4:1-24; under rain Mein & Larson
// 1973, Water Resour. Res. 9:384-394, in the form of Chow, Maidment & Mays
// 1988, Applied Hydrology, sections 4.3 and 4.4.
type GreenAmpt struct{ K, PsiTheta float64 }

func (g GreenAmpt) check() error {
	if !(g.K > 0) || !(g.PsiTheta > 0) || math.IsInf(g.K, 0) || math.IsInf(g.PsiTheta, 0) {
		return fmt.Errorf("%w: Green-Ampt with K %v, psi dtheta %v; both must be positive", ErrModel, g.K, g.PsiTheta)
	}
	return nil
}

// Depth returns the depth that a surface ponded from the start takes in by time
// t: the root of F - PsiTheta ln(1 + F/PsiTheta) = K t.
func (g GreenAmpt) Depth(t float64) (float64, error) {
	if err := g.check(); err != nil {
		return 0, err
	}
	return g.depthAfter(0, t)
}

// Rate returns the capacity of a surface ponded from the start at time t.
func (g GreenAmpt) Rate(t float64) (float64, error) {
	depth, err := g.Depth(t)
	if err != nil {
		return 0, err
	}
	if !(depth > 0) {
		return 0, fmt.Errorf("%w: the Green-Ampt capacity is unbounded at time %v", ErrModel, t)
	}
	return g.K * (1 + g.PsiTheta/depth), nil
}

// depthAfter solves F - Fp - PsiTheta ln((PsiTheta + F)/(PsiTheta + Fp)) = K t
// for the depth at time t after ponding at the depth Fp. The left side is
// convex and rising in F, and the start is an upper bound of the root (there
// the linear part of the left side is K t plus the largest logarithm), so that
// Newton's steps come down to it without overshooting.
func (g GreenAmpt) depthAfter(ponding, t float64) (float64, error) {
	if !(t >= 0) || math.IsInf(t, 0) {
		return 0, fmt.Errorf("%w: time %v", ErrModel, t)
	}
	kt, p := g.K*t, g.PsiTheta
	if kt == 0 {
		return ponding, nil
	}
	// F - Fp <= K t + sqrt(2 (PsiTheta + Fp) K t): from ln(1+x) <= x/sqrt(1+x).
	x := kt + math.Sqrt(2*(p+ponding)*kt) // F - Fp
	for range 100 {
		miss := x - p*math.Log1p(x/(p+ponding)) - kt
		step := miss * (p + ponding + x) / (ponding + x)
		x -= step
		if math.Abs(step) <= 1e-14*x {
			break
		}
	}
	return ponding + x, nil
}

// PondingTime returns the time at which the surface ponds under a constant
// intensity i, tp = K PsiTheta / (i (i - K)); there is no ponding, and an error,
// for i <= K.
func (g GreenAmpt) PondingTime(i float64) (float64, error) {
	depth, err := g.PondingDepth(i)
	if err != nil {
		return 0, err
	}
	return depth / i, nil
}

// PondingDepth returns the depth infiltrated until then, Fp = K PsiTheta / (i - K).
func (g GreenAmpt) PondingDepth(i float64) (float64, error) {
	if err := g.check(); err != nil {
		return 0, err
	}
	if !(i > g.K) || math.IsInf(i, 0) {
		return 0, fmt.Errorf("%w: no ponding at intensity %v, which the soil can take for ever (K %v)", ErrModel, i, g.K)
	}
	return g.K * g.PsiTheta / (i - g.K), nil
}

// DepthUnderRain returns the depth infiltrated by time t under a constant
// intensity i, all of it before ponding.
func (g GreenAmpt) DepthUnderRain(i, t float64) (float64, error) {
	if err := g.check(); err != nil {
		return 0, err
	}
	if i <= g.K {
		return i * t, nil
	}
	ponding, err := g.PondingDepth(i)
	if err != nil {
		return 0, err
	}
	if i*t <= ponding {
		return i * t, nil
	}
	return g.depthAfter(ponding, t-ponding/i)
}

// RateUnderRain returns the infiltration rate at time t under a constant
// intensity i: the intensity until ponding, then the capacity.
func (g GreenAmpt) RateUnderRain(i, t float64) (float64, error) {
	depth, err := g.DepthUnderRain(i, t)
	if err != nil {
		return 0, err
	}
	if !(depth > 0) {
		return i, nil
	}
	return math.Min(i, g.K*(1+g.PsiTheta/depth)), nil
}

// RateAtFront returns the capacity K (psi + h0 + L)/L when the wetting front is
// at the depth L below a ponded head h0; psi is the suction there.
func RateAtFront(k, psi, h0, front float64) (float64, error) {
	if !(k > 0) || !(front > 0) || !(psi+h0 >= 0) {
		return 0, fmt.Errorf("%w: Green-Ampt front at %v with K %v, suction %v, head %v", ErrModel, front, k, psi, h0)
	}
	return k * (psi + h0 + front) / front, nil
}
