package hydrograph_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis/analysistest"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/hydrograph"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

const inch = 25.4

func TestCurveNumberExamples(t *testing.T) {
	some := func(v float64, ok bool) float64 {
		if !ok {
			t.Errorf("no value")
		}
		return v
	}
	for _, e := range analysistest.Examples(t, "scs_runoff") {
		e.Check(t, some(hydrograph.DirectRunoff(inch*e.Number(t, "p"), e.Number(t, "cn"), hydrograph.Abstraction020))/inch, nil)
	}
	for _, e := range analysistest.Examples(t, "scs_s") {
		e.Check(t, some(hydrograph.Retention(e.Number(t, "cn")))/inch, nil)
	}
	for _, e := range analysistest.Examples(t, "scs_ia") {
		e.Check(t, some(hydrograph.InitialAbstraction(e.Number(t, "cn"), hydrograph.Abstraction020))/inch, nil)
	}
	for _, e := range analysistest.Examples(t, "scs_cn_from_pq") {
		s := some(hydrograph.RetentionOf(inch*e.Number(t, "p"), inch*e.Number(t, "q"), hydrograph.Abstraction020))
		e.Check(t, some(hydrograph.CurveNumberOf(s)), nil)
	}
	for _, e := range analysistest.Examples(t, "cn05_from_cn20") {
		e.Check(t, some(hydrograph.CurveNumber005(e.Number(t, "cn20"))), nil)
	}
}

func TestLossIndexExamples(t *testing.T) {
	for _, e := range analysistest.Examples(t, "phi_index") {
		var rain []hydrograph.RainStep
		for _, p := range e.Numbers(t, "rain_depth") {
			rain = append(rain, hydrograph.RainStep{Depth: p, Hours: e.Number(t, "dt_h")})
		}
		phi, ok := hydrograph.PhiIndex(rain, e.Number(t, "runoff"))
		if !ok {
			t.Errorf("%s: no value", e.ID)
		}
		e.Check(t, phi, nil)
	}
	for _, e := range analysistest.Examples(t, "w_index") {
		w, _ := hydrograph.WIndex(e.Number(t, "total_rain"), e.Number(t, "runoff"), e.Number(t, "storage"), e.Number(t, "duration_h"))
		e.Check(t, w, nil)
	}
	// 0.5 and 0 and 1.2 above a loss of 1.0 per interval.
	near(t, "excess", hydrograph.ExcessDepth([]float64{1.5, 0.9, 2.2}, 1), 1.7, 1e-12)
}

// The curve number goes back to the runoff that it was made of, at both ratios,
// whatever the unit; the phi index leaves the runoff that it was made of.
func TestLossesInvert(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.Float64Range(1, 200).Draw(t, "rain")
		q := p * rapid.Float64Range(0.001, 1).Draw(t, "share")
		for _, ratio := range []float64{hydrograph.Abstraction020, hydrograph.Abstraction005} {
			s, ok := hydrograph.RetentionOf(p, q, ratio)
			cn, fine := hydrograph.CurveNumberOf(s)
			back, known := hydrograph.DirectRunoff(p, cn, ratio)
			if !ok || !fine || !known || math.Abs(back-q) > 1e-6*p {
				t.Fatalf("rain %v, runoff %v at %v: CN %v gives %v", p, q, ratio, cn, back)
			}
			if in, _ := hydrograph.RetentionOf(p/inch, q/inch, ratio); math.Abs(in*inch-s) > 1e-9*(1+s) {
				t.Fatalf("retention %v mm, %v in", s, in)
			}
		}
		var rain []hydrograph.RainStep
		var depths []float64
		sum := 0.0
		for range rapid.IntRange(1, 8).Draw(t, "steps") {
			d := float64(rapid.IntRange(0, 50).Draw(t, "depth"))
			rain, depths = append(rain, hydrograph.RainStep{Depth: d, Hours: 0.25}), append(depths, d)
			sum += d
		}
		runoff := sum * rapid.Float64Range(0.01, 1).Draw(t, "runoff share")
		phi, ok := hydrograph.PhiIndex(rain, runoff)
		if sum > 0 && (!ok || math.Abs(hydrograph.ExcessDepth(depths, phi*0.25)-runoff) > 1e-9*sum) {
			t.Fatalf("phi %v of %v leaves %v, want %v", phi, depths, hydrograph.ExcessDepth(depths, phi*0.25), runoff)
		}
		if _, ok := hydrograph.PhiIndex(rain, sum+1); ok {
			t.Fatal("a loss index of more runoff than rain")
		}
	})
}

// lossPlot is a plot of 1 m2 under 30 min of 60 mm/h, 3 % shared, with bottles of 10 min.
func lossPlot(set func(*experiment.Plot), ml ...float64) hydrograph.Hydrograph {
	p := &experiment.Plot{ID: "p", AreaM2: 1}
	for i, v := range ml {
		p.Samples = append(p.Samples, experiment.Sample{StartMin: float64(10 * i), EndMin: float64(10*i + 10), VolumeML: quantity.Some(v)})
	}
	set(p)
	rain := hydrograph.Rain{IntensityMMH: 60, DurationMin: 30, DepthMM: 30, UDepthShared: 0.9}
	return hydrograph.Of(&experiment.Run{RainMin: 30}, p, rain, def, hydrograph.DefaultSettings())
}

// P = 30 and Q = 15 mm: S = 5 (30 + 30 - sqrt(900 + 2250)) = 19.3757 mm, CN = 92.9124; at 0.05: S = (3 +
// 14.25 - sqrt(203.0625 + 90)) / 0.005 = 26.1877 mm, CN = 90.6535 (worked by hand).
func TestCurveNumberOfPlot(t *testing.T) {
	h := lossPlot(func(*experiment.Plot) {}, 3000, 5000, 7000)
	e := h.CurveNumber(hydrograph.Abstraction020)
	near(t, "CN 0.20", e.Value.V, 92.9124, 1e-3)
	near(t, "CN 0.05", h.CurveNumber(hydrograph.Abstraction005).Value.V, 90.6535, 1e-3)
	if !(e.U.V > 0 && e.UShared.V < e.U.V && e.Low.V < e.Value.V && e.High.V > e.Value.V && e.High.V <= 100) {
		t.Errorf("%+v", e)
	}
	dry := lossPlot(func(p *experiment.Plot) { p.Onset = experiment.OnsetNone })
	e = dry.CurveNumber(hydrograph.Abstraction020)
	near(t, "CN of a dry plot", e.Value.V, 25400/(254+150.0), 1e-9)
	if e.Censored != result.Left || e.Low.OK || !e.Flags.Has("upper_bound") {
		t.Errorf("dry: %+v", e)
	}
	over := lossPlot(func(*experiment.Plot) {}, 10000, 11000, 12000)
	if e := over.CurveNumber(hydrograph.Abstraction020); e.Value.OK || !e.Flags.Has("above_one") {
		t.Errorf("more runoff than rain: %+v", e)
	}
	little := lossPlot(func(*experiment.Plot) {}, 0, 0, 30)
	if e := little.CurveNumber(hydrograph.Abstraction020); !e.Value.OK || !(e.Low.V < e.Value.V && e.Value.V < e.High.V) {
		t.Errorf("little runoff: %+v", e)
	}
	full := lossPlot(func(p *experiment.Plot) { p.Samples[2].Flag = experiment.FlagOverflow }, 3000, 5000, 7000)
	if e := full.CurveNumber(hydrograph.Abstraction020); e.Censored != result.Right || e.High.OK {
		t.Errorf("overflow: %+v", e)
	}
}

// 60 mm/h for 6 min are 6 mm; u = hypot(60/60 x 5/60, 6 x 3 %) = 0.19834 mm. Noted
// as none by 30 min: at least 30 mm.
func TestRainToRunoff(t *testing.T) {
	h := lossPlot(func(p *experiment.Plot) { p.Onset, p.OnsetMin = experiment.OnsetNoted, 6 }, 1000, 5000, 7000)
	e := h.RainToRunoff(hydrograph.MethodObserved)
	near(t, "rain to runoff", e.Value.V, 6, 1e-12)
	near(t, "u", e.U.V, math.Hypot(5.0/60, 0.18), 1e-9)
	near(t, "shared", e.UShared.V, 0.18, 1e-9)
	h = lossPlot(func(p *experiment.Plot) { p.Onset = experiment.OnsetNone })
	if e := h.RainToRunoff(hydrograph.MethodObserved); e.Censored != result.Right || e.Value.V != 30 {
		t.Errorf("none: %+v", e)
	}
	h = lossPlot(func(*experiment.Plot) {}, 0, 5000, 7000)
	if e := h.RainToRunoff(hydrograph.MethodFirstBottle); e.Censored != result.Interval || e.Value.V != 15 || !(e.Low.V < 10 && e.High.V > 20) {
		t.Errorf("first bottle: %+v", e)
	}
}

// Rain of 30 mm in two steps of 15 min, 20 and 10 mm, and 12 mm of runoff: phi = (20 - 12) / 0.25 h
// = 32 mm/h would be below the 40 mm/h of the second step, so both exceed it: (30 - 12) / 0.5 h = 36 mm/h. W =
// 18 mm / 0.5 h.
func TestLossesOfVaryingRain(t *testing.T) {
	p := &experiment.Plot{ID: "p", AreaM2: 1, Samples: []experiment.Sample{{EndMin: 30, VolumeML: quantity.Some(12000)}}}
	rain := hydrograph.Rain{IntensityMMH: 60, DurationMin: 30, DepthMM: 30, UDepthShared: 0.9, EdgesMin: []float64{0, 15, 30}, RatesMMH: []float64{80, 40}}
	h := hydrograph.Of(&experiment.Run{RainMin: 30}, p, rain, def, hydrograph.DefaultSettings())
	rows := map[result.Metric]result.PlotRow{}
	for _, r := range h.AppendRows(nil, result.PlotRow{Subject: &result.Subject{}, Level: 0.95}) {
		rows[r.Metric] = r
	}
	near(t, "phi", rows[result.PhiIndex].Value.V, 36, 1e-9)
	near(t, "W", rows[result.WIndex].Value.V, 36, 1e-9)
	near(t, "u(W)", rows[result.WIndex].U.V, 2*math.Sqrt(0.81+math.Pow(0.06, 2)+math.Pow(0.06, 2)+math.Pow(0.002, 2)), 1e-3)
	if u := rows[result.PhiIndex].U.V; !(u > 1.5 && u < 2.2) {
		t.Errorf("u(phi) = %v", u)
	}
}

// Infiltration is rain minus runoff by definition, as a depth and as a rate, and keeps its sign: a small negative
// is flagged, never clipped. Depths do not depend on the size of the plot whose bottles grow with it, nor
// coefficients on the unit of depth. Cumulative runoff never falls.
func TestInfiltrationIsRainMinusRunoff(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var ml []float64
		for range 6 {
			ml = append(ml, float64(rapid.IntRange(0, 9000).Draw(t, "mL")))
		}
		size := rapid.SampledFrom([]float64{1, 0.25, 0.09290304}).Draw(t, "area")
		depth := rapid.Float64Range(5, 60).Draw(t, "rain")
		of := func(area, f float64) hydrograph.Hydrograph {
			p := &experiment.Plot{ID: "p", AreaM2: area}
			for i, v := range ml {
				p.Samples = append(p.Samples, experiment.Sample{StartMin: float64(5 * i), EndMin: float64(5*i + 5), VolumeML: quantity.Some(f * area * v)})
			}
			rain := hydrograph.Rain{IntensityMMH: 2 * f * depth, DurationMin: 30, DepthMM: f * depth, UDepthShared: 0.03 * f * depth}
			return hydrograph.Of(&experiment.Run{RainMin: 30}, p, rain, def, hydrograph.DefaultSettings())
		}
		h := of(1, 1)
		q, f := h.Depth(), h.InfiltrationDepth()
		if math.Abs(f.Value.V-(depth-q.Value.V)) > 1e-9 || (f.Value.V < 0) != f.Flags.Has("negative") {
			t.Fatalf("infiltration %v of %v mm of rain and %v of runoff (%v)", f.Value, depth, q.Value, f.Flags)
		}
		last := 0.0
		for _, s := range h.Steps(nil) {
			if s.InfiltrationMMH.OK && math.Abs(s.InfiltrationMMH.V-(s.IntensityMMH-s.RateMMH)) > 1e-9 {
				t.Fatalf("step %+v", s)
			}
			if s.CumulativeMM < last {
				t.Fatalf("cumulative runoff falls to %v", s.CumulativeMM)
			}
			last = s.CumulativeMM
		}
		small, inches := of(size, 1), of(1, 1/inch)
		if d := small.Depth(); math.Abs(d.Value.V-q.Value.V) > 1e-9 {
			t.Fatalf("%v mm on 1 m2, %v on %v m2", q.Value.V, d.Value.V, size)
		}
		a, b := h.Coefficient(), inches.Coefficient()
		if math.Abs(a.Value.V-b.Value.V) > 1e-12 || math.Abs(inches.InfiltrationDepth().Value.V*inch-f.Value.V) > 1e-9 {
			t.Fatalf("coefficient %v, in inches %v", a.Value, b.Value)
		}
	})
}
