package rainfall_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/rainfall"
)

// Values 10, 12, 11, 13, 9: moving ranges 2, 1, 2, 4 with mean 2.25, centre 11,
// limits 11 -+ 2.66 x 2.25 (3/d2 with d2 = 1.128: NIST/SEMATECH e-Handbook 6.3.2.2).
func TestIndividualsChart(t *testing.T) {
	c, ok := rainfall.IndividualsChart([]float64{10, 12, 11, 13, 9})
	if !ok || !c.CanSignal {
		t.Fatal(c, ok)
	}
	near(t, "centre", c.Centre, 11, 1e-12)
	near(t, "between", c.SD, math.Sqrt(10.0/4), 1e-12) // squares 1 + 1 + 0 + 4 + 4
	near(t, "low", c.Low, 11-2.6587*2.25, 1e-3)
	near(t, "high", c.High, 11+2.6587*2.25, 1e-3)
	for i, out := range c.Out {
		if out || c.Run[i] {
			t.Errorf("value %d signals", i)
		}
	}
	if _, ok := rainfall.IndividualsChart([]float64{3}); ok {
		t.Error("a chart of one value")
	}
	if c, ok := rainfall.IndividualsChart([]float64{3, 5}); !ok || c.CanSignal || c.Out[0] || c.Out[1] {
		t.Errorf("two values: %+v, %v", c, ok)
	}
}

// A lone step at the end is beyond the limits from five values on, and never
// before; in the middle from eight on. Eight values above the centre are a shift.
func TestWhatAChartCanSignal(t *testing.T) {
	for n := 2; n <= 12; n++ {
		for _, at := range []int{n - 1, n / 2} {
			x := make([]float64, n)
			x[at] = 1
			c, _ := rainfall.IndividualsChart(x)
			if at == n-1 && c.CanSignal != (n >= 5) {
				t.Errorf("%d values: can signal %v", n, c.CanSignal)
			}
			if want := at == n-1 && n >= 5 || at != n-1 && n >= 8; c.Out[at] != want {
				t.Errorf("%d values, step at %d: out %v", n, at, c.Out[at])
			}
		}
	}
	x := []float64{0, 0, 0, 0, 0, 0, 0, 0, 2, 2, 2, 2, 2, 2, 2, 2, 2}
	c, _ := rainfall.IndividualsChart(x)
	for i, run := range c.Run {
		if run != (i == 7 || i >= 15) {
			t.Errorf("value %d: run %v", i, run)
		}
	}
}

// A steady simulator goes beyond its limits about once in 370 values; with
// limits of 20 of its own values once in about 200 (draws from a normal distribution).
func TestFalseAlarms(t *testing.T) {
	r := rand.New(rand.NewPCG(20310501, 10))
	out, all := 0, 0
	for range 2000 {
		x := make([]float64, 20)
		for i := range x {
			x[i] = 60 + 2*r.NormFloat64()
		}
		c, _ := rainfall.IndividualsChart(x)
		for _, o := range c.Out {
			all++
			if o {
				out++
			}
		}
	}
	if share := float64(out) / float64(all); share < 0.001 || share > 0.010 {
		t.Errorf("%d of %d values of a steady simulator are out", out, all)
	}
}

// Six dated calibrations of one rig, spread over datasets, the last 20 % low, and
// one of another rig: the chart holds the six in the order of their dates.
func TestDriftOfASimulator(t *testing.T) {
	var season []rainfall.Calibration
	var last rainfall.Calibration
	for i, depth := range []float64{10, 10.1, 9.9, 10.05, 10, 8} {
		cans := []experiment.Can{{Calibration: "c", Simulator: "rig", Date: may.AddDate(0, 0, 7*i), DepthMM: depth, DurationMin: 10, PressureKPa: quantity.Some(48.0)}}
		own := rainfall.Calibrations(fmt.Sprint("d", 9-i), cans)
		season, last = append(season, own...), own[0]
	}
	other := rainfall.Calibrations("x", []experiment.Can{{Calibration: "c", Simulator: "other", Date: may, DepthMM: 3, DurationMin: 10}, {Calibration: "u", Simulator: "rig", DepthMM: 3, DurationMin: 10}})
	season = append(season, other...)
	rig := []experiment.Rig{{Simulator: "rig", Nozzles: 2, NozzleLMin: quantity.Some(7.0), NozzleKPa: quantity.Some(48 * 0.81)}}
	rows := rainfall.CalibrationRows([]rainfall.Calibration{last}, season, rig, rainfall.DefaultSettings())
	drift := rows[5]
	mean := 6 * (10 + 10.1 + 9.9 + 10.05 + 10 + 8) / 6
	if drift.N != 6 || !drift.Flags.Has("out_of_control") || drift.Flags.Has("chart_too_short") || drift.Level != 0.9973 {
		t.Errorf("drift %+v", drift)
	}
	near(t, "drift", drift.Value.V, 48-mean, 1e-9)
	near(t, "limit", drift.High.V, 1.5*math.Sqrt(math.Pi)*6*(0.1+0.2+0.15+0.05+2)/5, 1e-9)
	// 2 nozzles of 7 L/min at 38.88 kPa, and 48 kPa: 14 / 0.9
	near(t, "discharge", rows[4].Value.V, 14/0.9, 1e-9)
	undated := rainfall.CalibrationRows(other, season, nil, rainfall.DefaultSettings())
	if !undated[5].Flags.Has("one_calibration") || !undated[11].Flags.Has("not_charted") || undated[11].Value.OK {
		t.Errorf("one %+v, undated %+v", undated[5], undated[11])
	}
}
