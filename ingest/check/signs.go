package check

import (
	"sheetwash/ingest/issue"
)

// signs reports numbers that cannot be negative or zero and are.
func signs(d *Draft, into *issue.List) {
	negative(d.Runs, into, "intensity", "rain_duration", "pressure", "dissolved_solids")
	negative(d.Plots, into, "area", "intensity", "slope", "cover", "initial_water", "runoff_start", "ponding_start",
		"final_water", "soil_depth", "gravimetric_before", "gravimetric_after", "bulk_density", "soil_mass_before", "soil_mass_after", "edge_loss")
	negative(d.Samples, into, "start", "end", "volume", "gross_mass", "tare_mass", "sediment_mass",
		"sediment_gross_mass", "sediment_tare_mass", "concentration", "turbidity")
	negative(d.Cans, into, "volume", "depth", "can_area", "can_diameter", "duration", "pressure")
	for _, c := range d.Samples.Columns {
		if c.Open && c.Num != nil {
			negative(d.Samples, into, c.Name)
		}
	}
	zero(d.Runs, "rain_duration", RainNotPositive, into)
	zero(d.Runs, "intensity", IntensityZero, into)
	zero(d.Plots, "intensity", IntensityZero, into)
	zero(d.Plots, "area", AreaNotPositive, into)
	zero(d.Cans, "duration", CanDuration, into)
	zero(d.Cans, "can_area", CanNoSize, into)
	zero(d.Cans, "can_diameter", CanNoSize, into)
}

// negative reports the negative cells of columns. A negative zero is none.
func negative(f *Frame, into *issue.List, columns ...string) {
	for _, name := range columns {
		c := f.Column(name)
		if c == nil {
			continue
		}
		for i := range f.N {
			if c.Has(i) && c.Num[i] < 0 {
				report(into, NumberNegative, f, i, name, "%s is negative: correct it, or empty the cell if it was not measured", name)
			}
		}
	}
}

func zero(f *Frame, name string, code issue.Code, into *issue.List) {
	c := f.Column(name)
	for i := range f.N {
		if v, ok := c.Value(i); ok && v == 0 {
			report(into, code, f, i, name, "%s is zero: fill in the value", name)
		}
	}
}
