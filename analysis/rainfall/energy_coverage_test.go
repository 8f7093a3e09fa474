package rainfall_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/rainfall"
	"sheetwash/analysis/result"
)

// Stated intensities that miss by 3 % and clocks that miss by 1 s at either end,
// over 20 and 60 min of 30 to 120 mm/h: the 95 % intervals of energy and
// erosivity have to hold the truth in 93 to 97 % of 5000 draws.
func TestEnergyCoverage(t *testing.T) {
	const draws = 5000
	r := rand.New(rand.NewPCG(20310501, 11))
	errs := experiment.ErrorModel{IntensityRel: 0.03, BottleChange: 1.0 / 60}
	for _, minutes := range []float64{20, 60} {
		held := map[result.Metric]int{}
		for range draws {
			truth := 30 + 90*r.Float64()
			// The uncertainty is a share of the reading.
			read := truth / (1 + 0.03*r.NormFloat64())
			clock := minutes + math.Sqrt2/60*r.NormFloat64()
			unit, err := rainfall.NaturalUnitEnergy(truth, rainfall.BrownFoster1987)
			if err != nil {
				t.Fatal(err)
			}
			ei30, err := rainfall.ConstantErosivity(truth, clock, rainfall.BrownFoster1987)
			if err != nil {
				t.Fatal(err)
			}
			want := map[result.Metric]float64{result.KineticEnergy: 100 * unit * truth * clock / 60, result.Erosivity: ei30}
			run, plot := experiment.Run{RainMin: minutes}, experiment.Plot{AreaM2: 1}
			plot.IntensityMMH.V, plot.IntensityMMH.OK = read, true
			rain, ok := rainfall.ForPlot("d", &run, &plot, nil, errs)
			if !ok {
				t.Fatal("no rain")
			}
			for _, row := range rainfall.AppendEnergyRows(nil, result.PlotRow{Level: 0.95}, &rain)[:2] {
				if row.Low.V <= want[row.Metric] && want[row.Metric] <= row.High.V {
					held[row.Metric]++
				}
			}
		}
		for m, n := range held {
			t.Logf("%v min, %s: held in %.1f %%", minutes, m, 100*float64(n)/draws)
			if c := float64(n) / draws; c < 0.93 || c > 0.97 {
				t.Errorf("%v min, %s: held in %.3f", minutes, m, c)
			}
		}
	}
}
