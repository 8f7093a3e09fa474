package erosion

import (
	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/water"
)

// deductDissolved takes what the supply water left in the dish off a weighed pool
// (flag dissolved_deducted).
//
//	m = m_dish - C_d (V - m_dish / 2.65) / 1000
//
// Units: m in g, C_d in g/L, V in mL; only where the run states C_d, which it should
// for suspensions that were evaporated and not for filters. Source: mass balance of the dish.
func (l *load) deductDissolved(p *pool, ml float64) {
	c := l.in.DissolvedGL
	if !(c.V > 0) || p.stated.OK || !(ml > 0) {
		return
	}
	g := c.V * max(0, ml-p.massG/water.ParticleDensity) / 1000
	p.massG -= g
	p.dissolvedG = g
	l.flags.Add("dissolved_deducted")
	if p.massG < 0 {
		l.flagNegative(p, gum.Combined(p.uG, l.uBlankG, l.in.Errors.DissolvedRel*g))
	}
}

// flagNegative says what a mass below zero is.
func (l *load) flagNegative(p *pool, u float64) {
	if p.massG >= -2*u {
		l.flags.Add("non_detect")
	} else {
		l.flags.Add("negative_mass")
	}
}

// dissolvedG is what was deducted from the mass in all, g, weighted like the pools.
func (l *load) dissolvedG() float64 {
	var sum float64
	for k := range l.pools {
		if p := &l.pools[k]; p.dissolvedG > 0 && p.caughtML > 0 {
			sum += p.dissolvedG * p.weightML / p.caughtML
		}
	}
	return sum
}
