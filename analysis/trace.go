package analysis

import (
	"strings"

	"sheetwash/analysis/balance"
	"sheetwash/analysis/derivation"
	"sheetwash/analysis/erosion"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/hydrograph"
	"sheetwash/analysis/infiltration"
	"sheetwash/analysis/rainfall"
	"sheetwash/analysis/result"
	"sheetwash/analysis/water"
)

// trace is how the values of one plot came about: it makes the calls of
// site.analyse once more and keeps what they lead to.
type trace struct {
	site
	plan     Plan
	part     *Part // of the dataset, for rows that need the other plots of the run
	rain     rainfall.Rain
	from     rainfall.Derived
	runoff   *hydrograph.Derivations
	drainage *hydrograph.Derivations
	flow     erosion.Input
	sediment *erosion.Derivations
	balance  balance.Balance
	answer   infiltration.Answer
	budgets  []result.Budget           // of the plot, nil until someone asks
	steady   *infiltration.Derivations // nil: nobody knows whether water ran off
}

func (s site) trace(calibrations []rainfall.Calibration, plan Plan) *trace {
	t := &trace{site: s, plan: plan}
	errs := s.dataset.Errors()
	rain, ok := rainfall.ForPlot(s.dataset.Name(), s.run, s.plot, calibrations, errs)
	if !ok {
		return t
	}
	rain.Under(s.run, s.dataset.Rig(s.run.Simulator))
	t.rain = rain
	t.from = rain.Derive(s.dataset.Name(), s.run, s.plot, calibrations, errs)
	nodes := hydrograph.RainNodes{Depth: t.from.Depth, Intensity: t.from.Intensity, Minutes: t.from.Minutes}
	h := hydrograph.Of(s.run, s.plot, forHydrograph(rain), errs, plan.Hydrograph)
	t.runoff = h.Derive(s.run, nodes)
	drained := hydrograph.OfDrainage(s.run, s.plot, forHydrograph(rain), errs, plan.Hydrograph)
	t.drainage = drained.Derive(s.run, nodes)
	t.flow = s.forErosion(&h, plan.Level)
	t.flow.Late = late(&h, &rain)
	sediment := erosion.Of(t.flow)
	var minutes *derivation.Node
	if n, ok := t.runoff.RunoffMinutes("minutes"); ok {
		minutes = &n
	}
	t.sediment = sediment.Derive(t.flow, t.runoff.Volumes(), minutes)
	t.balance = s.balanceOf(&rain, &h, &drained, &sediment, plan)
	t.answer = unknownSteady(&h)
	if h.Status != hydrograph.NoData || s.plot.Onset == experiment.OnsetNoted {
		steady := s.forInfiltration(&h, sediment.ByFlow, rain, plan)
		t.answer = infiltration.Steady(steady)
		t.steady = infiltration.Derive(steady, t.steadyNodes(&h, &steady))
	}
	return t
}

// steadyNodes is how the input of the steady rate came about; see forInfiltration.
func (t *trace) steadyNodes(h *hydrograph.Hydrograph, in *infiltration.Input) infiltration.Nodes {
	nodes := infiltration.Nodes{Intensity: t.from.Intensity, RainMinutes: t.from.Minutes}
	k := 0
	for i := range h.Intervals {
		iv := &h.Intervals[i]
		if iv.Kind != hydrograph.Measured {
			continue
		}
		rate := t.runoff.Rate(i)
		equation, inputs := "rate", []derivation.Node{rate}
		note := ""
		if c := t.sediment.ByFlow(i); c != nil && *c.Value != 0 {
			equation, inputs = "rate * (1 - concentration / 2650)", append(inputs, c.Named("concentration"))
			note = "of the water: the grains in it are no water"
		}
		if t.rain.RatesMMH != nil {
			equation += " - (rain - mean_rain)"
			inputs = append(inputs, t.runoff.RainBetween("rain", iv.StartMin, iv.EndMin), t.from.Intensity.Again("mean_rain"))
			note = join2(note, "shifted by how much the rain of the interval differs from its mean")
		}
		if len(inputs) > 1 {
			rate = derivation.Formula("rate", in.Intervals[k].RateMMH, "mm/h", equation, inputs...).Noting(note)
		}
		nodes.Rates = append(nodes.Rates, rate)
		k++
	}
	return nodes
}

func join2(a, b string) string {
	if a == "" {
		return b
	}
	return a + "; " + b
}

// plotRow is how the value of a row of plot_results came about.
func (t *trace) plotRow(r *result.PlotRow) (derivation.Node, bool) {
	name := string(r.Metric)
	if !r.Value.OK {
		return derivation.Empty(name, r.Unit), true
	}
	switch r.Metric {
	case result.RainDepth:
		return t.from.Depth, true
	case result.KineticEnergy, result.Erosivity:
		return t.rain.DeriveEnergy(r.Metric, r.Method, t.from, t.runoff.RainBetween)
	case result.DrainageDepth:
		return t.drainage.Metric(r.Metric, r.Method, r.Value.V)
	case result.BalanceClosure, result.StorageDepth:
		return t.balance.Derive(r, t.plot, t.balanceNodes())
	case result.SoilLossRatio, result.CoverExponent:
		return t.paired(r)
	case result.SteadyInfiltrationRate:
		if t.steady == nil {
			return derivation.Node{}, false
		}
		return t.steadyRow(name, r)
	case result.Sorptivity:
		return t.steady.Parameter(&infiltration.Parameter{Model: infiltration.PhilipTwoTerm, Name: "S", Unit: r.Unit, Value: r.Value}, &t.answer)
	}
	for _, a := range t.with.analytes {
		if n, ok := erosion.DeriveAnalyte(a, t.flow, t.runoff.Volumes(), r); ok {
			return n, true
		}
	}
	late := func(from, to float64) derivation.Node {
		return t.runoff.RainBetween("intensity", from, min(to, t.rain.DurationMin))
	}
	if n, ok := t.sediment.Metric(r.Metric, r.Method, r.Value.V, late); ok {
		return n, true
	}
	return t.runoff.Metric(r.Metric, r.Method, r.Value.V)
}

// steadyRow is how a steady rate came about: by a method of Steady, at 20 Cel, or
// as the average over the models.
func (t *trace) steadyRow(name string, r *result.PlotRow) (derivation.Node, bool) {
	if r.Method == infiltration.ModelAverage {
		return t.steady.Parameter(&infiltration.Parameter{Model: r.Method, Name: infiltration.CapacityAtEnd, Unit: r.Unit, Value: r.Value}, &t.answer)
	}
	method, normal := strings.CutSuffix(r.Method, at20C)
	if !normal {
		return t.steady.Steady(name, r.Method, &t.answer)
	}
	raw, ok := t.steady.Steady("rate", method, &t.answer)
	if !ok {
		return derivation.Node{}, false
	}
	temperature := derivation.Read("t", t.run.WaterTempC.V, "Cel", t.dataset.Errors().SupplyC, derivation.Place{File: t.run.Place.File, Row: t.run.Place.Row, Column: "water_temperature"})
	n := derivation.Formula(name, r.Value.V, r.Unit, "rate * pow(10, (1.1709 * (20 - t) - 0.001827 * (t - 20) * (t - 20)) / (t + 89.93))", raw, temperature)
	n.Source = "Korson et al. 1969"
	n.Note = "the rate times the viscosity of the water over that at 20 Cel"
	return n, true
}

// balanceNodes is how the terms of the balance came about; see balanceOf.
func (t *trace) balanceNodes() balance.Nodes {
	n := balance.Nodes{Rain: t.from.Depth, Runoff: t.runoff.Depth("runoff_depth"), Area: t.runoff.Area()}
	n.Drainage = derivation.Setting("drainage", 0, "mm", "not measured")
	if t.drainage.Known() {
		n.Drainage = t.drainage.Depth("drainage")
	}
	n.Sediment = t.sediment.Mass("sediment_mass")
	temperature := derivation.Setting("t", water.ReferenceC, "Cel", "the temperature of the water is not known, or beyond the equation")
	if v := t.run.WaterTempC; v.OK {
		if _, err := water.Density(v.V); err == nil {
			temperature = derivation.Read("t", v.V, "Cel", -1, derivation.Place{File: t.run.Place.File, Row: t.run.Place.Row, Column: "water_temperature"})
		}
	}
	n.Density = derivation.Formula("density", t.waterKgM3(), "kg/m3",
		"999.974950 * (1 - (t - 3.983035) * (t - 3.983035) * (t + 301.797) / (522528.9 * (t + 69.34881)))", temperature)
	n.Density.Source = "Tanaka et al. 2001"
	return n
}

// fitRow is how a parameter of a fitted curve came about.
func (t *trace) fitRow(r *result.FitRow) (derivation.Node, bool) {
	if !r.Value.OK {
		return derivation.Empty(r.Parameter, r.Unit), true
	}
	if t.steady == nil {
		return derivation.Node{}, false
	}
	return t.steady.Parameter(&infiltration.Parameter{Model: r.Model, Name: r.Parameter, Unit: r.Unit, Value: r.Value}, &t.answer)
}

// step is how a row of the hydrograph came about.
func (t *trace) step(stream string, i int) (derivation.Node, bool) {
	if stream == experiment.Runoff.String() {
		return t.runoff.Step(i, t.sediment.ByFlow(i)), true
	}
	return t.drainage.Step(i, nil), true
}
