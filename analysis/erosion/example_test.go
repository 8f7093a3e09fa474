package erosion_test

import (
	"fmt"

	"sheetwash/analysis/erosion"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
)

// One dish of sediment from two bottles; between them 300 mL ran past.
func Example() {
	plot := experiment.Plot{AreaM2: 1, Samples: []experiment.Sample{{StartMin: 5, EndMin: 30, SedimentG: quantity.Some(12)}}}
	s := erosion.Of(erosion.Input{Run: &experiment.Run{RainMin: 30}, Plot: &plot, RunoffMin: 25, Errors: experiment.DefaultErrors(), Level: 0.95,
		Flow: []erosion.Flow{
			{StartMin: 5, EndMin: 15, VolumeML: 1000, UVolumeML: 5, Collected: true},
			{StartMin: 15, EndMin: 17, VolumeML: 300, UVolumeML: 50},
			{StartMin: 17, EndMin: 30, VolumeML: 2000, UVolumeML: 10, Collected: true},
		}})
	fmt.Printf("%.1f g/L, %.1f g/m2 (%s)\n", s.Concentration.Value.V, s.SoilLoss.Value.V, s.SoilLoss.Flags)
	// Output: 4.0 g/L, 13.2 g/m2 (interpolated interpolated_share=0.091)
}
