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

// kostiakovLewisCapacity has the coordinates d = a T^b, the depth by the end of
// rain T, b and fc: a alone changes with b by whole powers of ten.
func kostiakovLewisCapacity() capacity {
	return capacity{
		name: KostiakovLewisModel,
		coordinates: []coordinate{
			{bounds: positive, scale: rainDepth, starts: []float64{-3, -2, -1.2, -0.5}},
			{bounds: fraction, starts: []float64{-1.5, 0, 1}},
			{bounds: share, starts: []float64{-3, -1, 0, 1}},
		},
		depths: kostiakovLewisDepths,
		last: func(p fit.Point, r rain) float64 {
			k := kostiakovPonding(p, r)
			if !(r.end > k.tp) {
				return r.i
			}
			return p[0]*p[1]/r.end*math.Pow(1-k.behind/r.end, p[1]-1) + p[2]
		},
		rows: []reported{
			{name: "a", unit: "mm/h^b", of: kostiakovA, coordinate: none, logarithm: true},
			{name: "b", unit: "1", of: itself(1), coordinate: 1},
			{name: "fc", unit: "mm/h", of: itself(2), coordinate: 2},
		},
	}
}

func kostiakovA(p fit.Point, r rain) float64 { return p[0] * math.Pow(r.end, -p[1]) }

// kostiakovShift is how the curve lies under rain: the time of ponding, by how
// much its own time is behind that of the rain, and ln(t0/T).
type kostiakovShift struct{ tp, behind, lnT0 float64 }

func kostiakovPonding(p fit.Point, r rain) kostiakovShift {
	d, b, fc := p[0], p[1], p[2]
	g := r.i - fc
	lnT0 := math.Log(d*b/(g*r.end)) / (1 - b)
	t0 := r.end * math.Exp(lnT0)
	return kostiakovShift{tp: t0 * (g/b + fc) / r.i, behind: t0 * g * (1/b - 1) / r.i, lnT0: lnT0}
}

func kostiakovLewisDepths(p fit.Point, r rain, t, depth []float64, slope *slopes) float64 {
	d, b, fc := p[0], p[1], p[2]
	k := kostiakovPonding(p, r)
	g := r.i - fc
	// derivatives of the shift by d, b and fc
	by := fit.Point{k.behind / (d * (1 - b)), k.behind * k.lnT0 / (1 - b), k.behind * b / (g * (1 - b))}
	for n := untilPonding(k.tp, r, t, depth, slope); n < len(t); n++ {
		m := t[n] - k.behind
		ln := math.Log(m / r.end)
		power := math.Exp(b * ln)
		depth[n] = d*power + fc*m
		if slope == nil {
			continue
		}
		f := d*b*power/m + fc
		slope[0][n] = power - f*by[0]
		slope[1][n] = d*power*ln - f*by[1]
		if slope[2] != nil {
			slope[2][n] = m - f*by[2]
		}
	}
	return k.tp
}
