package infiltration

import (
	"fmt"
	"math"

	"sheetwash/analysis/internal/fit"
)

// KostiakovLewisModel names the model in the fits table.
const KostiakovLewisModel = "kostiakov_lewis"

// KostiakovLewis is the model
//
//	F = A t^B + FC t,  f = A B t^(B-1) + FC,  0 < B < 1,
//
// with t the time since ponding; with FC = 0 it is Kostiakov's, whose rate goes
// to 0. Mezencev's f = fc + b t^-c is the same function. Units are the caller's,
// consistently.
//
// Sources, from memory: Kostiakov 1932, Trans. 6th Comm. Int. Soc. Soil Sci.
// A:17-21; Lewis 1937, Trans. Am. Geophys. Union 18:361-368; Mezencev 1948,
// Meteorol. Gidrol. 3:33-40.
type KostiakovLewis struct{ A, B, FC float64 }

func (m KostiakovLewis) check() error {
	if !(m.A > 0) || !(m.B > 0 && m.B < 1) || !(m.FC >= 0) || math.IsInf(m.A, 0) || math.IsInf(m.FC, 0) {
		return fmt.Errorf("%w: Kostiakov-Lewis with a %v, b %v, fc %v; need a > 0, 0 < b < 1 and fc >= 0", ErrModel, m.A, m.B, m.FC)
	}
	return nil
}

// Depth returns the depth that a surface ponded from the start takes in by time t.
func (m KostiakovLewis) Depth(t float64) (float64, error) {
	if err := m.check(); err != nil {
		return 0, err
	}
	if !(t >= 0) {
		return 0, fmt.Errorf("%w: time %v", ErrModel, t)
	}
	return m.A*math.Pow(t, m.B) + m.FC*t, nil
}

// Rate returns the capacity of a surface ponded from the start at time t.
func (m KostiakovLewis) Rate(t float64) (float64, error) {
	if err := m.check(); err != nil {
		return 0, err
	}
	if !(t > 0) {
		return 0, fmt.Errorf("%w: the Kostiakov capacity is unbounded at time %v", ErrModel, t)
	}
	return m.A*m.B*math.Pow(t, m.B-1) + m.FC, nil
}

// PondingTime returns the time at which the surface ponds under a constant
// intensity i, by time compression: with g = i - FC and t0 = (A B/g)^(1/(1-B)),
// the time at which the ponded curve has fallen to i,
//
//	tp = t0 (g/B + FC)/i.
//
// There is no ponding, and an error, for i <= FC.
func (m KostiakovLewis) PondingTime(i float64) (float64, error) {
	if err := m.check(); err != nil {
		return 0, err
	}
	if !(i > m.FC) {
		return 0, fmt.Errorf("%w: no ponding at intensity %v, which the soil can take for ever (fc %v)", ErrModel, i, m.FC)
	}
	g := i - m.FC
	return math.Pow(m.A*m.B/g, 1/(1-m.B)) * (g/m.B + m.FC) / i, nil
}

// kostiakovLewisCapacity has the coordinates tp, the time of ponding, b and fc: a
// alone changes with b by whole powers of ten.
func kostiakovLewisCapacity() capacity {
	c := capacity{
		name:        KostiakovLewisModel,
		coordinates: []coordinate{positive(rainLength), exponent(0.2, 0.5, 0.75), shareOfRain(0)},
		depths:      kostiakovLewisDepths,
		last: func(p fit.Point, r rain) float64 {
			return min(r.i, p[2]+(r.i-p[2])*math.Pow(1+max(r.end-p[0], 0)/kostiakovT0(p, r), p[1]-1))
		},
		ponding: func(p fit.Point, _ rain) float64 { return p[0] },
		pondingAt: func(tp float64, p fit.Point, _ rain) fit.Point {
			p[0] = tp
			return p
		},
	}
	c.rows = []reported{
		{name: "a", unit: "mm/h^b", of: kostiakovA, coordinate: none, unboundedAt: none, logarithm: true},
		c.alone("b", "1", 1), c.alone("fc", "mm/h", 2),
	}
	return c
}

// exponent is the coordinate of b: at 1 the curve is flat and at 0 all of it is
// over at once.
func exponent(starts ...float64) coordinate {
	return coordinate{linear, one, 0.02, 0.98, starts}
}

// kostiakovT0 returns the time at which a surface ponded from the start takes in
// no more than the rain, see KostiakovLewis.PondingTime.
func kostiakovT0(p fit.Point, r rain) float64 {
	return r.i * p[0] / ((r.i-p[2])/p[1] + p[2])
}

// kostiakovA returns a = g t0^(1-b)/b.
func kostiakovA(p fit.Point, r rain) float64 {
	return (r.i - p[2]) / p[1] * math.Pow(kostiakovT0(p, r), 1-p[1])
}

// kostiakovLewisDepths is, with m = t - tp and y = 1 + m/t0,
//
//	F = i tp + fc m + (g t0/b) (y^b - 1).
func kostiakovLewisDepths(p fit.Point, r rain, t, depth []float64, slope *slopes) {
	tp, b, fc := p[0], p[1], p[2]
	g := r.i - fc
	t0 := kostiakovT0(p, r)
	// derivatives of t0 by tp, b and fc
	q := g/b + fc
	t0By := fit.Point{t0 / tp, t0 * g / (q * b * b), t0 * (1/b - 1) / q}
	for n := untilPonding(tp, r, t, depth, slope); n < len(t); n++ {
		m := t[n] - tp
		y := 1 + m/t0
		ln := math.Log(y)
		power := math.Exp(b * ln)
		part := g * t0 / b * (power - 1)
		depth[n] = r.i*tp + fc*m + part
		if slope == nil {
			continue
		}
		flow := g * power / y
		byT0 := part/t0 - flow*m/t0
		slope[0][n] = r.i - fc - flow + byT0*t0By[0]
		slope[1][n] = (g*t0*power*ln-part)/b + byT0*t0By[1]
		if slope[2] != nil {
			slope[2][n] = m - part/g + byT0*t0By[2]
		}
	}
}
