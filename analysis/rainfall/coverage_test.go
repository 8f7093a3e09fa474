package rainfall_test

import (
	"math/rand/v2"
	"testing"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/rainfall"
	"sheetwash/analysis/result"
)

// Four positions with two cans each whose depths scatter by 4 %: the 95 %
// interval of a position's rain depth, with its four degrees of freedom, has to
// hold the truth in 95 % of 4000 draws, within four standard errors (1.4 %).
func TestCoverage(t *testing.T) {
	r := rand.New(rand.NewPCG(20310501, 9))
	const draws = 4000
	truth := map[string]float64{"a": 52, "b": 58, "c": 61, "d": 55}
	held := 0
	for range draws {
		var cans []experiment.Can
		for _, p := range []string{"a", "b", "c", "d"} {
			for range 2 {
				cans = append(cans, experiment.Can{Calibration: "c", Position: p, DurationMin: 60, DepthMM: truth[p] * (1 + 0.04*r.NormFloat64())})
			}
		}
		run, plot := experiment.Run{RainMin: 60}, experiment.Plot{Position: "b", AreaM2: 1}
		rain, ok := rainfall.ForPlot("d", &run, &plot, rainfall.Calibrations("d", cans), experiment.ErrorModel{})
		if !ok {
			t.Fatal("no rain")
		}
		e := rainfall.AppendRows(nil, result.PlotRow{Level: 0.95}, &rain)[0]
		if e.Low.V <= 58 && 58 <= e.High.V {
			held++
		}
	}
	t.Logf("of %d draws the interval held the depth in %d", draws, held)
	if c := float64(held) / draws; c < 0.936 || c > 0.964 {
		t.Errorf("held in %d of %d", held, draws)
	}
}

func BenchmarkForPlot(b *testing.B) {
	run, plot := experiment.Run{RainMin: 60, Simulator: "rig", Started: may}, experiment.Plot{Position: "west", AreaM2: 1}
	cals := rainfall.Calibrations("d", grid("c", "rig", may))
	rows := make([]result.PlotRow, 0, 1)
	b.ReportAllocs()
	for b.Loop() {
		r, _ := rainfall.ForPlot("d", &run, &plot, cals, experiment.DefaultErrors())
		rows = rainfall.AppendRows(rows[:0], result.PlotRow{Level: 0.95}, &r)
	}
}
