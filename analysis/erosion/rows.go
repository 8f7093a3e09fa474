package erosion

import "sheetwash/analysis/result"

// AppendRows appends the rows of the sediment of a plot: concentration on three
// bases, mass, soil loss and rate; the exponent of sediment flux where sediment was
// measured, and interrill erodibility in two forms where the slope was noted as well. base holds the columns that name the plot,
// and the level.
func (s *Sediment) AppendRows(dst []result.PlotRow, base result.PlotRow) []result.PlotRow {
	all := [...]struct {
		metric   result.Metric
		method   string
		unit     string
		headline bool
		estimate *result.Estimate
	}{
		{result.SedimentConcentration, MethodFlowWeighted, "", true, &s.Concentration},
		{result.SedimentConcentration, MethodMassBasis, "g/kg", false, &s.MassBasis},
		{result.SedimentConcentration, MethodWaterBasis, "", false, &s.WaterBasis},
		{result.SedimentMass, MethodSum, "", true, &s.Mass},
		{result.SoilLoss, MethodOverArea, "", true, &s.SoilLoss},
		{result.SedimentRate, MethodOverRunoff, "", true, &s.Rate},
		{result.SedimentFluxExponent, MethodFlux, "", true, &s.FluxExponent},
		{result.InterrillErodibility, MethodRainSquared, "", true, &s.ErodibilityOfRain},
		{result.InterrillErodibility, MethodRainAndFlow, "", false, &s.ErodibilityOfFlow},
	}
	n := len(all)
	switch {
	case s.Mass.Flags.Has("no_sediment_data"):
		n -= 3
	case !s.slope:
		n -= 2
	}
	for _, r := range all[:n] {
		row := base
		info, _ := r.metric.Info()
		row.Metric, row.Method, row.Headline, row.Unit, row.Estimate = r.metric, r.method, r.headline, info.SI, *r.estimate
		if r.unit != "" {
			row.Unit = r.unit
		}
		dst = append(dst, row)
	}
	return dst
}
