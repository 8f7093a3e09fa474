package check

import "sheetwash/ingest/issue"

// Limits of what was measured of a plot's soil, outside which a value is more
// likely a wrong unit than a measurement. Grains of soil have about 2.65 g/cm3, so a dry soil with its
// pores has less; peat is near the lower limit and holds several times its own mass of water.
const (
	minBulkDensity, maxBulkDensity = 0.05, 2.65 // g/cm3
	minSoilDepth, maxSoilDepth     = 1, 2000    // mm
	maxGravimetric                 = 1000       // % of dry mass
	maxDissolved                   = 10         // g/L; sea water has 35, and nobody rains with it
)

// soilSizes reports depths, densities and masses of soil that are zero or
// outside the limits, and dissolved solids that no supply water has.
func soilSizes(d *Draft, into *issue.List) {
	for _, name := range []string{"soil_depth", "bulk_density", "soil_mass_before", "soil_mass_after"} {
		zero(d.Plots, name, SoilNotPositive, into)
	}
	outside(d.Plots, "bulk_density", "g/cm3", minBulkDensity, maxBulkDensity, SoilImplausible, into)
	outside(d.Plots, "soil_depth", "mm", minSoilDepth, maxSoilDepth, SoilImplausible, into)
	outside(d.Plots, "gravimetric_before", "%", 0, maxGravimetric, SoilImplausible, into)
	outside(d.Plots, "gravimetric_after", "%", 0, maxGravimetric, SoilImplausible, into)
	outside(d.Runs, "dissolved_solids", "g/L", 0, maxDissolved, DissolvedOdd, into)
}

// storageHalves reports measurements of stored water that lack a part of what
// makes them one. An initial_water alone is antecedent moisture and lacks nothing, and so is the content by mass
// before the run.
func storageHalves(d *Draft, into *issue.List) {
	f := d.Plots
	for i := range f.N {
		absent := func(name string) bool { return f.Column(name).Is(i) == Absent }
		for _, need := range []struct {
			of    string   // what was measured
			wants []string // and what it is nothing without
		}{
			{"soil_mass_before", []string{"soil_mass_after"}},
			{"soil_mass_after", []string{"soil_mass_before"}},
			{"final_water", []string{"initial_water", "soil_depth"}},
			{"gravimetric_after", []string{"gravimetric_before", "bulk_density", "soil_depth"}},
		} {
			for _, w := range need.wants {
				if !absent(need.of) && absent(w) {
					report(into, StorageIncomplete, f, i, need.of, "%s tells no stored water without %s: fill it in", need.of, w)
					break
				}
			}
		}
	}
}
