package hydrograph_test

import (
	"math"
	"testing"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/hydrograph"
	"sheetwash/analysis/result"
)

// Three bottles of 10 min: 0, 4000 and 8000 mL on 1 m2.
//
// Readings: u = sqrt((0.005 V)^2 + 2^2): 20.0998 and 40.0500 mL; the empty
// bottle has none. One bottle change between wet bottles: 1 s at
// (400 + 800)/2 mL/min = 10 mL. Total: sqrt(20.0998^2 + 40.05^2 + 10^2) = 45.9130 mL.
// Depth 12 mm with area 0.5 %: sqrt(0.045913^2 + 0.06^2) = 0.0755505 mm.
func TestDepthAndCoefficient(t *testing.T) {
	h := runoff(plotOf(bottle(0, 10, 0), bottle(10, 20, 4000), bottle(20, 30, 8000)), def)
	near(t, "u(V)", h.UVolumeML, 45.9130, 1e-3)
	near(t, "bottle changes", h.UChangeML, 10, 1e-9)
	q := h.Depth()
	near(t, "Q", q.Value.V, 12, 1e-12)
	near(t, "u(Q)", q.U.V, 0.0755505, 1e-6)
	near(t, "Q low", q.Low.V, 12-1.959964*0.0755505, 1e-5)
	if q.UShared.OK || q.N != 3 || q.Censored != result.Observed {
		t.Errorf("depth %+v", q)
	}
	// C = 12/30; of its error, 0.4 x 0.9/30 = 0.012 is the intensity's.
	c := h.Coefficient()
	near(t, "C", c.Value.V, 0.4, 1e-12)
	near(t, "shared u(C)", c.UShared.V, 0.012, 1e-12)
	near(t, "u(C)", c.U.V, math.Hypot(0.012, 0.0755505/30), 1e-7)
	// F = 18 mm, u = sqrt(0.9^2 + 0.0755505^2), 0.9 of it shared.
	f := h.InfiltrationDepth()
	near(t, "F", f.Value.V, 18, 1e-12)
	near(t, "u(F)", f.U.V, math.Hypot(0.9, 0.0755505), 1e-7)
	near(t, "shared u(F)", f.UShared.V, 0.9, 0)
}

// The rate of the last bottle: 48 mm/h. Volume: 0.06 x 40.05 / 10 = 0.2403 mm/h;
// time: sqrt(2) s in 600 s of 48 mm/h = 0.113137 mm/h; together 0.2656. Area 0.24. The
// change before it misses 1 s of (24 + 48)/2 mm/h in 600 s: 0.06.
func TestRates(t *testing.T) {
	h := runoff(plotOf(bottle(0, 10, 0), bottle(10, 20, 4000), bottle(20, 30, 8000), bottle(30, 40, 100)), def)
	near(t, "independent u(q)", h.Intervals[2].URateMMH, math.Hypot(0.2403, 0.113137), 1e-5)
	for name, e := range map[string]result.Estimate{"final": h.FinalRate(), "peak": h.PeakRate()} {
		near(t, name, e.Value.V, 48, 1e-12)
		near(t, "u of "+name, e.U.V, math.Sqrt(0.2403*0.2403+0.113137*0.113137+0.06*0.06+0.24*0.24), 1e-5)
		if e.N != 1 {
			t.Errorf("%s of %d intervals", name, e.N)
		}
	}
	if p := h.PeakRate(); !p.Flags.Has("interval_min=10") {
		t.Errorf("flags of the peak %v", p.Flags)
	}
	// Two bottles of 5 min fill the last 10 min: (24 + 36)/2.
	two := runoff(plotOf(bottle(0, 20, 4000), bottle(20, 25, 2000), bottle(25, 30, 3000)), exact)
	near(t, "final rate of two bottles", two.FinalRate().Value.V, 30, 1e-12)
	// Bottles under 30 s do not count for the peak.
	short := runoff(plotOf(bottle(0, 29.8, 4000), bottle(29.8, 30, 2000)), exact)
	near(t, "peak of long enough bottles", short.PeakRate().Value.V, 0.06*4000/29.8, 1e-9)
	if e := runoff(plotOf(bottle(29.8, 30, 1)), exact); e.PeakRate().Value.OK || !e.PeakRate().Flags.Has("intervals_too_short") {
		t.Errorf("peak of a short bottle %+v", e.PeakRate())
	}
	// One bucket for rain and recession has no interval that ends by the end of rain.
	if e := runoff(plotOf(bottle(0, 40, 4000)), exact); e.FinalRate().Value.OK || !e.FinalRate().Flags.Has("no_interval_by_rain_end") {
		t.Errorf("final rate of a bucket %+v", e.FinalRate())
	}
}

func TestLowerBounds(t *testing.T) {
	for _, flag := range []experiment.Flag{experiment.FlagOverflow, experiment.FlagSpilled, experiment.FlagLeak} {
		h := runoff(plotOf(bottle(0, 20, 4000), flagged(bottle(20, 30, 6000), flag)), def)
		for name, e := range map[string]result.Estimate{"depth": h.Depth(), "coefficient": h.Coefficient(), "final": h.FinalRate(), "peak": h.PeakRate()} {
			if e.Censored != result.Right || e.High.OK || !e.Value.OK || !e.Low.OK {
				t.Errorf("%v: %s %+v, want a lower bound", flag, name, e)
			}
		}
		if f := h.InfiltrationDepth(); f.Censored != result.Left || f.Low.OK || !f.High.OK || !f.Flags.Has(flag.String()) {
			t.Errorf("%v: infiltration %+v, want an upper bound", flag, f)
		}
	}
}

// Values that cannot be are kept and flagged; those that do not exist say why.
func TestImpossibleAndMissing(t *testing.T) {
	h := runoff(plotOf(bottle(0, 30, 33000)), def)
	c, f := h.Coefficient(), h.InfiltrationDepth()
	near(t, "C", c.Value.V, 1.1, 1e-12)
	near(t, "F", f.Value.V, -3, 1e-12)
	if !c.Flags.Has("above_one") || !f.Flags.Has("negative") || !(c.High.V > 1.1) {
		t.Errorf("C %+v, F %+v", c, f)
	}
	near1 := runoff(plotOf(bottle(0, 30, 29700)), def)
	if c := near1.Coefficient(); !(c.High.V <= 1 && c.High.V > c.Value.V && c.Low.V > 0.9) {
		t.Errorf("a coefficient of 0.99 has the interval %v to %v", c.Low.V, c.High.V)
	}
	dry := runoff(plotOf(bottle(0, 30, 0)), def)
	for name, e := range map[string]result.Estimate{"depth": dry.Depth(), "coefficient": dry.Coefficient(), "final": dry.FinalRate(), "peak": dry.PeakRate()} {
		if !e.Value.OK || e.Value.V != 0 || !e.Flags.Has("no_runoff") || e.U.V != 0 {
			t.Errorf("%s of a dry plot %+v", name, e)
		}
	}
	none := runoff(plotOf(), def)
	for name, e := range map[string]result.Estimate{"depth": none.Depth(), "coefficient": none.Coefficient(), "infiltration": none.InfiltrationDepth(),
		"final": none.FinalRate(), "peak": none.PeakRate()} {
		if e.Value.OK || !e.Flags.Has("no_bottles") {
			t.Errorf("%s of nothing %+v", name, e)
		}
	}
	waterless := hydrograph.Of(&experiment.Run{RainMin: 30}, plotOf(bottle(0, 30, 1)), hydrograph.Rain{DurationMin: 30}, def, hydrograph.DefaultSettings())
	if c := waterless.Coefficient(); c.Value.OK || !c.Flags.Has("no_rain") {
		t.Errorf("coefficient without rain %+v", c)
	}
	if e := waterless.TimeToRunoff(hydrograph.MethodThreshold); e.Value.OK || !e.Flags.Has("no_rain") {
		t.Errorf("threshold without rain %+v", e)
	}
}

// A third of the water was not caught, and the depth says so. The gap lends
// weight 1 + 10/20 = 1.5 to both bottles: readings 1.5 x sqrt(10.198^2 + 30.0666^2);
// the rate lies anywhere between 200 and 600 mL/min: 10 x 400/sqrt(12) = 1154.70 mL;
// times of the bottles, sqrt(2) s in 600 s of the half that each lends:
// sqrt(1000^2 + 3000^2) x 0.00235702 = 7.4536 mL.
func TestGapError(t *testing.T) {
	h := runoff(plotOf(bottle(0, 10, 2000), bottle(20, 30, 6000)), def)
	read := 1.5 * math.Hypot(10.198, 30.0666)
	near(t, "u(V)", h.UVolumeML, math.Sqrt(read*read+1154.70*1154.70+7.4536*7.4536), 0.01)
	if q := h.Depth(); !q.Flags.Has("interpolated_share=0.333") {
		t.Errorf("flags %v", q.Flags)
	}
	held := runoff(plotOf(bottle(0, 10, 2000), bottle(10, 20, 4000)), exact)
	if q := held.Depth(); !q.Flags.Has("held_share=0.400") {
		t.Errorf("flags %v", q.Flags)
	}
	// The trend of 20 mL/min each min, carried on over the 10 min that were held
	// and half the bottle: 10 x 20 x (10 + 10)/2 = 2000 mL.
	near(t, "u of a held volume", held.UVolumeML, 2000, 1e-9)
}

func TestRunoffMinutes(t *testing.T) {
	p := plotOf(bottle(0, 10, 500), bottle(10, 30, 6000), bottle(30, 34, 50), bottle(34, 40, 0))
	p.Onset, p.OnsetMin = experiment.OnsetNoted, 7
	h := runoff(p, def)
	d, u, ok := h.RunoffMinutes()
	near(t, "duration", d, 27, 1e-12)
	near(t, "u", u, math.Hypot(5.0/60, 1.0/60), 1e-12)
	dry := runoff(plotOf(bottle(0, 30, 0)), def)
	if _, _, dryOK := dry.RunoffMinutes(); !ok || dryOK {
		t.Errorf("known %v, dry %v", ok, dryOK)
	}
}

func TestRows(t *testing.T) {
	h := runoff(plotOf(bottle(0, 10, 0), bottle(10, 20, 4000), bottle(20, 30, 8000), bottle(30, 40, 1000)), def)
	rows := h.AppendRows(nil, result.PlotRow{Subject: &result.Subject{Dataset: "d", Plot: "p"}, Level: 0.95})
	headlines := map[result.Metric]int{}
	for _, r := range rows {
		info, ok := r.Metric.Info()
		if !ok || r.Unit != info.SI || r.Dataset != "d" || r.Method == "" {
			t.Errorf("row %+v", r)
		}
		if r.Headline {
			headlines[r.Metric]++
		}
	}
	if len(rows) != 13 || len(headlines) != 9 {
		t.Errorf("%d rows, headlines %v", len(rows), headlines)
	}
	for m, n := range headlines {
		if n != 1 {
			t.Errorf("%s has %d headlines", m, n)
		}
	}
	iv := h.Steps(nil)
	near(t, "cumulative", iv[3].CumulativeMM, 13, 1e-12)
	near(t, "infiltration", iv[1].InfiltrationMMH.V, 36, 1e-12)
	if iv[3].InfiltrationMMH.OK || iv[3].IntensityMMH != 0 {
		t.Errorf("after the rain: %+v", iv[3])
	}
}
