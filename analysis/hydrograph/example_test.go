package hydrograph_test

import (
	"fmt"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/hydrograph"
	"sheetwash/analysis/quantity"
)

// A plot of 1 m2 under 60 mm/h for half an hour; runoff was noted at 12 min.
func Example() {
	catch := func(start, end, ml float64) experiment.Sample {
		return experiment.Sample{StartMin: start, EndMin: end, VolumeML: quantity.Some(ml)}
	}
	plot := experiment.Plot{ID: "ley 1", AreaM2: 1, Onset: experiment.OnsetNoted, OnsetMin: 12,
		Samples: []experiment.Sample{catch(0, 10, 0), catch(10, 20, 2400), catch(20, 30, 6000)}}
	rain := hydrograph.Rain{IntensityMMH: 60, DurationMin: 30, DepthMM: 30, UDepthShared: 0.9}
	h := hydrograph.Of(&experiment.Run{RainMin: 30}, &plot, rain, experiment.DefaultErrors(), hydrograph.DefaultSettings())
	c := h.Coefficient()
	fmt.Printf("%.1f mm ran off, coefficient %.3f (%.3f to %.3f)\n", h.Depth().Value.V, c.Value.V, c.Low.V, c.High.V)
	for _, iv := range h.Intervals {
		fmt.Printf("%g to %g min: %.1f mm/h\n", iv.StartMin, iv.EndMin, iv.RateMMH)
	}
	// Output:
	// 8.4 mm ran off, coefficient 0.280 (0.263 to 0.297)
	// 0 to 10 min: 0.0 mm/h
	// 10 to 12 min: 0.0 mm/h
	// 12 to 20 min: 18.0 mm/h
	// 20 to 30 min: 36.0 mm/h
}
