package analysis_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"sheetwash/analysis"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
)

// TestRepeatabilityCoverage asks how often the 95 % intervals of a plot's rain depth (its intensity over an
// exact duration), of its runoff coefficient and of its infiltration depth hold the truth where the rain is known from k
// calibrations of a simulator whose level is another one after each set-up, by 3 %, before the run as well. Four
// positions, two cans each with 2 %, half of the rain runs off. With k = 1 the repeatability is that of the profile.
// Without the part between calibrations the first of these intervals would hold the truth in about half of the draws.
func TestRepeatabilityCoverage(t *testing.T) {
	n := 4 * *draws
	for _, k := range []int{1, 2, 3, 5, 10} {
		held := map[string]int{}
		r := rand.New(rand.NewPCG(*seed, uint64(k)))
		for range n {
			for key, ok := range repeatDraw(t, r, k) {
				if ok {
					held[key]++
				}
			}
		}
		for _, key := range []string{"rain_depth", "runoff_coefficient", "infiltration_depth"} {
			share := float64(held[key]) / float64(n)
			t.Logf("| %d | %s | %d | %.1f |", k, key, n, 100*share)
			if se := math.Sqrt(0.95 * 0.05 / float64(n)); share < 0.93-4*se || share > 0.97+4*se {
				t.Errorf("%d calibrations: %s holds the truth in %.3f of %d", k, key, share, n)
			}
		}
	}
}

// repeatDraw says which intervals of one run hold the truth.
func repeatDraw(t *testing.T, r *rand.Rand, k int) map[string]bool {
	t.Helper()
	const between, within, minutes = 0.03, 0.02, 30
	places := []float64{54, 60, 63, 63}
	setUp := func() float64 { return 1 + between*r.NormFloat64() }
	start := time.Date(2031, 5, 1, 9, 0, 0, 0, time.UTC)
	var cans []experiment.Can
	for j := range k {
		level := setUp()
		for p, v := range places {
			for range 2 {
				cans = append(cans, experiment.Can{Calibration: fmt.Sprint(j), Simulator: "rig", Date: start.AddDate(0, 0, j), Position: fmt.Sprint(p),
					DepthMM: v * level * (1 + within*r.NormFloat64()), DurationMin: 60})
			}
		}
	}
	rain := places[1] * setUp() * minutes / 60
	runoff := rain / 2
	ml := 1000 * runoff
	run := experiment.Run{ID: "r", Simulator: "rig", Started: start.AddDate(0, 1, 0), RainMin: minutes, Plots: []experiment.Plot{{
		ID: "p", Treatment: "bare", Position: "1", AreaM2: 1 + 0.005*r.NormFloat64(), Onset: experiment.OnsetNoted, OnsetMin: 0,
		Samples: []experiment.Sample{{EndMin: minutes, VolumeML: quantity.Some(ml*(1+0.005*r.NormFloat64()) + 2*r.NormFloat64())}},
	}}}
	var rigs []experiment.Rig
	if k == 1 {
		rigs = []experiment.Rig{{Simulator: "rig", RepeatabilityRel: quantity.Some(between)}}
	}
	d, err := experiment.New(experiment.Parts{Name: "d", Errors: experiment.DefaultErrors(), Runs: []experiment.Run{run}, Cans: cans, Rigs: rigs})
	if err != nil {
		t.Fatal(err)
	}
	part, err := analysis.Dataset(context.Background(), d, analysis.Calibrations([]*experiment.Dataset{d}), analysis.DefaultPlan())
	if err != nil {
		t.Fatal(err)
	}
	truth := map[string]float64{"rain_depth": rain, "runoff_coefficient": 0.5, "infiltration_depth": rain - runoff}
	out := map[string]bool{}
	for i := range part.Plots {
		row := &part.Plots[i]
		if want, ok := truth[string(row.Metric)]; ok && row.Headline {
			out[string(row.Metric)] = row.Low.V <= want && want <= row.High.V
		}
	}
	return out
}
