package water_test

import (
	"fmt"

	"sheetwash/analysis/water"
)

// A bottle of 490 g of water at 20 Cel and 10 g of dry sediment.
func Example() {
	rho, err := water.Density(20)
	if err != nil {
		fmt.Println(err)
		return
	}
	s := water.Suspension{WaterG: 490, SedimentG: 10, WaterKgM3: rho}
	c, _ := s.PerLSuspension()
	fmt.Printf("%.1f mL, %.2f g/L\n", s.VolumeML(), c)
	// Output: 494.7 mL, 20.22 g/L
}
