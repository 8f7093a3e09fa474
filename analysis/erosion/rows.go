package erosion

import "sheetwash/analysis/result"

// AppendRows appends the rows of the sediment of a plot: concentration on three
// bases, mass, soil loss and rate. base holds the columns that name the plot,
// and the level.
func (s *Sediment) AppendRows(dst []result.PlotRow, base result.PlotRow) []result.PlotRow {
	for _, r := range [...]struct {
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
	} {
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
