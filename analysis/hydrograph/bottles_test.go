package hydrograph_test

import (
	"math"
	"slices"
	"testing"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/hydrograph"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// The plots of these tests have 1 m2 under 60 mm/h for 30 min: 1 mL is
// 0.001 mm, 100 mL/min are 6 mm/h, and the rain is 30 mm.
var rain = hydrograph.Rain{IntensityMMH: 60, DurationMin: 30, DepthMM: 30, UDepthShared: 0.9}

// exact is an error model without errors; def the default one.
var exact, def = experiment.ErrorModel{}, experiment.DefaultErrors()

// bottle is a runoff sample with a volume.
func bottle(start, end, ml float64) experiment.Sample {
	return experiment.Sample{StartMin: start, EndMin: end, VolumeML: quantity.Some(ml)}
}

func flagged(s experiment.Sample, f experiment.Flag) experiment.Sample {
	s.Flag = f
	return s
}

// lost is a bottle whose volume is not known.
func lost(start, end float64) experiment.Sample {
	return experiment.Sample{StartMin: start, EndMin: end, Flag: experiment.FlagLost}
}

func plotOf(samples ...experiment.Sample) *experiment.Plot {
	return &experiment.Plot{ID: "p", AreaM2: 1, Samples: samples}
}

func runoff(p *experiment.Plot, errs experiment.ErrorModel) hydrograph.Hydrograph {
	return hydrograph.Of(&experiment.Run{RainMin: 30}, p, rain, errs, hydrograph.DefaultSettings())
}

// steps writes intervals as start, end, mm/h, for comparison.
func steps(h *hydrograph.Hydrograph) [][3]float64 {
	var out [][3]float64
	for _, iv := range h.Intervals {
		out = append(out, [3]float64{iv.StartMin, iv.EndMin, math.Round(iv.RateMMH*1e9) / 1e9})
	}
	return out
}

func near(t *testing.T, name string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.10g, want %.10g", name, got, want)
	}
}

// Each course is worked by hand: rate = 0.06 mL / (1 m2 x min).
func TestCourses(t *testing.T) {
	noted := func(p *experiment.Plot, min float64) *experiment.Plot {
		p.Onset, p.OnsetMin = experiment.OnsetNoted, min
		return p
	}
	excluded := bottle(10, 20, 9999)
	excluded.Exclude, excluded.ExcludeReason = true, "knocked over"
	sediment := experiment.Sample{StartMin: 0, EndMin: 30, SedimentG: quantity.Some(3)}
	for _, tt := range []struct {
		name   string
		plot   *experiment.Plot
		want   [][3]float64
		volume float64
		filled float64 // interpolated and held
		flags  result.Flags
	}{
		{"bottle after bottle", plotOf(bottle(0, 10, 0), bottle(10, 20, 4000), bottle(20, 30, 8000)),
			[][3]float64{{0, 10, 0}, {10, 20, 24}, {20, 30, 48}}, 12000, 0, nil},
		{"the rate of the first bottle runs from the onset", noted(plotOf(bottle(0, 10, 2000), bottle(10, 30, 8000)), 5),
			[][3]float64{{0, 5, 0}, {5, 10, 24}, {10, 30, 24}}, 10000, 0, nil},
		{"the onset in a later bottle", noted(plotOf(bottle(0, 10, 0), bottle(10, 20, 2000), bottle(20, 30, 4000)), 15),
			[][3]float64{{0, 10, 0}, {10, 15, 0}, {15, 20, 24}, {20, 30, 24}}, 6000, 0, nil},
		{"drips before the onset stay", noted(plotOf(bottle(0, 10, 10), bottle(10, 30, 4000)), 15),
			[][3]float64{{0, 10, 0.06}, {10, 30, 12}}, 4010, 0, result.Flags{"water_before_onset"}},
		// 10 min at (200 + 600)/2 mL/min
		{"a gap by the trapezoid", plotOf(bottle(0, 10, 2000), bottle(20, 30, 6000)),
			[][3]float64{{0, 10, 12}, {10, 20, 24}, {20, 30, 36}}, 12000, 4000, result.Flags{"gap", "interpolated"}},
		{"a lost bottle", plotOf(bottle(0, 10, 2000), lost(10, 20), bottle(20, 30, 6000)),
			[][3]float64{{0, 10, 12}, {10, 20, 24}, {20, 30, 36}}, 12000, 4000, result.Flags{"gap", "interpolated", "lost"}},
		{"a bottle set aside", plotOf(bottle(0, 10, 2000), excluded, bottle(20, 30, 6000)),
			[][3]float64{{0, 10, 12}, {10, 20, 24}, {20, 30, 36}}, 12000, 4000, result.Flags{"gap", "interpolated", "excluded"}},
		{"a bottle not read", plotOf(bottle(0, 10, 2000), experiment.Sample{StartMin: 10, EndMin: 20}, bottle(20, 30, 6000)),
			[][3]float64{{0, 10, 12}, {10, 20, 24}, {20, 30, 36}}, 12000, 4000, result.Flags{"gap", "interpolated", "volume_missing"}},
		{"pooled sediment is no water", plotOf(bottle(0, 10, 2000), sediment, bottle(10, 30, 4000)),
			[][3]float64{{0, 10, 12}, {10, 30, 12}}, 6000, 0, nil},
		// from the onset at 15 the flow rises to 600 mL/min over 5 min: 1500 mL
		{"the onset in a gap", noted(plotOf(bottle(0, 10, 0), bottle(20, 30, 6000)), 15),
			[][3]float64{{0, 10, 0}, {10, 15, 0}, {15, 20, 18}, {20, 30, 36}}, 7500, 1500, result.Flags{"gap", "interpolated"}},
		{"an onset that the first bottle missed", noted(plotOf(bottle(10, 30, 4000)), 6),
			[][3]float64{{0, 6, 0}, {6, 10, 6}, {10, 30, 12}}, 4400, 400, result.Flags{"gap", "interpolated", "leading_gap"}},
		{"a bottle put up at the onset", noted(plotOf(bottle(10, 30, 4000)), 10),
			[][3]float64{{0, 10, 0}, {10, 30, 12}}, 4000, 0, nil},
		{"room for one missing bottle", plotOf(bottle(5, 10, 1000), bottle(10, 30, 4000)),
			[][3]float64{{0, 5, 6}, {5, 10, 12}, {10, 30, 12}}, 5500, 500, result.Flags{"gap", "interpolated", "leading_gap"}},
		{"a lost first bottle", plotOf(lost(0, 10), bottle(10, 30, 4000)),
			[][3]float64{{0, 10, 6}, {10, 30, 12}}, 5000, 1000, result.Flags{"gap", "interpolated", "leading_gap", "lost"}},
		{"put up when flow began, it seems", plotOf(bottle(12.4, 17.4, 1000), bottle(17.4, 30, 2520)),
			[][3]float64{{0, 12.4, 0}, {12.4, 17.4, 12}, {17.4, 30, 12}}, 3520, 0, result.Flags{"start_assumed"}},
		{"a late dry bottle", plotOf(bottle(10, 20, 0), bottle(20, 30, 1000)),
			[][3]float64{{0, 10, 0}, {10, 20, 0}, {20, 30, 6}}, 1000, 0, nil},
		{"the last rate holds to the end of rain", plotOf(bottle(0, 10, 2000), bottle(10, 20, 4000)),
			[][3]float64{{0, 10, 12}, {10, 20, 24}, {20, 30, 24}}, 10000, 4000, result.Flags{"gap", "held", "collection_ended_early"}},
		{"a lost last bottle", plotOf(bottle(0, 20, 4000), lost(20, 30)),
			[][3]float64{{0, 20, 12}, {20, 30, 12}}, 6000, 2000, result.Flags{"gap", "held", "lost"}},
		{"the recession counts", plotOf(bottle(0, 30, 6000), bottle(30, 40, 500)),
			[][3]float64{{0, 30, 12}, {30, 40, 3}}, 6500, 0, nil},
		// 10 min falling from 200 mL/min to nothing
		{"a lost recession", plotOf(bottle(0, 30, 6000), lost(30, 40)),
			[][3]float64{{0, 30, 12}, {30, 40, 6}}, 7000, 1000, result.Flags{"gap", "interpolated", "lost"}},
		{"never ran off", plotOf(bottle(0, 15, 0), bottle(15, 30, 0)),
			[][3]float64{{0, 15, 0}, {15, 30, 0}}, 0, 0, result.Flags{"no_runoff"}},
		{"a trace is wet and has no volume", plotOf(bottle(0, 15, 0), experiment.Sample{StartMin: 15, EndMin: 30, Flag: experiment.FlagTrace}),
			[][3]float64{{0, 15, 0}, {15, 30, 0}}, 0, 0, nil},
		{"times that overlap", plotOf(bottle(0, 10, 2000), bottle(9, 30, 4000)),
			[][3]float64{{0, 10, 12}, {10, 30, 12}}, 6000, 0, result.Flags{"overlap"}},
		{"one time inside another", plotOf(bottle(0, 10, 2000), bottle(2, 4, 500), bottle(10, 30, 4000)),
			[][3]float64{{0, 10, 15}, {10, 30, 12}}, 6500, 0, result.Flags{"overlap"}},
	} {
		h := runoff(tt.plot, exact)
		if got := steps(&h); !slices.Equal(got, tt.want) {
			t.Errorf("%s: intervals %v, want %v", tt.name, got, tt.want)
		}
		near(t, tt.name+": volume", h.VolumeML, tt.volume, 1e-9)
		near(t, tt.name+": not caught", h.InterpolatedML+h.HeldML, tt.filled, 1e-9)
		if h.Flags.String() != tt.flags.String() {
			t.Errorf("%s: flags %q, want %q", tt.name, h.Flags, tt.flags)
		}
	}
}

// Times are noted to a second or so: what differs by less than twice the error
// of two bottle changes (2.8 s), or of an onset and a change (10.2 s), is the same.
func TestSlack(t *testing.T) {
	const second = 1.0 / 60
	p := plotOf(bottle(10+5*second, 20, 2000), bottle(20+2*second, 30+2*second, 4000))
	p.Onset, p.OnsetMin = experiment.OnsetNoted, 10
	h := runoff(p, def)
	if len(h.Flags) > 0 || len(h.Intervals) != 4 || h.Intervals[0].Kind != hydrograph.NoFlow || h.Intervals[2].Flags.String() != "bottle_change" {
		t.Errorf("flags %v, intervals %+v", h.Flags, h.Intervals)
	}
	// 2 s at (200.84 + 400)/2 mL/min
	near(t, "filled", h.InterpolatedML, 2*second*(2000/(10-5*second)+400)/2, 1e-9)
	near(t, "final rate", h.FinalRate().Value.V, 24, 1e-9)
	if q := h.Depth(); len(q.Flags) > 0 {
		t.Errorf("flags of the depth %v", q.Flags)
	}
	rows := h.Steps(nil)
	near(t, "infiltration of the last bottle", rows[3].InfiltrationMMH.V, 36, 1e-9)
	early := runoff(plotOf(bottle(0, 15, 0), bottle(15, 30-2*second, 0)), def)
	if e := early.TimeToRunoff(hydrograph.MethodFirstBottle); e.Value.V != 30 || early.Flags.Has("collection_ended_early") {
		t.Errorf("dry to the end: %+v, flags %v", e, early.Flags)
	}
}

func TestStatus(t *testing.T) {
	none := plotOf()
	none.Onset = experiment.OnsetNone
	contradicted := plotOf(bottle(0, 30, 500))
	contradicted.Onset = experiment.OnsetNone
	for _, tt := range []struct {
		name   string
		plot   *experiment.Plot
		status hydrograph.Status
		flag   string
	}{
		{"nothing is known", plotOf(), hydrograph.NoData, "no_bottles"},
		{"all lost", plotOf(lost(0, 30)), hydrograph.NoData, "no_bottles"},
		{"none, by observation", none, hydrograph.Dry, "no_runoff"},
		{"dry bottles", plotOf(bottle(0, 30, 0)), hydrograph.Dry, "no_runoff"},
		{"flow", plotOf(bottle(0, 30, 10)), hydrograph.Flowing, ""},
		{"noted as none, and yet water", contradicted, hydrograph.Flowing, "water_without_onset"},
	} {
		h := runoff(tt.plot, def)
		if h.Status != tt.status || tt.flag != "" && !h.Flags.Has(tt.flag) {
			t.Errorf("%s: status %v, flags %v", tt.name, h.Status, h.Flags)
		}
	}
}

// A weighed bottle at 20 Cel (998.2071 kg/m3): 600 g gross, 100 g tare, 10 g dry
// sediment. Water 490 g are 490.8801 mL, grains 10/2.65 = 3.7736 mL.
func TestWeighedBottles(t *testing.T) {
	weighed := func(start, end, gross float64) experiment.Sample {
		return experiment.Sample{StartMin: start, EndMin: end, GrossG: quantity.Some(gross), TareG: quantity.Some(100)}
	}
	own := weighed(0, 30, 600)
	own.SedimentG = quantity.Some(10)
	dish := own
	dish.SedimentG, dish.SedimentGrossG, dish.SedimentTareG = quantity.None(), quantity.Some(35), quantity.Some(25)
	stated := weighed(0, 30, 600)
	stated.ConcentrationGL = quantity.Some(10 / 0.4946537)
	pool := experiment.Sample{StartMin: 0, EndMin: 30, SedimentG: quantity.Some(10)}
	hot := weighed(0, 30, 600)
	hot.WaterTempC = quantity.Some(-3)
	for _, tt := range []struct {
		name    string
		samples []experiment.Sample
		temp    quantity.Optional
		ml      float64
		flag    string
	}{
		{"sediment of its own", []experiment.Sample{own}, quantity.Some(20), 494.6537, ""},
		{"sediment on a dish", []experiment.Sample{dish}, quantity.Some(20), 494.6537, ""},
		{"a stated concentration", []experiment.Sample{stated}, quantity.Some(20), 494.6537, ""},
		{"a pool over two bottles", []experiment.Sample{weighed(0, 15, 350), pool, weighed(15, 30, 350)}, quantity.Some(20), 494.6537, ""},
		{"no temperature: 20 Cel", []experiment.Sample{own}, quantity.None(), 494.6537, "temperature_assumed"},
		// 30 Cel: 995.6488 kg/m3 (Tanaka et al. 2001): 490/0.9956488 + 3.7736
		{"warm water", []experiment.Sample{own}, quantity.Some(30), 492.1414 + 3.7736, ""},
		{"sediment not known", []experiment.Sample{weighed(0, 30, 600)}, quantity.Some(20), 500 / 0.9982071, "sediment_not_deducted"},
		{"a temperature that cannot be", []experiment.Sample{hot}, quantity.Some(25), 500 / 0.9982071, "temperature_out_of_range"},
	} {
		run := experiment.Run{RainMin: 30, WaterTempC: tt.temp}
		h := hydrograph.Of(&run, plotOf(tt.samples...), rain, def, hydrograph.DefaultSettings())
		near(t, tt.name, h.VolumeML, tt.ml, 1e-3)
		if tt.flag != "" && !h.Flags.Has(tt.flag) {
			t.Errorf("%s: flags %v, want %s", tt.name, h.Flags, tt.flag)
		}
	}
	// Two masses of 0.1 g each: sqrt(2) x 0.1 g / 0.9982071 g/mL.
	h := hydrograph.Of(&experiment.Run{RainMin: 30, WaterTempC: quantity.Some(20)}, plotOf(own), rain, def, hydrograph.DefaultSettings())
	near(t, "u of a weighed volume", h.Intervals[0].UVolumeML, 0.141675, 1e-6)
	// 0.2 g are within twice that error: the bottle is dry.
	dry := runoff(plotOf(weighed(0, 30, 100.2)), def)
	if dry.Status != hydrograph.Dry {
		t.Errorf("a bottle 0.2 g over its tare has status %v, want Dry", dry.Status)
	}
	estimated := hydrograph.Of(&experiment.Run{RainMin: 30, WaterTempC: quantity.Some(20)},
		plotOf(weighed(0, 15, 600), func() experiment.Sample { s := weighed(15, 30, 600); s.SedimentG = quantity.Some(10); return s }()),
		rain, def, hydrograph.DefaultSettings())
	near(t, "the like of its neighbour", estimated.VolumeML, 2*494.6537, 1e-3)
	if !estimated.Flags.Has("sediment_estimated") {
		t.Errorf("flags %v", estimated.Flags)
	}
}

// Drainage begins when it begins, and is not held to the end of rain.
func TestDrainage(t *testing.T) {
	s := bottle(20, 25, 500)
	s.Stream = experiment.Drainage
	p := plotOf(s, bottle(0, 30, 6000))
	h := hydrograph.OfDrainage(&experiment.Run{RainMin: 30}, p, rain, exact, hydrograph.DefaultSettings())
	if got := steps(&h); !slices.Equal(got, [][3]float64{{0, 20, 0}, {20, 25, 6}}) {
		t.Errorf("intervals %v", got)
	}
	rows := h.AppendDrainageRow(nil, result.PlotRow{Level: 0.95})
	if len(rows) != 1 || rows[0].Metric != result.DrainageDepth || rows[0].Value.V != 0.5 || !rows[0].Flags.Has("collection_ended_early") {
		t.Errorf("rows %+v", rows)
	}
	none := hydrograph.OfDrainage(&experiment.Run{RainMin: 30}, plotOf(bottle(0, 30, 1)), rain, exact, hydrograph.DefaultSettings())
	if rows := none.AppendDrainageRow(nil, result.PlotRow{}); rows != nil {
		t.Errorf("a drainage row without drainage: %+v", rows)
	}
}
