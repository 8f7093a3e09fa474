package rainfall

import (
	"cmp"
	"math"
	"slices"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/internal/gum"
	"sheetwash/analysis/result"
)

// DeriveCalibration returns the derivation of a row of CalibrationRows; false where
// there is none for its metric. all holds the calibrations of the season, rig is
// the profile of the simulator, or nil.
func (c *Calibration) DeriveCalibration(row *result.CalibrationRow, all []Calibration, rig *experiment.Rig, s Settings) (derivation.Node, bool) {
	name := string(row.Metric)
	if !row.Value.OK {
		return derivation.Empty(name, row.Unit), true
	}
	v := row.Value.V
	catch := c.catch()
	switch row.Metric {
	case result.Intensity:
		return c.intensityNode(row, catch, s), true
	case result.UniformityChristiansen:
		n := derivation.Formula(name, v, row.Unit, "100 * (1 - mean_deviation(catch) / mean(catch))", catch)
		n.Source = "Christiansen 1942"
		if c.Weights != nil {
			n.Equation, n.Inputs = "100 * (1 - dot(weight, deviation) / dot(weight, catch))", append(n.Inputs, c.weights(), c.deviations("deviation", math.Abs, "abs(catch - mean_catch)"))
			n.Source = "Heermann and Hein 1968"
		}
		return n, true
	case result.UniformityLowQuarter:
		if c.Weights != nil {
			return c.weightedQuarter(name, v, row.Unit), true
		}
		n := derivation.Formula(name, v, row.Unit, "100 * lowest(catch, k) / (k * mean(catch))", catch,
			derivation.Setting("k", s.Boundary.cans(len(c.Cans), 0.25), "1", "a quarter of the cans by the convention "+s.Boundary.String()))
		n.Source = "Merriam and Keller 1978"
		return n, true
	case result.CoefficientOfVariation:
		n := derivation.Formula(name, v, row.Unit, "sd(catch) / mean(catch)", catch)
		n.Source = "definition"
		if c.Weights != nil {
			n.Equation = "sqrt(dot(weight, square) / (1 - dot(weight, weight))) / dot(weight, catch)"
			n.Inputs = append(n.Inputs, c.weights(), c.deviations("square", func(d float64) float64 { return d * d }, "(catch - mean_catch) * (catch - mean_catch)"))
		}
		return n, true
	case result.Discharge:
		return c.dischargeNode(name, v, rig)
	case result.IntensityDrift:
		return c.driftNode(name, v, all), true
	}
	return derivation.Node{}, false
}

// catch is the list of the intensities at the cans.
func (c *Calibration) catch() derivation.Node {
	out := derivation.ListOf("catch", "mm/h")
	for i := range c.Cans {
		out.Inputs = append(out.Inputs, c.can(i, c.Dataset))
	}
	return out
}

// weights is the list of the shares of the area that cans stand for.
func (c *Calibration) weights() derivation.Node {
	out := derivation.ListOf("weight", "1")
	for _, w := range c.Weights {
		out.Inputs = append(out.Inputs, derivation.Setting("weight", w, "1", "share of the area nearer to this can than to any other (Thiessen 1911)"))
	}
	return out
}

// deviations is a list of a function of the distances of cans from their mean.
func (c *Calibration) deviations(name string, f func(float64) float64, equation string) derivation.Node {
	out := derivation.ListOf(name, "")
	for i := range c.Cans {
		out.Inputs = append(out.Inputs, derivation.Formula(name, f(c.CatchMMH[i]-c.MeanMMH), "", equation,
			c.can(i, c.Dataset).Again("catch"), derivation.Node{Name: "mean_catch", Value: &c.MeanMMH, Unit: "mm/h", See: "catch", Note: "their weighted mean"}))
	}
	return out
}

func (c *Calibration) meanNode(name string) derivation.Node {
	if c.Weights != nil {
		return derivation.Formula(name, c.MeanMMH, "mm/h", "dot(weight, catch)", c.weights(), c.catch())
	}
	return derivation.Formula(name, c.MeanMMH, "mm/h", "mean(catch)", c.catch())
}

func (c *Calibration) intensityNode(row *result.CalibrationRow, catch derivation.Node, s Settings) derivation.Node {
	n := c.meanNode(string(row.Metric))
	n.Method, n.Source = "mean_t", "mean with Student's interval over cans"
	if row.Low.OK && row.High.OK && c.Weights == nil {
		half := row.High.V - row.Value.V
		n.Beside = append(n.Beside, derivation.Formula("half_interval", half, row.Unit, "t * sd(catch) / sqrt(len(catch))",
			derivation.Setting("t", gum.Coverage(s.Level, float64(len(c.Cans)-1)), "1", "quantile of Student's distribution, n - 1 degrees of freedom"), catch))
	}
	return n
}

// weightedQuarter is the mean of the quarter of the area with the least rain.
func (c *Calibration) weightedQuarter(name string, v float64, unit string) derivation.Node {
	order := make([]int, len(c.Cans))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(c.CatchMMH[a], c.CatchMMH[b]) })
	_, w, err := weightedCatch(c.CatchMMH, c.Weights)
	lowest, shares := derivation.ListOf("lowest", "mm/h"), derivation.ListOf("share", "1")
	left := 0.25
	for _, i := range order {
		if err != nil || left <= 0 {
			break
		}
		part := min(left, w(i))
		lowest.Inputs = append(lowest.Inputs, c.can(i, c.Dataset).Named("lowest"))
		shares.Inputs = append(shares.Inputs, derivation.Setting("share", part, "1", "of the area, to a quarter of it in all"))
		left -= part
	}
	n := derivation.Formula(name, v, unit, "100 * dot(share, lowest) / (0.25 * mean_catch)", shares, lowest, c.meanNode("mean_catch"))
	n.Source = "Merriam and Keller 1978, by area"
	return n
}

// dischargeNode is the flow of the nozzles at the pressure of the catch.
func (c *Calibration) dischargeNode(name string, v float64, rig *experiment.Rig) (derivation.Node, bool) {
	if rig == nil {
		return derivation.Node{}, false
	}
	at := func(column string) derivation.Place {
		return derivation.Place{File: rig.Place.File, Row: rig.Place.Row, Column: column}
	}
	flow := derivation.Read("nozzle", rig.NozzleLMin.V, "L/min", -1, at("nozzle flow"))
	count := derivation.Read("nozzles", float64(max(1, rig.Nozzles)), "1", -1, at("nozzles"))
	if !c.PressureKPa.OK || !rig.NozzleKPa.OK {
		return derivation.Formula(name, v, "L/min", "nozzle * nozzles", flow, count).Noting("at the pressure of the profile"), true
	}
	pressures := derivation.Of("pressure", c.PressureKPa.V, "kPa", derivation.Mean)
	for i := range c.Cans {
		if p := c.Cans[i].PressureKPa; p.OK {
			pressures.Inputs = append(pressures.Inputs, derivation.Read("pressure", p.V, "kPa", -1, place(c.Cans[i].Place, "pressure")))
		}
	}
	n := derivation.Formula(name, v, "L/min", "nozzle * nozzles * sqrt(pressure / profile_pressure)", flow, count, pressures,
		derivation.Read("profile_pressure", rig.NozzleKPa.V, "kPa", -1, at("nozzle pressure")))
	n.Source = "orifice equation"
	return n, true
}

// driftNode is the intensity minus the centre of the chart of the simulator.
func (c *Calibration) driftNode(name string, v float64, all []Calibration) derivation.Node {
	centre := derivation.Node{Name: "centre", Unit: "mm/h", Operation: derivation.Mean}
	var sum float64
	for i := range all {
		o := &all[i]
		if o.Simulator != c.Simulator || o.Date.IsZero() {
			continue
		}
		sum += o.MeanMMH
		centre.Inputs = append(centre.Inputs, derivation.Node{
			Name: "intensity", Key: result.Key(result.TableCalibrations, o.Dataset, o.ID, string(result.Intensity)), Value: &o.MeanMMH, Unit: "mm/h",
		})
	}
	mean := sum / float64(len(centre.Inputs))
	centre.Value = &mean
	n := derivation.Formula(name, v, "mm/h", "intensity - centre", c.meanNode("intensity"), centre)
	n.Note = "over all calibrations of the simulator that have a date"
	n.Source = "Shewhart 1931"
	return n
}
