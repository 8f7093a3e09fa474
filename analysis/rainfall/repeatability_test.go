package rainfall_test

import (
	"math"
	"testing"
	"time"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/rainfall"
	"sheetwash/analysis/result"
)

// catch is a calibration of "rig" with one can at west and one at east, caught in an hour, so that depths are mm/h.
func catch(id string, date time.Time, west, east float64) []experiment.Can {
	return []experiment.Can{
		{Calibration: id, Simulator: "rig", Date: date, Position: "west", DepthMM: west, DurationMin: 60},
		{Calibration: id, Simulator: "rig", Date: date, Position: "east", DepthMM: east, DurationMin: 60},
	}
}

// Spatial means of 58, 60 and 62 mm/h: m = 60, s = 2, r = 1/30 with 2 degrees of freedom. Under the
// newest, west has 66 mm/h, so that u_between = sqrt(2) 66/30 = 3.1113 mm/h, common to the run. In 30 min
// 33 mm fall, u = 1.5556 mm with exact readings, and t(0.975; 2) = 4.3027 (t table of the NIST/SEMATECH handbook, 1.3.6.7.2).
func TestRepeatability(t *testing.T) {
	var cans []experiment.Can
	for i, c := range [][2]float64{{60, 56}, {63, 57}, {66, 58}} {
		cans = append(cans, catch(string(rune('a'+i)), may.AddDate(0, 0, i), c[0], c[1])...)
	}
	all := rainfall.Calibrations("d", cans)
	run := experiment.Run{RainMin: 30, Simulator: "rig", Started: may.AddDate(0, 1, 0)}
	plot := experiment.Plot{Position: "west", AreaM2: 1}
	r, ok := rainfall.ForPlot("d", &run, &plot, all, experiment.ErrorModel{})
	if !ok || r.Calibration != "c" || r.Flags.Has("repeatability_unknown") {
		t.Fatalf("%v %q %v", ok, r.Calibration, r.Flags)
	}
	near(t, "between", r.UBetween, math.Sqrt2*66/30, 1e-12)
	near(t, "shared", r.UShared, math.Sqrt2*66/30, 1e-12)
	near(t, "degrees of freedom", r.DFShared, 2, 1e-12)
	near(t, "own", r.U, 0, 0)
	e := rainfall.AppendRows(nil, result.PlotRow{Level: 0.95}, &r)[0]
	near(t, "depth", e.Value.V, 33, 1e-12)
	near(t, "u of the depth", e.U.V, math.Sqrt2*33/30, 1e-12)
	near(t, "end of the interval", e.High.V, 33+4.302653*math.Sqrt2*33/30, 1e-5)
	near(t, "shared part", e.UShared.V, math.Sqrt2*33/30, 1e-12)

	// A stated repeatability of 2 % goes before: sqrt(2) 0.02 66, as known.
	r.Under(&run, &experiment.Rig{RepeatabilityRel: quantity.Some(0.02)})
	near(t, "stated between", r.UShared, math.Sqrt2*0.02*66, 1e-12)
	near(t, "stated degrees of freedom", r.DFShared, 0, 0)
	near(t, "stated depth", r.UDepthShared, math.Sqrt2*0.02*33, 1e-12)
}

// What is not another draw of the simulator adds nothing: one calibration says nothing of how
// it repeats, an undated one is in no chart, and a gauge that logged the run itself knows its level.
func TestRepeatabilityUnknown(t *testing.T) {
	plot := experiment.Plot{Position: "west", AreaM2: 1}
	run := experiment.Run{RainMin: 30, Simulator: "rig", Started: may.AddDate(0, 1, 0)}
	one := rainfall.Calibrations("d", catch("a", may, 60, 56))
	undated := rainfall.Calibrations("d", append(catch("a", time.Time{}, 60, 56), catch("b", time.Time{}, 66, 58)...))
	for name, cals := range map[string][]rainfall.Calibration{"one": one, "undated": undated} {
		r, _ := rainfall.ForPlot("d", &run, &plot, cals, experiment.ErrorModel{})
		if r.UBetween != 0 || !r.Flags.Has("repeatability_unknown") {
			t.Errorf("%s: %v %v", name, r.UBetween, r.Flags)
		}
		r.Under(&run, &experiment.Rig{RepeatabilityRel: quantity.Some(0.02)})
		if r.Flags.Has("repeatability_unknown") || r.UBetween == 0 {
			t.Errorf("%s, stated: %v %v", name, r.UBetween, r.Flags)
		}
	}
	// Of two calibrations of 58 and 62 mm/h the distance over 2/sqrt(pi) stands for s: 4 sqrt(pi)/2 = 3.5449, over 60.
	pair := rainfall.Calibrations("d", append(catch("a", may, 60, 56), catch("b", may.AddDate(0, 0, 1), 66, 58)...))
	if by, ok := rainfall.RepeatabilityOf(&pair[1], pair); !ok || by.DF != 1 || math.Abs(by.Rel-2*math.Sqrt(math.Pi)/60) > 1e-12 {
		t.Errorf("of two: %+v %v", by, ok)
	}
	two := rainfall.Calibrations("d", append(catch("a", may, 60, 56), catch("b", may.AddDate(0, 0, 1), 66, 58)...))
	stated := plot
	stated.IntensityMMH = quantity.Some(61)
	r, _ := rainfall.ForPlot("d", &run, &stated, two, experiment.ErrorModel{})
	if r.UBetween != 0 || r.Flags.Has("repeatability_unknown") {
		t.Errorf("stated: %v %v", r.UBetween, r.Flags)
	}
}
