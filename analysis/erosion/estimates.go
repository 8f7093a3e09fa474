package erosion

import (
	"math"
	"strconv"

	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/analysis/water"
)

// The methods of the sediment metrics. Concentrations on the three bases differ
// by their method's name; the first is the headline.
const (
	MethodFlowWeighted = "flow_weighted"
	MethodWaterBasis   = "flow_weighted_per_l_water"
	MethodMassBasis    = "flow_weighted_per_kg"
	MethodSum          = "sum_of_bottles"
	MethodOverArea     = "mass_over_area"
	MethodOverRunoff   = "soil_loss_over_runoff_time"
)

// uMass returns the standard uncertainty of the total mass, g.
//
//	u(M)^2 = sum (w_k u(m_k))^2 + (u_b sum w_k)^2 + sum u_interpolated^2 + (M r)^2 + u_common^2
//
// w_k is the volume that pool k stands for over the volume caught in it, u_b the
// error of the blank, common to all pools, r the share that may have run past at
// bottle changes, u_common what concentrations share (see uCommon).
func (l *load) uMass() float64 {
	squares, blanks := l.squares+l.looseSq, 0.0
	for k := range l.pools {
		p := &l.pools[k]
		if !(p.caughtML > 0) {
			continue
		}
		u := p.weightML * p.uConc / 1000
		squares += u * u
		if p.blank {
			blanks += p.weightML / p.caughtML
		}
	}
	return gum.Combined(math.Sqrt(squares), blanks*l.uBlankG, l.massG*l.in.UChangeRel, l.uCommon())
}

// uCommon returns the standard uncertainty of the mass that its concentrations share, g:
// the parameters of the rating, the dissolved solids of the supply water, and the error that
// stated concentrations have in common.
func (l *load) uCommon() float64 {
	return gum.Combined(l.uRating(), l.in.Errors.DissolvedRel*l.dissolvedG(), l.commonRel*l.massG)
}

// uConcentration returns the standard uncertainty of the flow-weighted
// concentration C = 1000 M / V, g/L.
//
//	u(C)^2 = (1000 u'(M) / V)^2 + sum (c_k u(V_k) / V)^2
//
// u' is that of the mass without bottle changes, which lose water and sediment
// alike. c_k is C where the pool was weighed, and C_k - C where its concentration
// was stated: a volume read too high then raises mass and volume both.
func (l *load) uConcentration(conc float64) float64 {
	squares, blanks := l.squares, 0.0
	for k := range l.pools {
		p := &l.pools[k]
		if !(p.caughtML > 0) {
			continue
		}
		u := p.weightML * p.uConc / 1000
		v := conc * p.uCaughtML / 1000
		if p.stated.OK || l.in.Metered && p.bottleML > 0 {
			v = (p.conc - conc) * p.uCaughtML / 1000
			full := p.conc * p.uCaughtML / 1000
			squares -= full * full // was counted for the mass
		}
		squares += u*u + v*v
		if p.blank {
			blanks += p.weightML / p.caughtML
		}
	}
	return 1000 * gum.Combined(math.Sqrt(max(0, squares)), blanks*l.uBlankG, l.uCommon()) / l.totalML
}

// result turns the load into estimates.
func (l *load) result() Sediment {
	mass := l.massG + l.loose
	out := Sediment{ByFlow: l.byFlow()}
	out.Mass = l.estimate(mass, l.uMass())
	l.areas(&out)
	if !(l.totalML > 0) {
		none := missing("no_volume")
		out.Concentration, out.WaterBasis, out.MassBasis = none, none, none
		out.FluxExponent, out.ErodibilityOfRain, out.ErodibilityOfFlow = none, none, none
		return out
	}
	conc := 1000 * l.massG / l.totalML
	out.Concentration = l.estimate(conc, l.uConcentration(conc))
	if l.lower {
		out.Concentration.Censored = result.Observed
		out.Concentration.High = quantity.Some(l.high(conc, out.Concentration.U.V))
	}
	out.bases(l.in)
	out.FluxExponent = l.fluxExponent()
	out.ErodibilityOfRain, out.ErodibilityOfFlow = l.erodibility()
	return out
}

// areas fills loss and rate from the mass.
//
//	L = M / A,  (u_L/L)^2 = (u_M/M)^2 + (u_A/A)^2
//	D = 60 L / d,  (u_D/D)^2 = (u_L/L)^2 + (u_d/d)^2
//
// Units: M in g, A in m2, L in g/m2 (0.01 t/ha), d in min, D in g/(m2 h).
func (l *load) areas(out *Sediment) {
	in := l.in
	m, u := out.Mass.Value.V, out.Mass.U.V
	loss := m / in.Plot.AreaM2
	uLoss := math.Hypot(u/in.Plot.AreaM2, loss*in.Errors.AreaRel)
	out.SoilLoss = l.estimate(loss, uLoss)
	if !(in.RunoffMin > 0) {
		out.Rate = missing("no_runoff_time")
		return
	}
	h := in.RunoffMin / 60
	out.Rate = l.estimate(loss/h, math.Hypot(uLoss/h, loss/h*in.URunoffMin/in.RunoffMin))
}

// bases fills the concentration on the two other bases.
func (s *Sediment) bases(in *Input) {
	rho := in.WaterKgM3
	if rho == 0 {
		rho, _ = water.Density(water.ReferenceC)
	}
	s.WaterBasis = rebase(s.Concentration, func(c float64) (float64, bool) { return water.WaterBasis(c) })
	s.MassBasis = rebase(s.Concentration, func(c float64) (float64, bool) { return water.MassBasis(c, rho), true })
}

// rebase puts value and interval on another basis; the uncertainty goes by the
// slope between value - u and value + u.
func rebase(e result.Estimate, f func(float64) (float64, bool)) result.Estimate {
	at := func(o quantity.Optional) quantity.Optional {
		if v, ok := f(o.V); o.OK && ok {
			return quantity.Some(v)
		}
		return quantity.None()
	}
	out := e
	out.Value, out.Low, out.High = at(e.Value), at(e.Low), at(e.High)
	out.Flags = append(result.Flags(nil), e.Flags...)
	up, down := at(quantity.Some(e.Value.V+e.U.V)), at(quantity.Some(e.Value.V-e.U.V))
	out.U = quantity.None()
	if up.OK && down.OK {
		out.U = quantity.Some((up.V - down.V) / 2)
	}
	if !out.Value.OK {
		out.Flags.Add("no_water")
	}
	return out
}

func (l *load) estimate(value, u float64) result.Estimate {
	low, high := gum.Within(value, u, l.df(), l.in.Level, gum.NonNegative())
	e := result.Estimate{Value: quantity.Some(value), U: quantity.Some(u), Low: quantity.Some(low), High: quantity.Some(high),
		Censored: result.Observed, N: len(l.pools)}
	e.Flags = append(e.Flags, l.flags...)
	if l.interpG > 0 && l.massG > 0 {
		e.Flags.Add("interpolated", "interpolated_share="+strconv.FormatFloat(l.interpG/l.massG, 'f', 3, 64))
	}
	if l.lower {
		e.Censored, e.High = result.Right, quantity.None()
		e.Flags.Add("lower_bound")
	}
	return e
}

// df returns the degrees of freedom of the estimates: those of the rating where
// concentrations come from one, which is nearly all of their error; 0 else.
func (l *load) df() float64 {
	if l.usesRating {
		return float64(l.in.Rating.N - 2)
	}
	return 0
}

func (l *load) high(value, u float64) float64 {
	_, high := gum.Within(value, u, l.df(), l.in.Level, gum.NonNegative())
	return high
}

// withoutFlow is the sediment of a plot whose water was not measured: the masses
// add up, a concentration cannot be had (flag no_volume).
func (l *load) withoutFlow() Sediment {
	squares, blanks := 0.0, 0.0
	weighed := 0
	for k := range l.pools {
		p := &l.pools[k]
		if p.stated.OK {
			continue
		}
		weighed++
		l.massG += p.massG
		squares += p.uG * p.uG
		if p.blank {
			blanks++
		}
	}
	none := missing("no_volume")
	out := Sediment{Concentration: none, WaterBasis: none, MassBasis: none, Mass: none, SoilLoss: none, Rate: none,
		FluxExponent: none, ErodibilityOfRain: none, ErodibilityOfFlow: none}
	if weighed == 0 {
		return out
	}
	l.flags.Add("no_volume")
	out.Mass = l.estimate(l.massG, gum.Combined(math.Sqrt(squares), blanks*l.uBlankG))
	l.areas(&out)
	return out
}
