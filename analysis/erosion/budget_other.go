package erosion

import (
	"math"

	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/result"
)

// AnalyteBudgets returns the budgets of the load of an analyte and of its concentration; none where
// they have no value.
func AnalyteBudgets(a Analyte, in Input) []gum.Budget {
	if in.NoRunoff || in.Flow == nil {
		return nil
	}
	l := newAnalyteLoad(a, &in)
	if len(l.pools) == 0 {
		return nil
	}
	l.cut()
	l.concentrations()
	if !l.spread() || !(l.totalML > 0) {
		return nil
	}
	s := l.result()
	mass, area := l.massLines(), in.Plot.AreaM2
	loss := append(times(mass, 1/area), settled(gum.Line{
		Input: gum.Input{Name: "area", Unit: "m2", Value: area, U: area * in.Errors.AreaRel, Common: true}, Sensitivity: -s.Mass.Value.V / (area * area)}))
	return []gum.Budget{
		made(a.LoadMetric(), MethodLoad, a.MassUnit, "sum(concentration volume)", &s.Mass, mass),
		made(a.LoadMetric(), MethodLoadOverArea, a.MassUnit+"/m2", "load / area", &s.SoilLoss, loss),
		made(a.ConcentrationMetric(), MethodFlowWeighted, a.Unit, "1000 load / volume", &s.Concentration, l.concentrationLines(s.Concentration.Value.V)),
	}
}

// RatioBudgets returns the budgets of the soil loss ratio of a plot, and of its cover exponent
// where both covers were noted; see SoilLossRatio and CoverExponent.
func RatioBudgets(loss result.Estimate, bare []result.Estimate, coverPct, bareCoverPct float64, covers bool, points, level float64) []gum.Budget {
	e := SoilLossRatio(loss, bare, level)
	if !e.Value.OK {
		return nil
	}
	mean, u, _, _ := meanLoss(bare)
	in := []gum.Input{
		{Name: "soil loss", Unit: "g/m2", Value: loss.Value.V, U: loss.U.V},
		{Name: "mean soil loss of the bare plots", Unit: "g/m2", Value: mean, U: u, Common: true},
	}
	var out []gum.Budget
	if b, ok := gum.NewBudget(ratio, in); ok {
		b.Quantity, b.Method, b.Unit, b.Model = string(result.SoilLossRatio), MethodPaired, "1", "soil loss / mean soil loss of the bare plots"
		b.U, b.Simulated = e.U.V, e.Flags.Has("simulated")
		out = append(out, b)
	}
	exponent := CoverExponent(e, coverPct, bareCoverPct, points, level)
	if !covers || !exponent.Value.OK {
		return out
	}
	in = append(in, gum.Input{Name: "cover", Unit: "%", Value: coverPct, U: uCover(coverPct, points)},
		gum.Input{Name: "mean cover of the bare plots", Unit: "%", Value: bareCoverPct, U: uCover(bareCoverPct, points), Common: true})
	model := func(x []float64) (float64, bool) {
		r, ok := ratio(x)
		return -math.Log(r) / (x[2] - x[3]), ok && r > 0 && x[2] != x[3]
	}
	if b, ok := gum.NewBudget(model, in); ok {
		b.Quantity, b.Method, b.Unit, b.Model = string(result.CoverExponent), MethodExponent, "1/%", "-ln(soil loss / mean soil loss of the bare plots) / (cover - mean cover of the bare plots)"
		b.U, b.Simulated = exponent.U.V, e.Flags.Has("simulated")
		out = append(out, b)
	}
	return out
}
