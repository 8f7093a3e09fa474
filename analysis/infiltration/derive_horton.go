package infiltration

import (
	"math"
	"strconv"

	"sheetwash/analysis/derivation"
)

// The equations of the curve in terms of the parameters of its fit: what is seen
// at the end of rain, the drop until then, the decay over the rain, the lag.
const (
	hortonEnd   = "at_end - drop * kappa * (1 + expm1(-kappa)) / -expm1(-kappa) * lag / (to - from)"
	hortonFar   = "at_end - drop * ((1 + expm1(-kappa)) / -expm1(-kappa))"
	straightEnd = "at_end - drop * lag / (to - from)" // kappa is 0
)

// horton is the value of the fitted curve at the end of rain.
func (d *Derivations) horton(name string, a *Answer) derivation.Node {
	c := d.in.horton(&d.u, a.WindowMin)
	return d.endOfCurve(name, &c)
}

func (d *Derivations) endOfCurve(name string, c *curveFit) derivation.Node {
	equation := hortonEnd
	if c.best.Kappa == 0 {
		equation = straightEnd
	}
	floor := least(c.decline.Data[c.first:])
	n := derivation.Formula(name, c.best.True, "mm/h", "max("+equation+", floor)",
		derivation.Setting("floor", floor, "mm/h", "zero, or the lowest rate that was measured where noise put that below zero"))
	if len(c.decline.Data)-c.first < 3 {
		n = derivation.Setting(name, c.best.True, "mm/h", "middle of the values that the curves through the few intervals have at the end of rain")
	}
	n.Fit = d.fitOf(c)
	n.LeftOut = d.leftOutOfFit(c)
	n.Source = "Horton 1940"
	return n
}

// leftOutOfFit tells of the intervals that take no part.
func (d *Derivations) leftOutOfFit(c *curveFit) []derivation.Omission {
	var out []derivation.Omission
	for _, m := range c.decline.Data[:c.first] {
		out = append(out, derivation.Omission{
			What: "interval from " + number(m.Start) + " to " + number(m.End) + " min",
			Why:  "storage on the surface was still filling: the curve through the rest does not bear it",
		})
	}
	early := 0
	for _, k := range d.means {
		if k.mean.Start < d.u.fromMin-1e-9 {
			early++
		}
	}
	if early > 0 {
		out = append(out, derivation.Omission{
			What: strconv.Itoa(early) + " intervals that begin before " + number(d.u.fromMin) + " min",
			Why:  "runoff had not begun: all that is known is that the capacity was at least the intensity",
		})
	}
	return out
}

// fitOf shows the fit of the curve.
func (d *Derivations) fitOf(c *curveFit) *derivation.Fit {
	o, p := &c.best, &c.decline
	held := p.HeldAt(*o)
	word := func(is bool, why string) string {
		if is {
			return why
		}
		return ""
	}
	f := &derivation.Fit{Objective: o.Penalised, Residual: "(infiltration - model) / u"}
	drop := derivation.Parameter{Name: "drop", Value: o.Drop, Unit: "mm/h", Held: word(held.Drop, "the rate does not fall")}
	if held.Ceiling {
		drop.Tied = "ceiling - at_end"
	}
	f.Parameters = []derivation.Parameter{
		{Name: "at_end", Value: o.End, Unit: "mm/h"}, drop,
		{Name: "kappa", Value: o.Kappa, Unit: "1", Held: word(held.Kappa, "at a bound")},
		{Name: "lag", Value: o.Lag, Unit: "min", Held: word(held.Lag, "at a bound")},
	}
	f.Constants = []derivation.Node{
		minutes("from", p.From, "runoff had begun"), minutes("to", p.To, "end of rain"), minutes("onset", p.Onset, "of flow, as well as is known"),
		d.nodes.Intensity.Named("ceiling"), minutes("lag_scale", p.LagScale, "1 mm of flowing water at 80 mm/h"),
	}
	shape, transient := "((exp(-kappa * a) - exp(-kappa * b)) / (kappa * (b - a)) - 1 - expm1(-kappa)) / -expm1(-kappa)", "lag * (exp(-t1 / lag) - exp(-t2 / lag)) / (t2 - t1)"
	if o.Kappa == 0 {
		shape = "1 - (a + b) / 2"
	}
	if o.Lag == 0 {
		transient = "0"
	} else {
		f.Penalty = "pow(lag / lag_scale, 2)"
	}
	f.Definitions = []derivation.Definition{
		{Name: "a", Equation: "(start - from) / (to - from)"}, {Name: "b", Equation: "(stop - from) / (to - from)"},
		{Name: "t1", Equation: "max(start - onset, 0)"}, {Name: "t2", Equation: "max(stop - onset, 0)"},
		{Name: "shape", Equation: shape}, {Name: "transient", Equation: transient},
		{Name: "model", Equation: "at_end * (1 - transient) + drop * (shape - transient) + ceiling * transient"},
	}
	squares := 0.0
	for _, m := range p.Data[c.first:] {
		f.Data = append(f.Data, derivation.Datum{minutes("start", m.Start, ""), minutes("stop", m.End, ""), d.node(m), uncertainty(m)})
		squares += (m.Value*m.Value + p.Ceiling*p.Ceiling + o.End*o.End + o.Drop*o.Drop) / (m.U * m.U)
	}
	// The search adds up squares, of the data and of the parts of the curve, whose digits cancel where the
	// curve goes through the data.
	if at, err := f.At(nil); err == nil && math.Abs(at-o.Penalised) <= 1e-12*squares {
		f.Objective = at
	}
	return f
}

// Parameter returns how a parameter of the Horton curve came about; false for
// one that it has not. a is what Steady gave for the same input.
func (d *Derivations) Parameter(p *Parameter, a *Answer) (derivation.Node, bool) {
	if !p.Value.OK {
		return derivation.Empty(p.Name, p.Unit), true
	}
	if p.Model != HortonCurve {
		return d.modelParameter(p)
	}
	c := d.in.horton(&d.u, a.WindowMin)
	if p.Name == "f_end" {
		return d.endOfCurve(p.Name, &c), true
	}
	equation := map[string]string{"f0": "at_end + drop", "fc": hortonFar, "k": "kappa * 60 / (to - from)", "lag": "lag"}[p.Name]
	if p.Name == "fc" && !(c.best.Drop > 0) {
		equation = "at_end"
	}
	n := derivation.Formula(p.Name, p.Value.V, p.Unit, equation)
	n.Fit, n.LeftOut, n.Source = d.fitOf(&c), d.leftOutOfFit(&c), "Horton 1940"
	return n, equation != ""
}
