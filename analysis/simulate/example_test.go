package simulate_test

import (
	"fmt"
	"math/rand/v2"

	"sheetwash/analysis/simulate"
)

// A crusted quarter of a square metre under 60 mm/h for half an hour, five bottles.
func Example() {
	plot := simulate.Plot{
		AreaM2: 0.25, Rain: simulate.ConstantRain(60, 30), DepressionMM: 1,
		Soil:            simulate.Horton{F0: 80, Fc: 12, K: 9},
		ConcentrationGL: 9, ConcentrationEndGL: 4, DeclinePerH: 6,
	}
	truth := plot.Simulate()
	fmt.Printf("runoff from %.1f min on, %.0f %% of the rain; capacity at the end %.1f mm/h\n",
		truth.OnsetMin.V, 100*truth.Coefficient, truth.CapacityMMH)
	bottles := truth.Collect(simulate.Schedule{N: 5, AtOnset: true}, simulate.FieldInstruments(), rand.New(rand.NewPCG(1, 2)))
	fmt.Println(len(bottles), "bottles, the last to", bottles[4].EndMin > 29.9)
	// Output:
	// runoff from 7.2 min on, 52 % of the rain; capacity at the end 12.8 mm/h
	// 5 bottles, the last to true
}
