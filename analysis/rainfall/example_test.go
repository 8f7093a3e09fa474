package rainfall_test

import (
	"fmt"

	"sheetwash/analysis/rainfall"
)

// The uniformity of a row of six cans, depths in mm.
func Example() {
	catch := []float64{9.2, 10.1, 10.8, 10.9, 10.0, 9.0}
	cu, err := rainfall.Christiansen(catch)
	if err != nil {
		fmt.Println(err)
		return
	}
	du, _ := rainfall.LowQuarter(catch, rainfall.Fractional)
	fmt.Printf("CU %.1f %%, DUlq %.1f %%\n", cu, du)
	// Output: CU 94.0 %, DUlq 90.7 %
}
