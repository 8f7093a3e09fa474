package erosion

import (
	"math"
	"strconv"

	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/result"
)

// Budgets returns the uncertainty budgets of mass, concentration, soil loss, sediment rate
// and interrill erodibility of a plot: those that have a value and are no zero of a plot that stayed dry.
// In quadrature the lines make the value's u, but where it was simulated.
func Budgets(in Input) []gum.Budget {
	l := load{in: &in}
	if in.NoRunoff || !l.gather() || !(l.totalML > 0) {
		return nil
	}
	s := l.result()
	mass := l.massLines()
	out := []gum.Budget{
		made(result.SedimentMass, MethodSum, "g", "sum(weight mass) + what ran past and what is common", &s.Mass, mass),
		made(result.SedimentConcentration, MethodFlowWeighted, "g/L", "1000 mass / volume", &s.Concentration, l.concentrationLines(s.Concentration.Value.V)),
	}
	m, a := s.Mass.Value.V, in.Plot.AreaM2
	area := gum.Line{Input: gum.Input{Name: "area", Unit: "m2", Value: a, U: a * in.Errors.AreaRel, Common: true}, Sensitivity: -m / (a * a)}
	loss := append(times(mass, 1/a), settled(area))
	out = append(out, made(result.SoilLoss, MethodOverArea, "g/m2", "mass / area", &s.SoilLoss, loss))
	if s.Rate.Value.OK {
		h := in.RunoffMin / 60
		time := gum.Line{Input: gum.Input{Name: "runoff time", Unit: "min", Value: in.RunoffMin, U: in.URunoffMin}, Sensitivity: -s.Rate.Value.V / in.RunoffMin}
		out = append(out, made(result.SedimentRate, MethodOverRunoff, "g/(m2.h)", "60 mass / (area runoff time)", &s.Rate, append(times(loss, 1/h), settled(time))))
	}
	return append(out, l.erodibilityBudgets(&s)...)
}

func made(m result.Metric, method, unit, equation string, e *result.Estimate, lines []gum.Line) gum.Budget {
	return gum.Budget{Quantity: string(m), Method: method, Unit: unit, Model: equation, Value: e.Value.V, U: e.U.V, Lines: lines,
		Simulated: e.Flags.Has("simulated")}
}

// settled fills the contribution of a line.
func settled(l gum.Line) gum.Line {
	l.Contribution = math.Abs(l.Sensitivity) * l.U
	return l
}

// times is a budget's lines for the value times a factor.
func times(lines []gum.Line, factor float64) []gum.Line {
	out := make([]gum.Line, len(lines), len(lines)+2)
	for i, l := range lines {
		l.Sensitivity *= factor
		out[i] = settled(l)
	}
	return out
}

// massLines are the lines of uMass.
func (l *load) massLines() []gum.Line {
	out := append(l.poolLines(), settled(gum.Line{
		Input: gum.Input{Name: "run past at changes, share of the volume", Unit: "1", U: l.in.UChangeRel, Common: true}, Sensitivity: l.massG}))
	return append(out, settled(gum.Line{Input: gum.Input{Name: "mass between and beside dishes", Unit: "g", U: math.Sqrt(l.squares + l.looseSq)}, Sensitivity: 1}))
}

// poolLines are the lines of dishes and of what they have in common.
func (l *load) poolLines() []gum.Line {
	var out []gum.Line
	blanks := 0.0
	for k := range l.pools {
		p := &l.pools[k]
		if !(p.caughtML > 0) {
			continue
		}
		out = append(out, settled(gum.Line{
			Input: gum.Input{Name: between("sediment", p), Unit: "g", Value: p.conc * p.caughtML / 1000, U: p.uConc * p.caughtML / 1000}, Sensitivity: p.weightML / p.caughtML}))
		if p.blank {
			blanks += p.weightML / p.caughtML
		}
	}
	if blanks > 0 {
		out = append(out, settled(gum.Line{Input: gum.Input{Name: "blank", Unit: "g", Value: l.blankG, U: l.uBlankG, Common: true}, Sensitivity: -blanks}))
	}
	for _, c := range [...]struct {
		name string
		u    float64
	}{{"parameters of the turbidity rating", l.uRating()}, {"dissolved solids of the supply water", l.in.Errors.DissolvedRel * l.dissolvedG()}, {"error that all concentrations share", l.commonRel * l.massG}} {
		if c.u > 0 {
			out = append(out, settled(gum.Line{Input: gum.Input{Name: c.name, Unit: "g", U: c.u, Common: true}, Sensitivity: 1}))
		}
	}
	return out
}

// concentrationLines are the lines of uConcentration: of the dishes, and of the
// volumes of suspension that were caught with them.
func (l *load) concentrationLines(conc float64) []gum.Line {
	out := times(l.poolLines(), 1000/l.totalML)
	rest := l.squares
	for k := range l.pools {
		p := &l.pools[k]
		if !(p.caughtML > 0) {
			continue
		}
		slope := -conc
		if p.stated.OK || l.in.Metered && p.bottleML > 0 {
			slope = p.conc - conc
			full := p.conc * p.uCaughtML / 1000
			rest -= full * full
		}
		out = append(out, settled(gum.Line{
			Input: gum.Input{Name: between("suspension", p), Unit: "mL", Value: p.caughtML, U: p.uCaughtML}, Sensitivity: slope / l.totalML}))
	}
	return append(out, settled(gum.Line{
		Input: gum.Input{Name: "mass between dishes", Unit: "g", U: math.Sqrt(max(0, rest))}, Sensitivity: 1000 / l.totalML}))
}

func between(what string, p *pool) string {
	f := func(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }
	return what + " from " + f(p.start) + " to " + f(p.end) + " min"
}

// erodibilityBudgets are those of both forms.
func (l *load) erodibilityBudgets(s *Sediment) []gum.Budget {
	w := l.late()
	var out []gum.Budget
	for _, form := range [...]struct {
		e        *result.Estimate
		method   string
		equation string
		model    gum.Model
		in       []gum.Input
	}{
		{&s.ErodibilityOfRain, MethodRainSquared, "late sediment / (area time) / (intensity^2 Sf(slope))", rainModel, l.rainInputs(&w)},
		{&s.ErodibilityOfFlow, MethodRainAndFlow, "late sediment / suspension / (intensity Sf(slope))", flowModel, l.flowInputs(&w)},
	} {
		if !form.e.Value.OK {
			continue
		}
		if b, ok := gum.NewBudget(form.model, form.in); ok {
			b.Quantity, b.Method, b.Unit, b.Model = string(result.InterrillErodibility), form.method, "kg.s/m4", form.equation
			b.U, b.Simulated = form.e.U.V, form.e.Flags.Has("simulated")
			out = append(out, b)
		}
	}
	return out
}
