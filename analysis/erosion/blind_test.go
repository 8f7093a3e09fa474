package erosion_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"sheetwash/analysis/erosion"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/simulate"
)

// Simulated plots whose concentration falls through the run, with bottles end to
// end and a bottle of the recession, read with 0.5 % and 2 mL and weighed to
// 0.01 g. The 95 % intervals of mass and concentration have to hold the truth
// in 95 of 100, within four standard errors of the number of plots.
func TestBlindPlots(t *testing.T) {
	r := rand.New(rand.NewPCG(20310704, 5))
	between := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
	instruments := simulate.Instruments{VolumeRel: 0.005, VolumeML: 2, SedimentG: 0.01}
	ran, mass, conc := 0, 0, 0
	worst := 0.0
	for range 400 {
		i, minutes := between(40, 120), between(20, 60)
		p := simulate.Plot{AreaM2: between(0.3, 1.5), Rain: simulate.ConstantRain(i, minutes), DepressionMM: between(0.5, 3), RecessionMin: 5,
			ReservoirMin: between(0, 1), Soil: simulate.Horton{F0: i * between(1.05, 3), Fc: i * between(0.05, 0.6), K: between(4, 20)},
			ConcentrationGL: between(1, 40), ConcentrationEndGL: between(0.5, 10), DeclinePerH: between(1, 8)}
		truth := p.Simulate()
		if !truth.ConcentrationGL.OK || truth.RunoffMM < 2 {
			continue
		}
		plot := experiment.Plot{AreaM2: p.AreaM2}
		in := erosion.Input{Run: &experiment.Run{RainMin: minutes}, Plot: &plot, RunoffMin: 10, Errors: def, Level: 0.95}
		for _, b := range truth.Collect(simulate.Schedule{N: 5 + r.IntN(10), RecessionMin: 5}, instruments, r) {
			plot.Samples = append(plot.Samples, experiment.Sample{StartMin: b.StartMin, EndMin: b.EndMin, SedimentG: quantity.Some(b.SedimentG)})
			u := 0.0
			if b.VolumeML > 0 {
				u = math.Hypot(0.005*b.VolumeML, 2)
			}
			in.Flow = append(in.Flow, erosion.Flow{StartMin: b.StartMin, EndMin: b.EndMin, VolumeML: b.VolumeML, UVolumeML: u, Collected: true})
		}
		s := erosion.Of(in)
		ran++
		m, c := s.Mass, s.Concentration
		if m.Low.V <= truth.SedimentG && truth.SedimentG <= m.High.V {
			mass++
		}
		if c.Low.V <= truth.ConcentrationGL.V && truth.ConcentrationGL.V <= c.High.V {
			conc++
		}
		worst = max(worst, math.Abs(c.Value.V/truth.ConcentrationGL.V-1))
	}
	t.Logf("of %d plots the interval held the mass in %d, the concentration in %d; worst concentration off by %.2f %%", ran, mass, conc, 100*worst)
	least := float64(ran) * (0.95 - 4*math.Sqrt(0.95*0.05/float64(ran)))
	if float64(mass) < least || float64(conc) < least || worst > 0.03 {
		t.Errorf("of %d plots: mass %d, concentration %d, worst %v", ran, mass, conc, worst)
	}
}
