package infiltration

import (
	"math"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/analysis/water"
)

// At20C returns a rate as the same soil would take in water at 20 Cel,
//
//	f20 = f eta(T)/eta(20 Cel),  u(f20)^2 = (f20/f)^2 u(f)^2 + (f20 dln eta/dT u(T))^2
//
// with eta the viscosity of water (see water.RateAt20C). It stands beside the raw
// rate and never in its place: a steady rate between 10 and 30 Cel differs by
// 1.64 for that reason alone.
//
// Units: rate as given, temperature of the soil water and its standard
// uncertainty in Cel; that of the supply stands in for it, with an uncertainty
// to match. A bound stays a bound.
// Errors: water.ErrTemperature outside 0 to 70 Cel.
func At20C(e result.Estimate, tC, uTC float64) (result.Estimate, error) {
	ratio, err := water.RateAt20C(1, tC)
	if err != nil {
		return result.Estimate{}, err
	}
	const step = 0.5 // Cel; inside the range on both sides
	near := min(max(tC, step), 70-step)
	below, err := water.RateAt20C(1, near-step)
	if err != nil {
		return result.Estimate{}, err
	}
	above, err := water.RateAt20C(1, near+step)
	if err != nil {
		return result.Estimate{}, err
	}
	relative := math.Abs(math.Log(above/below)) / (2 * step) * math.Max(uTC, 0)
	out := e
	times := func(v float64) float64 { return v * ratio }
	out.Value, out.U, out.UShared = e.Value.Map(times), e.U.Map(times), e.UShared.Map(times)
	out.Low, out.High = e.Low.Map(times), e.High.Map(times)
	if !e.Value.OK {
		return out, nil
	}
	extra := relative * math.Abs(out.Value.V)
	if !e.U.OK || e.U.V == 0 {
		out.U = quantity.Some(extra)
		return out, nil
	}
	// The limits widen as the uncertainty does.
	wider := math.Hypot(out.U.V, extra) / out.U.V
	widen := func(v float64) float64 { return out.Value.V + wider*(v-out.Value.V) }
	out.U = quantity.Some(math.Hypot(out.U.V, extra))
	out.Low, out.High = out.Low.Map(widen), out.High.Map(widen)
	return out, nil
}
