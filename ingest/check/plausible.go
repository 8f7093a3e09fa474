package check

import (
	"sheetwash/ingest/issue"
)

// Limits outside which a value is more likely a wrong unit than a measurement.
const (
	minRainMin, maxRainMin     = 1, 12 * 60
	minIntensity, maxIntensity = 1, 500 // mm/h; the strongest rain of record over a minute is far above, no simulator is
	minPressure, maxPressure   = 1, 1000
	minArea, maxArea           = 0.01, 200
)

// plausibleRuns reports durations, intensities and pressures outside the limits.
func plausibleRuns(d *Draft, into *issue.List) {
	outside(d.Runs, "rain_duration", "min", minRainMin, maxRainMin, RainImplausible, into)
	outside(d.Runs, "intensity", "mm/h", minIntensity, maxIntensity, IntensityOdd, into)
	outside(d.Plots, "intensity", "mm/h", minIntensity, maxIntensity, IntensityOdd, into)
	outside(d.Runs, "pressure", "kPa", minPressure, maxPressure, PressureOdd, into)
	outside(d.Cans, "pressure", "kPa", minPressure, maxPressure, PressureOdd, into)
}

// plausiblePlots reports areas, slopes and percentages outside the limits, and
// areas along the slope that have no slope.
func plausiblePlots(d *Draft, into *issue.List) {
	f := d.Plots
	outside(f, "area", "m2", minArea, maxArea, AreaImplausible, into)
	slope, kind := f.Column("slope"), f.Column("area_kind")
	for i := range f.N {
		if v, ok := slope.Value(i); ok && v > 1 {
			report(into, SlopeSteep, f, i, "slope", "a slope of %s %% is steeper than 45 degrees: check whether it was entered in degrees or as a fraction", figure(100*v))
		}
		if kind.Word(i) == "surface" && slope.Is(i) == Absent {
			report(into, AreaNoSlope, f, i, "area_kind", "the area is measured along the slope, but there is no slope: fill in slope, or give the horizontal area")
		}
	}
	for _, name := range []string{"cover", "initial_water", "final_water"} {
		c := f.Column(name)
		for i := range f.N {
			if v, ok := c.Value(i); ok && v > 100 {
				report(into, PercentRange, f, i, name, "%s is %s %%: it cannot exceed 100 %%; correct the value or its unit", name, figure(v))
			}
		}
	}
}

// outside reports positive values outside limits; zero and negative ones have rules of their own.
func outside(f *Frame, name, unit string, low, high float64, code issue.Code, into *issue.List) {
	c := f.Column(name)
	for i := range f.N {
		if v, ok := c.Value(i); ok && v > 0 && (v < low || v > high) {
			report(into, code, f, i, name, "%s is %s %s, outside %s to %s %s: check its unit", name, figure(v), unit, figure(low), figure(high), unit)
		}
	}
}
