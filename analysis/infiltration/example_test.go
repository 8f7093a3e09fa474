package infiltration_test

import (
	"fmt"

	"sheetwash/analysis/infiltration"
	"sheetwash/analysis/quantity"
)

// Eight bottles of five minutes under 60 mm/h for 40 min, each known to 0.4 mm/h.
func ExampleSteady() {
	in := infiltration.Input{IntensityMMH: 60, UIntensity: 1.8, RainMin: 40, OnsetMin: quantity.Some(1), RanOff: true}
	for n, q := range []float64{16.4, 28.1, 32.8, 35.8, 37.3, 38.5, 39.1, 39.3} {
		in.Intervals = append(in.Intervals, infiltration.Interval{StartMin: 5 * float64(n), EndMin: 5 * float64(n+1), RateMMH: q, U: 0.4})
	}
	a := infiltration.Steady(in)
	fmt.Printf("%s %.1f mm/h (%.1f to %.1f), verdicts %q\n", a.Headline, a.Horton.Value.V, a.Horton.Low.V, a.Horton.High.V, a.Horton.Flags)
	// Output: horton 20.5 mm/h (16.9 to 24.1), verdicts ""
}
