package api

import (
	"sheetwash/analysis/result"
	"sheetwash/api/wire"
)

// laterPages goes on with methodPages: the balance, the indices of loss, energy, and
// what compares plots of one run.
var laterPages = map[result.Metric]methodPage{
	result.StorageDepth: {"balance.md#storage", []wire.Method{
		{ID: "soil_weighed", Meaning: "tray weighed before and after", Source: definition},
		{ID: "gravimetric_water_content", Meaning: "water contents by mass, bulk density and soil depth", Source: definition},
		{ID: "volumetric_water_content", Meaning: "water contents by volume and soil depth", Source: definition},
		{ID: "soil_water_readings", Meaning: "first and last reading of a sensor, and soil depth", Source: definition},
		{ID: "storage_plus_error", Meaning: "rain minus runoff, drainage and losses, where storage was not measured", Source: definition},
	}},
	result.BalanceClosure: {"balance.md", []wire.Method{
		{ID: "rain_minus_all_terms", Meaning: "rain minus runoff, drainage, storage and losses", Source: definition},
	}},
	result.RainDepthToRunoff: {losses, []wire.Method{
		{ID: "observed", Meaning: "rain until the first sustained flow, as noted", Source: definition},
		{ID: "first_bottle", Meaning: "rain until between the last dry bottle and the first wet one", Source: definition},
		{ID: "threshold", Meaning: "rain until the rate passes a stated share of the intensity", Source: definition},
		{ID: "back_extrapolated", Meaning: "rain until the running total carried back to zero", Source: definition},
	}},
	result.CurveNumber: {losses, []wire.Method{
		{ID: "initial_abstraction_0.20", Meaning: "initial abstraction 0.20 of the retention", Source: handbook},
		{ID: "initial_abstraction_0.05", Meaning: "initial abstraction 0.05 of the retention; another scale", Source: hawkins},
	}},
	result.PhiIndex: {losses, []wire.Method{{ID: "constant_loss_of_excess", Meaning: "constant loss rate whose excess is the runoff", Source: rational}}},
	result.WIndex:   {losses, []wire.Method{{ID: "mean_loss", Meaning: "rain minus runoff over the duration of rain", Source: rational}}},
	result.Sorptivity: {"infiltration-models.md#the-seven-models", []wire.Method{
		{ID: "philip", Meaning: "first coefficient of the fitted two-term model", Source: "Philip (1957), Soil Science 83, 345-357 and 84, 257-264"},
	}},
	result.SedimentFluxExponent: {"sediment.md", []wire.Method{
		{ID: "least_squares_of_logarithms", Meaning: "slope of the logarithm of flux over that of rate", Source: definition},
	}},
	result.InterrillErodibility: {"sediment.md#interrill-erodibility", []wire.Method{
		{ID: "intensity_squared", Meaning: "late detachment over intensity squared and slope factor", Source: liebenow},
		{ID: "intensity_and_runoff", Meaning: "late detachment over intensity, runoff rate and slope factor; another quantity", Source: kinnell},
	}},
	result.SoilLossRatio: {cover, []wire.Method{{ID: "paired_within_run", Meaning: "over the mean of the bare plots under the same run", Source: definition}}},
	result.CoverExponent: {cover, []wire.Method{{ID: "log_ratio_over_cover", Meaning: "minus the logarithm of the ratio over the difference in cover", Source: definition}}},
	result.KineticEnergy: {energy, energies},
	result.Erosivity:     {energy, energies},
	result.Discharge:     {cans, []wire.Method{{ID: "nozzle_flow", Meaning: "flow of the profile's nozzles, by the square root of the pressures", Source: definition}}},
	result.IntensityDrift: {"rainfall.md#drift-over-a-season", []wire.Method{
		{ID: "control_chart", Meaning: "intensity minus the mean of all dated calibrations of the simulator", Source: definition},
	}},
}

// energies are the ways to energy and erosivity.
var energies = []wire.Method{
	{ID: "drop_sizes", Meaning: "the simulator's drops, as they were measured", Source: definition},
	{ID: "brown_foster_1987", Meaning: "natural rain of that intensity", Source: brown},
	{ID: "mcgregor_1995", Meaning: "natural rain of that intensity", Source: mcgregor},
	{ID: "wischmeier_smith_1978", Meaning: "natural rain of that intensity", Source: wischmeier},
}

// Pages that several metrics share.
const (
	losses = "hydrograph.md#curve-number-and-loss-indices"
	cover  = "sediment.md#soil-loss-ratio-and-cover"
	energy = "rainfall.md#energy-and-erosivity"
)
