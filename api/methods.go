package api

import (
	"sheetwash/analysis/result"
	"sheetwash/api/wire"
)

// Where more than arithmetic is done, a source is named; docs/references.md and the
// pages of docs/methods give the works in full.
const (
	definition = "definition"
	gum        = "JCGM 100:2008, evaluation of measurement data: guide to the expression of uncertainty in measurement"
	korson     = "Korson, Drost-Hansen, Millero (1969), Journal of Physical Chemistry 73, 34-39"
	akaike     = "Burnham, Anderson (2002), Model Selection and Multimodel Inference, 2nd edition"
	philip     = "Philip (1957), Soil Science 84, 257-264"
	horton     = "Horton (1940), Soil Science Society of America Proceedings 5, 399-417"
	steady     = "Schuirmann (1987), Journal of Pharmacokinetics and Biopharmaceutics 15, 657-680, for the verdict that it has settled"
	uniformity = "Christiansen (1942), California Agricultural Experiment Station Bulletin 670"
	lowQuarter = "Merriam & Keller (1978), Farm irrigation system evaluation, Utah State University"
	rational   = "Horton (1933), Transactions, American Geophysical Union 14, 446-460"
	handbook   = "USDA Natural Resources Conservation Service (2004), National Engineering Handbook, part 630, chapter 10"
	hawkins    = "Hawkins et al. (2002), Proceedings of the Second Federal Interagency Hydrologic Modeling Conference"
	liebenow   = "Liebenow, Elliot, Laflen & Kohl (1990), Transactions of the ASAE 33, 1882-1888"
	kinnell    = "Kinnell (1993), Australian Journal of Soil Research 31, 319-332"
	brown      = "Brown & Foster (1987), Transactions of the ASAE 30, 379-386"
	mcgregor   = "McGregor, Bingner, Bowie & Foster (1995), Transactions of the ASAE 38, 1039-1047"
	wischmeier = "Wischmeier & Smith (1978), USDA Agriculture Handbook 537; Foster et al. (1981), Journal of Soil and Water Conservation 36, 355-359"
	guy        = "Guy (1969), USGS Techniques of Water-Resources Investigations, book 5, chapter C1"
)

// methodsOf returns the page and the methods of a metric.
func methodsOf(m result.Metric) (page string, methods []wire.Method) {
	p, ok := methodPages[m]
	if !ok {
		p = laterPages[m]
	}
	return "docs/methods/" + p.page, append([]wire.Method{}, p.methods...)
}

// methodPage is where a metric is explained, and the ways to it.
type methodPage struct {
	page    string
	methods []wire.Method
}

var methodPages = map[result.Metric]methodPage{
	result.TimeToRunoff: {"hydrograph.md#time-to-runoff", []wire.Method{
		{ID: "observed", Meaning: "first sustained flow, as noted", Source: definition},
		{ID: "first_bottle", Meaning: "between the end of the last dry bottle and that of the first wet one; interval-censored", Source: definition},
		{ID: "threshold", Meaning: "the rate passes a stated share of the intensity", Source: definition},
		{ID: "back_extrapolated", Meaning: "the running total of the rising limb carried back to zero", Source: definition},
	}},
	result.TimeToPonding: {"hydrograph.md", []wire.Method{{ID: "observed", Meaning: "standing water, as noted", Source: definition}}},
	result.SteadyInfiltrationRate: {"infiltration.md#steady-infiltration-rate", []wire.Method{
		{ID: "final_window", Meaning: "rain minus runoff over the final window, with a test whether it still falls", Source: steady},
		{ID: "horton", Meaning: "value of the fitted curve at the end of rain", Source: horton},
		{ID: "final_window_20c", Meaning: "final_window as with water at 20 Cel", Source: korson},
		{ID: "horton_20c", Meaning: "horton as with water at 20 Cel", Source: korson},
		{ID: "average", Meaning: "average over seven infiltration models, each by its Akaike weight", Source: akaike},
	}},
	result.Sorptivity:      {"infiltration-models.md", []wire.Method{{ID: "philip", Meaning: "first coefficient of Philip's two-term model, fitted through time compression", Source: philip}}},
	result.FinalRunoffRate: {depths, []wire.Method{{ID: "last_intervals", Meaning: "mean over the last intervals that end by the end of rain", Source: definition}}},
	result.PeakRunoffRate:  {depths, []wire.Method{{ID: "largest_interval", Meaning: "largest mean rate of one interval", Source: definition}}},
	result.RainDepth: {"rainfall.md#which-rain-a-plot-gets", []wire.Method{
		{ID: "plots.intensity", Meaning: "intensity stated for the plot, times the duration of rain", Source: gum},
		{ID: "gauge", Meaning: "rain channel of a logger", Source: gum},
		{ID: "calibration", Meaning: "catch cans at the plot's position, or their mean", Source: gum},
		{ID: "runs.intensity", Meaning: "intensity stated for the run, times the duration of rain", Source: gum},
	}},
	result.RunoffDepth: {depths, []wire.Method{
		{ID: "bottles", Meaning: "volume caught in bottles over plot area, gaps interpolated", Source: definition},
		{ID: "readings", Meaning: "volume of a logged channel over plot area", Source: definition},
	}},
	result.InfiltrationDepth: {depths, []wire.Method{{ID: "rain_minus_runoff", Meaning: "rain depth minus runoff depth, sign kept", Source: definition}}},
	result.DrainageDepth: {depths, []wire.Method{
		{ID: "bottles", Meaning: "volume caught in bottles over plot area", Source: definition},
		{ID: "readings", Meaning: "volume of a logged channel over plot area", Source: definition},
	}},
	result.RunoffCoefficient: {depths, []wire.Method{{ID: "runoff_over_rain", Meaning: "runoff depth over rain depth", Source: definition}}},
	result.SedimentConcentration: {"sediment.md", []wire.Method{
		{ID: "flow_weighted", Meaning: "dry mass over volume of suspension", Source: definition},
		{ID: "flow_weighted_per_l_water", Meaning: "dry mass over volume of water", Source: guy},
		{ID: "flow_weighted_per_kg", Meaning: "dry mass over mass of suspension", Source: guy},
	}},
	result.SedimentMass:           {"sediment.md", []wire.Method{{ID: "sum_of_bottles", Meaning: "dry mass of all bottles, gaps interpolated over volume", Source: definition}}},
	result.SoilLoss:               {"sediment.md", []wire.Method{{ID: "mass_over_area", Meaning: "sediment mass over plot area", Source: definition}}},
	result.SedimentRate:           {"sediment.md", []wire.Method{{ID: "soil_loss_over_runoff_time", Meaning: "soil loss over the duration of runoff", Source: definition}}},
	result.Intensity:              {cans, []wire.Method{{ID: "spatial_mean", Meaning: "mean over the cans, with a t interval", Source: gum}}},
	result.UniformityChristiansen: {cans, []wire.Method{{ID: "christiansen", Meaning: "100 (1 - mean absolute deviation / mean)", Source: uniformity}}},
	result.UniformityLowQuarter:   {cans, []wire.Method{{ID: "low_quarter", Meaning: "mean of the lowest quarter over the mean", Source: lowQuarter}}},
	result.CoefficientOfVariation: {cans, []wire.Method{{ID: "coefficient_of_variation", Meaning: "standard deviation (n - 1) over mean", Source: definition}}},
}

// Pages that several metrics share.
const (
	depths = "hydrograph.md#depths-coefficient-rates"
	cans   = "rainfall.md#catch-cans"
)
