package rainfall_test

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/rainfall"
	"sheetwash/analysis/result"
)

var may = time.Date(2031, 5, 1, 0, 0, 0, 0, time.UTC)

// grid returns a calibration of two positions with two cans each, 10 min:
// west 9 and 11 mm, east 7 and 9 mm. Intensities are 54, 66, 42 and 54 mm/h;
// west has the mean 60, east 48, all 54. About the means of their positions the
// cans scatter by +-6: sum of squares 144 on 2 degrees of freedom, s = 8.4853.
func grid(id, simulator string, date time.Time) []experiment.Can {
	var cans []experiment.Can
	for _, c := range []struct {
		position string
		depth    float64
	}{{"west", 9}, {"west", 11}, {"east", 7}, {"east", 9}} {
		cans = append(cans, experiment.Can{Calibration: id, Simulator: simulator, Position: c.position, Date: date, DepthMM: c.depth, DurationMin: 10})
	}
	return cans
}

func near(t *testing.T, name string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %v, want %v", name, got, want)
	}
}

func TestCalibrationRows(t *testing.T) {
	cs := rainfall.Calibrations("ashlock", grid("c1", "rig", may))
	if len(cs) != 1 || len(cs[0].Positions) != 2 {
		t.Fatalf("calibrations %+v", cs)
	}
	rows := rainfall.CalibrationRows(cs, cs, nil, rainfall.DefaultSettings())
	want := map[result.Metric]float64{
		result.Intensity: 54,
		// |0| + 12 + 12 + |0| = 24 over 4 x 54: 100 (1 - 24/216)
		result.UniformityChristiansen: 100 * (1 - 24.0/216),
		// the lowest of four cans over the mean
		result.UniformityLowQuarter: 100 * 42.0 / 54,
		// squares 0 + 144 + 144 + 0 on 3 degrees of freedom
		result.CoefficientOfVariation: math.Sqrt(288.0/3) / 54,
	}
	if len(rows) != len(want)+2 || !rows[4].Flags.Has("no_nozzle_flow") || !rows[5].Flags.Has("one_calibration") || rows[5].N != 1 {
		t.Fatalf("%d rows: %+v", len(rows), rows[4:])
	}
	for _, r := range rows[:4] {
		near(t, string(r.Metric), r.Value.V, want[r.Metric], 1e-12)
		if r.N != 4 || r.Date != "2031-05-01" || r.Simulator != "rig" || r.Dataset != "ashlock" {
			t.Errorf("row %+v", r)
		}
	}
	// t(0.975, 3) = 3.182446 (GUM table G.2: 3.18); half width t s / sqrt(4).
	half := 3.182446 * math.Sqrt(96) / 2
	near(t, "low", rows[0].Low.V, 54-half, 1e-4)
	near(t, "high", rows[0].High.V, 54+half, 1e-4)
	single := rainfall.Calibrations("d", grid("c", "", may)[:1])
	one := rainfall.CalibrationRows(single, single, nil, rainfall.DefaultSettings())
	if !one[0].Value.OK || one[0].Low.OK || one[1].Value.OK || !one[1].Flags.Has("too_few_cans") {
		t.Errorf("one can: %+v", one)
	}
}

func TestPrecedence(t *testing.T) {
	errs := experiment.DefaultErrors()
	start := may.Add(240 * time.Hour)
	older := rainfall.Calibrations("quarry", grid("old", "rig", may))
	newer := rainfall.Calibrations("ashlock", grid("new", "rig", may.Add(48*time.Hour)))
	later := rainfall.Calibrations("ashlock", grid("later", "rig", start.Add(time.Hour)))
	other := rainfall.Calibrations("ashlock", grid("other", "second rig", may.Add(72*time.Hour)))
	all := append(append(append(older, newer...), later...), other...)
	gauge := experiment.Series{Channel: experiment.RainRate, BinMin: 10, N: 6, LastMin: 59}
	for i := range 6 {
		gauge.Bins = append(gauge.Bins, experiment.Bin{Index: int32(i), N: 1, SumT: 5, SumV: 63})
	}
	run := func(mm float64, series ...experiment.Series) experiment.Run {
		r := experiment.Run{ID: "r", Simulator: "rig", Started: start, RainMin: 60, Series: series}
		if mm > 0 {
			r.IntensityMMH = quantity.Some(mm)
		}
		return r
	}
	plot := func(position string, mm float64) experiment.Plot {
		p := experiment.Plot{ID: "p", Position: position, AreaM2: 1}
		if mm > 0 {
			p.IntensityMMH = quantity.Some(mm)
		}
		return p
	}
	s := math.Sqrt(72) // of a single can, see grid
	for _, tt := range []struct {
		name          string
		run           experiment.Run
		plot          experiment.Plot
		cals          []rainfall.Calibration
		source, cal   string
		mmh, ush, own float64
		df            float64
		flag          string
	}{
		{"the plot's own first", run(70, gauge), plot("west", 61), all, rainfall.SourcePlot, "", 61, 0.03 * 61, 0, 0, ""},
		{"a gauge, spread by the newest pattern", run(70, gauge), plot("west", 0), all, rainfall.SourceGauge, "new",
			63 * 60.0 / 54, 0.03 * 70, s / math.Sqrt2 * 70 / 60, 2, ""},
		{"a gauge without a pattern", run(70, gauge), plot("", 0), all, rainfall.SourceGauge, "", 63, 0.03 * 63, 0, 0, "pattern_unknown"},
		{"the newest calibration not after the run", run(70), plot("east", 0), all, rainfall.SourceCalibration, "new", 48, 0, s / math.Sqrt2, 2, ""},
		{"a position that was not calibrated: the run's", run(70), plot("middle", 0), all, rainfall.SourceRun, "", 70, 0.03 * 70, 0, 0, ""},
		{"and without the run's the spatial mean", run(0), plot("middle", 0), all, rainfall.SourceCalibration, "new", 54, math.Sqrt(96) / 2, math.Sqrt(96), 3, "position_not_calibrated"},
		{"no calibration", run(70), plot("west", 0), nil, rainfall.SourceRun, "", 70, 0.03 * 70, 0, 0, ""},
	} {
		r, ok := rainfall.ForPlot("ashlock", &tt.run, &tt.plot, tt.cals, errs)
		if !ok || r.Source != tt.source || r.Calibration != tt.cal {
			t.Errorf("%s: %v from %q, %q", tt.name, ok, r.Source, r.Calibration)
		}
		near(t, tt.name+": intensity", r.IntensityMMH, tt.mmh, 1e-9)
		near(t, tt.name+": shared error", r.UShared, tt.ush, 1e-9)
		near(t, tt.name+": own error", r.U, tt.own, 1e-9)
		near(t, tt.name+": degrees of freedom", r.DF, tt.df, 0)
		near(t, tt.name+": depth", r.DepthMM, tt.mmh, 1e-9)
		if tt.flag != "" && !r.Flags.Has(tt.flag) {
			t.Errorf("%s: flags %v, want %s", tt.name, r.Flags, tt.flag)
		}
	}
	nothing, bare := run(0), plot("west", 0)
	if _, ok := rainfall.ForPlot("ashlock", &nothing, &bare, nil, errs); ok {
		t.Error("rain from nothing")
	}
}

func TestCalibrationChoice(t *testing.T) {
	errs := experiment.DefaultErrors()
	plot := experiment.Plot{Position: "west", AreaM2: 1}
	dated := rainfall.Calibrations("ashlock", grid("dated", "rig", may))
	undated := rainfall.Calibrations("ashlock", grid("undated", "rig", time.Time{}))
	unnamed := rainfall.Calibrations("ashlock", grid("unnamed", "", may))
	foreign := rainfall.Calibrations("quarry", grid("foreign", "", may))
	twin := rainfall.Calibrations("quarry", grid("twin", "rig", may))
	for _, tt := range []struct {
		name, simulator string
		started         time.Time
		cals            []rainfall.Calibration
		want, flag      string
	}{
		{"dated before undated", "rig", may.Add(time.Hour), append(dated, undated...), "dated", ""},
		{"undated at need", "rig", may.Add(time.Hour), undated, "undated", "calibration_undated"},
		{"run without a stamp", "rig", time.Time{}, dated, "dated", "run_undated"},
		{"same moment", "rig", may, dated, "dated", ""},
		{"own dataset needs no name", "rig", may, append(foreign, unnamed...), "unnamed", ""},
		{"nameless of another dataset", "", may, foreign, "", ""},
		{"equally new", "rig", may, append(dated, twin...), "dated", "calibration_ambiguous"},
	} {
		run := experiment.Run{Simulator: tt.simulator, Started: tt.started, RainMin: 60}
		r, ok := rainfall.ForPlot("ashlock", &run, &plot, tt.cals, errs)
		if r.Calibration != tt.want || ok != (tt.want != "") || tt.flag != "" && !r.Flags.Has(tt.flag) {
			t.Errorf("%s: %q %v %v", tt.name, r.Calibration, ok, r.Flags)
		}
	}
}

// Rain that is logged every 10 min: 30, 60, 60, 60, 60, 90 mm/h. Each holds
// half-way to its neighbours, the first from 0 and the last to 60 min: 10 min
// each, so the depth is 60 mm.
func TestCourse(t *testing.T) {
	rate := experiment.Series{Channel: experiment.RainRate, BinMin: 1}
	depth := experiment.Series{Channel: experiment.RainDepth, BinMin: 1}
	total := 0.0
	for i, v := range []float64{30, 60, 60, 60, 60, 90} {
		rate.Bins = append(rate.Bins, experiment.Bin{Index: int32(10*i + 5), N: 1, SumV: v})
		depth.Bins = append(depth.Bins, experiment.Bin{Index: int32(10 * i), N: 1, SumV: total})
		total += v / 6
	}
	depth.Bins = append(depth.Bins, experiment.Bin{Index: 60, N: 1, SumV: total})
	for _, series := range []experiment.Series{rate, depth} {
		run := experiment.Run{RainMin: 60, Series: []experiment.Series{series}}
		plot := experiment.Plot{AreaM2: 1}
		r, ok := rainfall.ForPlot("d", &run, &plot, nil, experiment.DefaultErrors())
		if !ok {
			t.Fatalf("%v: no rain", series.Channel)
		}
		near(t, "intensity", r.IntensityMMH, 60, 1e-9)
		for i, want := range []float64{30, 60, 60, 60, 60, 90} {
			near(t, "course", r.RatesMMH[i], want, 1e-9)
			near(t, "edge", r.EdgesMin[i+1], float64(10*i+10), 1e-9)
		}
	}
}

// A running depth that was emptied at 30 min: 10 mm every 10 min, then from zero
// again. The rate of 60 mm/h goes on through the reading that fell. A logger that
// began at 20 min stands for the whole rain, flagged.
func TestGaugeFaults(t *testing.T) {
	s := experiment.Series{Channel: experiment.RainDepth, BinMin: 1}
	for i, v := range []float64{0, 10, 20, 3, 13, 23, 33} {
		s.Bins = append(s.Bins, experiment.Bin{Index: int32(10 * i), N: 1, SumV: v})
	}
	plot := experiment.Plot{AreaM2: 1}
	run := experiment.Run{RainMin: 60, Series: []experiment.Series{s}}
	r, _ := rainfall.ForPlot("d", &run, &plot, nil, experiment.DefaultErrors())
	near(t, "emptied gauge", r.DepthMM, 60, 1e-9)
	if !r.Flags.Has("rain_reset") || r.Flags.Has("rain_partly_logged") {
		t.Errorf("flags %v", r.Flags)
	}
	s.Bins = s.Bins[4:]
	run.Series[0] = s
	r, _ = rainfall.ForPlot("d", &run, &plot, nil, experiment.DefaultErrors())
	near(t, "late logger", r.DepthMM, 60, 1e-9)
	if !r.Flags.Has("rain_partly_logged") {
		t.Errorf("flags %v", r.Flags)
	}
	own := experiment.Series{Channel: experiment.RainRate, BinMin: 60, Bins: []experiment.Bin{{N: 1, SumT: 30, SumV: 42}}}
	plot.Series = []experiment.Series{own}
	r, _ = rainfall.ForPlot("d", &run, &plot, nil, experiment.DefaultErrors())
	near(t, "the plot's own gauge", r.IntensityMMH, 42, 1e-12)
	if r.Flags.Has("pattern_unknown") {
		t.Errorf("flags %v", r.Flags)
	}
	// One can at the position and no other with two: its error is assumed.
	cans := grid("c", "", may)
	cans = []experiment.Can{cans[0], cans[2]}
	run, plot = experiment.Run{RainMin: 60}, experiment.Plot{Position: "west", AreaM2: 1}
	r, _ = rainfall.ForPlot("d", &run, &plot, rainfall.Calibrations("d", cans), experiment.DefaultErrors())
	near(t, "u of one can", r.UShared, 0.03*54, 1e-12)
	if r.U != 0 || !r.Flags.Has("intensity_error_assumed") {
		t.Errorf("rain %+v", r)
	}
}

// u(P) of 60 mm from a stated 60 mm/h: 3 % is 1.8 mm; the stopwatch's
// sqrt(2) s of 60 mm/h is 0.02357 mm; together 1.80015. All of it is shared.
func TestDepthRow(t *testing.T) {
	run := experiment.Run{RainMin: 60, IntensityMMH: quantity.Some(60)}
	plot := experiment.Plot{AreaM2: 2}
	r, _ := rainfall.ForPlot("d", &run, &plot, nil, experiment.DefaultErrors())
	rows := rainfall.AppendRows(nil, result.PlotRow{Subject: &result.Subject{Plot: "p"}, Level: 0.95}, &r)
	if len(rows) != 1 || rows[0].Metric != result.RainDepth || !rows[0].Headline || rows[0].Unit != "mm" || rows[0].Plot != "p" {
		t.Fatalf("rows %+v", rows)
	}
	e := rows[0]
	near(t, "depth", e.Value.V, 60, 1e-12)
	near(t, "u", e.U.V, 1.80015, 1e-5)
	near(t, "shared u", e.UShared.V, 1.80015, 1e-5)
	near(t, "low", e.Low.V, 60-1.959964*1.80015, 1e-4)
}

// The course of a gauge adds up to the depth, over the whole of the rain.
func TestCourseAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		bins := rapid.IntRange(1, 30).Draw(t, "bins")
		s := experiment.Series{Channel: experiment.RainRate, BinMin: 2}
		for i := range bins {
			s.Bins = append(s.Bins, experiment.Bin{Index: int32(i), N: 1, SumT: 1, SumV: rapid.Float64Range(1, 100).Draw(t, "rate")})
		}
		run := experiment.Run{RainMin: float64(2 * bins), Series: []experiment.Series{s}}
		plot := experiment.Plot{AreaM2: 1}
		r, ok := rainfall.ForPlot("d", &run, &plot, nil, experiment.DefaultErrors())
		if !ok || r.EdgesMin[0] != 0 || r.EdgesMin[len(r.EdgesMin)-1] != run.RainMin {
			t.Fatalf("course %+v", r)
		}
		var sum float64
		for i, rate := range r.RatesMMH {
			sum += rate * (r.EdgesMin[i+1] - r.EdgesMin[i]) / 60
		}
		if math.Abs(sum-r.DepthMM) > 1e-9*(1+r.DepthMM) {
			t.Fatalf("course of %v mm, depth %v mm", sum, r.DepthMM)
		}
	})
}

// A can of 100 cm2 that caught 50 mL holds 5 mm (1 mL on 1 cm2 is 10 mm).
func TestCanDepth(t *testing.T) {
	near(t, "depth", rainfall.CanDepth(50, 100), 5, 1e-12)
}
