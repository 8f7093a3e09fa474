package hydrograph_test

import (
	"math/rand/v2"
	"testing"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/hydrograph"
	"sheetwash/analysis/quantity"
)

// The errors of the default model, drawn anew 4000 times: a volume reading has
// 0.5 % and 2 mL, the area 0.5 %, the intensity 3 %. The 95 % interval of the
// runoff coefficient has to hold the truth about as often as it says; that of
// the depth may hold it more often, since no water ran past at bottle changes
// here. The bounds are 95 % less four standard errors of 4000 draws (1.4 %),
// and plus them for the coefficient, whose error is nearly all the intensity's.
func TestCoverage(t *testing.T) {
	r := rand.New(rand.NewPCG(20310501, 7))
	const draws = 4000
	truth := []float64{0, 800, 2600, 3900, 4100, 4150} // mL of 5 min on 1 m2: 15.55 of 30 mm
	depth, coefficient := 0, 0
	for range draws {
		p := &experiment.Plot{ID: "p", AreaM2: 1 + 0.005*r.NormFloat64()}
		for i, v := range truth {
			read := v
			if v > 0 {
				read += v*0.005*r.NormFloat64() + 2*r.NormFloat64()
			}
			p.Samples = append(p.Samples, experiment.Sample{StartMin: float64(5 * i), EndMin: float64(5*i + 5), VolumeML: quantity.Some(read)})
		}
		i := 60 * (1 + 0.03*r.NormFloat64())
		rain := hydrograph.Rain{IntensityMMH: i, DurationMin: 30, DepthMM: i / 2, UDepthShared: 0.03 * i / 2}
		h := hydrograph.Of(&experiment.Run{RainMin: 30}, p, rain, def, hydrograph.DefaultSettings())
		if q := h.Depth(); q.Low.V <= 15.55 && 15.55 <= q.High.V {
			depth++
		}
		if c := h.Coefficient(); c.Low.V <= 15.55/30 && 15.55/30 <= c.High.V {
			coefficient++
		}
	}
	t.Logf("of %d draws the interval held the depth in %d, the coefficient in %d", draws, depth, coefficient)
	if float64(depth) < 0.936*draws {
		t.Errorf("depth: %d of %d", depth, draws)
	}
	if c := float64(coefficient) / draws; c < 0.936 || c > 0.964 {
		t.Errorf("coefficient: %d of %d", coefficient, draws)
	}
}
