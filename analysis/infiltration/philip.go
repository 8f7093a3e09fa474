package infiltration

import (
	"fmt"
	"math"

	"sheetwash/analysis/internal/fit"
)

// PhilipTwoTerm names the model of Philip in the fits table.
const PhilipTwoTerm = "philip"

// Philip is the two-term model
//
//	F = S sqrt(t) + A t,  f = S/(2 sqrt(t)) + A
//
// with the sorptivity S and t the time since ponding. It is a series for short
// times: A is a third to two thirds of the saturated conductivity and not the
// rate that the soil tends to. Units are the caller's, consistently.
//
// Source: Philip 1957, Soil Sci. 84:257-264.
type Philip struct{ S, A float64 }

func (m Philip) check() error {
	if !(m.S > 0) || !(m.A >= 0) || math.IsInf(m.S, 0) || math.IsInf(m.A, 0) {
		return fmt.Errorf("%w: Philip with S %v, A %v; need S > 0 and A >= 0", ErrModel, m.S, m.A)
	}
	return nil
}

// Depth returns the depth that a surface ponded from the start takes in by time t.
func (m Philip) Depth(t float64) (float64, error) {
	if err := m.check(); err != nil {
		return 0, err
	}
	if !(t >= 0) {
		return 0, fmt.Errorf("%w: time %v", ErrModel, t)
	}
	return m.S*math.Sqrt(t) + m.A*t, nil
}

// Rate returns the capacity of a surface ponded from the start at time t.
func (m Philip) Rate(t float64) (float64, error) {
	if err := m.check(); err != nil {
		return 0, err
	}
	if !(t > 0) {
		return 0, fmt.Errorf("%w: the Philip capacity is unbounded at time %v", ErrModel, t)
	}
	return m.S/(2*math.Sqrt(t)) + m.A, nil
}

// PhilipPondingTime returns the time at which a soil of sorptivity s and
// constant a ponds under a constant intensity i, by time condensation,
//
//	tp = s^2 (i - a/2) / (2 i (i - a)^2).
//
// There is no ponding, and an error, for i <= a.
func PhilipPondingTime(s, a, i float64) (float64, error) {
	if !(s > 0) || !(a >= 0) || !(i > a) {
		return 0, fmt.Errorf("%w: Philip with S %v, A %v at intensity %v; need S > 0, A >= 0 and i > A", ErrModel, s, a, i)
	}
	return s * s * (i - a/2) / (2 * i * (i - a) * (i - a)), nil
}

// philipCapacity has the coordinates S and A.
func philipCapacity() capacity {
	c := capacity{
		name:        PhilipTwoTerm,
		coordinates: []coordinate{positive(rootSorption), shareOfRain(0)},
		depths:      philipDepths,
		ponding: func(p fit.Point, r rain) float64 {
			tp, _ := philipPonding(p, r)
			return tp
		},
		pondingAt: func(tp float64, p fit.Point, r rain) fit.Point {
			p[0] = (r.i - p[1]) * math.Sqrt(2*r.i*tp/(r.i-p[1]/2))
			return p
		},
		last: func(p fit.Point, r rain) float64 {
			tp, behind := philipPonding(p, r)
			if !(r.end > tp) {
				return r.i
			}
			return p[0]/(2*math.Sqrt(r.end-behind)) + p[1]
		},
	}
	c.rows = []reported{c.alone("S", "mm/h^0.5", 0), c.alone("A", "mm/h", 1)}
	return c
}

// philipPonding returns the time of ponding and by how much the time of the
// curve is behind that of the rain, S^2/(4 i (i - A)).
func philipPonding(p fit.Point, r rain) (tp, behind float64) {
	s, rest := p[0], r.i-p[1]
	behind = s * s / (4 * r.i * rest)
	return behind * (2*r.i - p[1]) / rest, behind
}

func philipDepths(p fit.Point, r rain, t, depth []float64, slope *slopes) {
	s, a := p[0], p[1]
	tp, behind := philipPonding(p, r)
	for n := untilPonding(tp, r, t, depth, slope); n < len(t); n++ {
		m := t[n] - behind
		root := math.Sqrt(m)
		depth[n] = s*root + a*m
		if slope == nil {
			continue
		}
		f := s/(2*root) + a
		slope[0][n] = root - f*2*behind/s
		slope[1][n] = m - f*behind/(r.i-a)
	}
}
