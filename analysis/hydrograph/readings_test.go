package hydrograph_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/hydrograph"
	"sheetwash/analysis/quantity"
)

// logged bins readings of a function of time (min) every everyS seconds from
// fromMin to toMin.
func logged(c experiment.Channel, binMin, everyS, fromMin, toMin float64, f func(min float64) float64) experiment.Series {
	s := experiment.Series{Channel: c, BinMin: binMin, FirstMin: fromMin}
	for k := 0; ; k++ {
		t := fromMin + float64(k)*everyS/60
		if t > toMin+1e-9 {
			return s
		}
		v := f(t)
		i := int32(math.Floor(t/binMin + 1e-9))
		if n := len(s.Bins); n == 0 || s.Bins[n-1].Index != i {
			s.Bins = append(s.Bins, experiment.Bin{Index: i})
		}
		b := &s.Bins[len(s.Bins)-1]
		d := t - float64(i)*binMin
		b.N++
		b.SumT, b.SumV, b.SumTT, b.SumTV = b.SumT+d, b.SumV+v, b.SumTT+d*d, b.SumTV+d*v
		s.N, s.LastMin = s.N+1, t
	}
}

func loggedPlot(s ...experiment.Series) *experiment.Plot {
	return &experiment.Plot{ID: "p", AreaM2: 1, Series: s}
}

// ramp is the running volume of a rate that is 0 until 10 min and rises by
// 60 mL/min each min to 600 mL/min at 20 min: 30 (t-10)^2, then 3000 + 600 (t-20).
func ramp(t float64) float64 {
	switch {
	case t < 10:
		return 0
	case t < 20:
		return 30 * (t - 10) * (t - 10)
	}
	return 3000 + 600*(t-20)
}

// A running volume at 1 Hz. The least-squares slope over a minute of a parabola
// is its derivative at the middle, so from 10 to 11 min the rate is
// 60 x 0.5 = 30 mL/min = 1.8 mm/h (readings at full seconds are centred half a
// second early: 29.5). Total 3000 + 6000 mL.
func TestRunningVolume(t *testing.T) {
	for _, binMin := range []float64{1.0 / 60, 1.0 / 12, 0.25, 1} {
		p := loggedPlot(logged(experiment.RunoffVolume, binMin, 1, 0, 30, ramp))
		h := runoff(p, def)
		if !h.FromReadings || h.Status != hydrograph.Flowing || len(h.Intervals) != 30 {
			t.Fatalf("bins of %v min: %d intervals, status %v", binMin, len(h.Intervals), h.Status)
		}
		near(t, "rate at the onset", h.Intervals[10].RateMMH, 0.06*29.5, 1e-6)
		near(t, "rate on the limb", h.Intervals[15].RateMMH, 0.06*329.5, 1e-6)
		near(t, "steady rate", h.Intervals[25].RateMMH, 36, 1e-6)
		near(t, "total", h.VolumeML, 9000, 10)
		near(t, "final rate", h.FinalRate().Value.V, 36, 1e-6)
		// 3 mm/h = 50 mL/min at 10 min 50 s
		e := h.TimeToRunoff(hydrograph.MethodThreshold)
		near(t, "threshold", e.Value.V, 10+50.0/60, 0.03)
		if h.HeadlineMethod() != hydrograph.MethodThreshold {
			t.Errorf("headline %s", h.HeadlineMethod())
		}
	}
}

// A running mass of clear water at 20 Cel (Tanaka et al. 2001, table: 998.2067
// kg/m3): 998.2067 g are 1000 mL. With 100 g/L
// of sediment a litre of suspension weighs 100 + 998.2067 (1 - 100/2650) g.
func TestRunningMass(t *testing.T) {
	run := experiment.Run{RainMin: 30, WaterTempC: quantity.Some(20)}
	clear := loggedPlot(logged(experiment.RunoffMass, 0.25, 1, 0, 30, func(t float64) float64 { return 5000 + 300*t }))
	h := hydrograph.Of(&run, clear, rain, def, hydrograph.DefaultSettings())
	near(t, "clear", h.VolumeML, 300*30/0.9982067, 1e-3)
	turbid := loggedPlot(clear.Series...)
	turbid.Samples = []experiment.Sample{{StartMin: 10, EndMin: 11, VolumeML: quantity.Some(300 / (0.1 + 0.9982067*(1-100.0/2650))), ConcentrationGL: quantity.Some(100)}}
	h = hydrograph.Of(&run, turbid, rain, def, hydrograph.DefaultSettings())
	near(t, "turbid", h.VolumeML, 300*30/(0.1+0.9982067*(1-100.0/2650)), 1e-3)
	if h.Flags.Has("readings_disagree") {
		t.Errorf("flags %v", h.Flags)
	}
	turbid.Samples[0].VolumeML = quantity.Some(330)
	h = hydrograph.Of(&run, turbid, rain, def, hydrograph.DefaultSettings())
	if !h.FromReadings || !h.Flags.Has("readings_disagree") {
		t.Errorf("10 %% apart: %v", h.Flags)
	}
}

func TestRateChannels(t *testing.T) {
	rate := func(t float64) float64 { return 36 }
	mmh := runoff(loggedPlot(logged(experiment.RunoffRate, 0.25, 5, 0, 30, rate)), def)
	near(t, "mm/h", mmh.VolumeML, 18000, 1e-6)
	s := logged(experiment.RunoffRate, 0.25, 5, 0, 30, func(float64) float64 { return 600 })
	s.VolumeRate = true
	mlmin := runoff(loggedPlot(s), def)
	near(t, "mL/min", mlmin.VolumeML, 18000, 1e-6)
	near(t, "peak", mlmin.PeakRate().Value.V, 36, 1e-9)
	// A reading every 5 min: the mean of two stands between them.
	sparse := runoff(loggedPlot(logged(experiment.RunoffRate, 0.25, 300, 0, 30, func(t float64) float64 { return t })), def)
	near(t, "sparse", sparse.VolumeML, 15*0.5*1000, 1e-6)
	if len(sparse.Intervals) != 6 {
		t.Errorf("%d intervals, want 6", len(sparse.Intervals))
	}
	total := runoff(loggedPlot(logged(experiment.RunoffVolume, 0.25, 300, 0, 30, ramp)), def)
	near(t, "sparse total", total.VolumeML, 9000, 1e-6)
}

// A logger that was silent from 12 to 18 min: a running total carried on, a rate
// is interpolated.
func TestSilence(t *testing.T) {
	silent := func(c experiment.Channel, f func(float64) float64) experiment.Series {
		s := logged(c, 0.25, 1, 0, 30, f)
		var kept []experiment.Bin
		for _, b := range s.Bins {
			if b.Index < 48 || b.Index >= 72 {
				kept = append(kept, b)
			} else {
				s.N -= int64(b.N)
			}
		}
		s.Bins = kept
		return s
	}
	h := runoff(loggedPlot(silent(experiment.RunoffVolume, ramp)), def)
	near(t, "total over the silence", h.VolumeML, 9000, 15)
	if !h.Flags.Has("gap") || h.Flags.Has("interpolated") || h.InterpolatedML != 0 {
		t.Errorf("flags %v", h.Flags)
	}
	h = runoff(loggedPlot(silent(experiment.RunoffRate, func(float64) float64 { return 36 })), def)
	near(t, "rate over the silence", h.VolumeML, 18000, 1e-6)
	near(t, "interpolated", h.InterpolatedML, 3600, 1e-6)
	if !h.Flags.Has("interpolated") {
		t.Errorf("flags %v", h.Flags)
	}
}

// At the end of rain the rate falls within seconds: 600 mL/min until 30 min, then
// 600 exp(-(t-30)/0.2). Over the minute after it the least-squares slope is
// 12 x 120 (0.2/2 - 0.2^2) = 86 mL of the 120 mL that ran off; the volumes still add up to what the total gained,
// 6 x 600 + 120 (1 - exp(-30)) = 3720 mL, and so do those of each half.
func TestTotalOfBentCourse(t *testing.T) {
	f := func(t float64) float64 {
		switch {
		case t < 24:
			return 0
		case t < 30:
			return 600 * (t - 24)
		}
		return 3600 + 120*(1-math.Exp(-(t-30)/0.2))
	}
	for _, step := range []float64{1, 2, 5} {
		h := runoff(loggedPlot(logged(experiment.RunoffMass, 0.25, step, 0, 36, f)), def)
		near(t, "total", h.VolumeML/3720, 1/0.9982067, 0.002) // g of water at 20 Cel
	}
}

// A tank of 700 mL at 450 mL/min is emptied every 93 s: only the two or three bins
// of 15 s about each fall are interpolated, a share of 0.32 to 0.48.
func TestSmallTank(t *testing.T) {
	h := runoff(loggedPlot(logged(experiment.RunoffVolume, 0.25, 2, 0, 30, func(t float64) float64 { return math.Mod(450*t, 700) })), def)
	near(t, "total", h.VolumeML, 13500, 135)
	if share := h.InterpolatedML / h.VolumeML; share > 0.48 {
		t.Errorf("interpolated share %v", share)
	}
}

// The container was emptied at 15.5 min: the window is interpolated, and the
// total of a steady 300 mL/min stays.
func TestEmptied(t *testing.T) {
	s := logged(experiment.RunoffVolume, 0.25, 1, 0, 30, func(t float64) float64 {
		if t > 15.5 {
			return 300 * (t - 15.5)
		}
		return 300 * t
	})
	h := runoff(loggedPlot(s), def)
	near(t, "total", h.VolumeML, 9000, 1)
	if !h.Flags.Has("reset") || !h.Flags.Has("interpolated") {
		t.Errorf("flags %v", h.Flags)
	}
}

// A logger that stopped at 20 min leaves its rate to hold; one that started
// before the rain counts from the start of rain on.
func TestLoggerSpan(t *testing.T) {
	h := runoff(loggedPlot(logged(experiment.RunoffVolume, 0.25, 1, 0, 20, func(t float64) float64 { return 300 * t })), def)
	near(t, "held", h.VolumeML, 9000, 1)
	near(t, "share held", h.HeldML, 3000, 1)
	if !h.Flags.Has("collection_ended_early") {
		t.Errorf("flags %v", h.Flags)
	}
	h = runoff(loggedPlot(logged(experiment.RunoffVolume, 0.25, 1, -5, 30, func(t float64) float64 { return 300 * (t + 5) })), def)
	near(t, "before the rain", h.VolumeML, 9000, 1)
	// Bottles over the whole run beat a logger that ran for a third of it.
	p := loggedPlot(logged(experiment.RunoffVolume, 0.25, 1, 0, 10, func(t float64) float64 { return 300 * t }))
	p.Samples = []experiment.Sample{bottle(0, 15, 1000), bottle(15, 30, 2000)}
	if h := runoff(p, def); h.FromReadings || h.VolumeML != 3000 {
		t.Errorf("from readings %v: %v mL", h.FromReadings, h.VolumeML)
	}
}

// Emptying a tank is no scatter of the readings: beside a tank that was never
// emptied, the same balance gives the same error of every other window.
func TestEmptiedKeepsItsError(t *testing.T) {
	tank := func(emptiedMin float64) hydrograph.Hydrograph {
		r := rand.New(rand.NewPCG(3, 4))
		return runoff(loggedPlot(logged(experiment.RunoffMass, 1.0/12, 1, 0, 30, func(t float64) float64 {
			v := ramp(t) + r.NormFloat64()
			if t > emptiedMin {
				v -= ramp(emptiedMin)
			}
			return v
		})), def)
	}
	kept, emptied := tank(40), tank(25.3)
	if !emptied.Flags.Has("reset") || emptied.Status != hydrograph.Flowing {
		t.Fatalf("flags %v, status %v", emptied.Flags, emptied.Status)
	}
	near(t, "total", emptied.VolumeML, kept.VolumeML, 5)
	for i, iv := range emptied.Intervals[:20] {
		near(t, "error", iv.URateMMH, kept.Intervals[i].URateMMH, 0.2*kept.Intervals[i].URateMMH)
	}
	e := emptied.TimeToRunoff(hydrograph.MethodThreshold)
	near(t, "onset", e.Value.V, kept.TimeToRunoff(hydrograph.MethodThreshold).Value.V, 1e-9)
}

// A balance read once a minute that trembles by 3 g and drifts by 0.3 g/min has
// not seen runoff, and none of its falls is an emptied tank. The error of its
// rates is that of its tremor: sqrt(2) x 3 g in a minute on 1 m2, 0.25 mm/h.
func TestTremblingOnceAMinute(t *testing.T) {
	for seed := range uint64(50) {
		r := rand.New(rand.NewPCG(seed, 7))
		h := runoff(loggedPlot(logged(experiment.RunoffMass, 1, 60, 0, 36, func(t float64) float64 { return math.Round(0.3*t + 3*r.NormFloat64()) })), def)
		if h.Status != hydrograph.Dry || h.Flags.Has("reset") {
			t.Errorf("seed %d: status %v, flags %v, %v mL", seed, h.Status, h.Flags, h.VolumeML)
		}
		near(t, "error", h.Intervals[3].URateMMH, 0.25, 0.15)
		near(t, "total", h.VolumeML, 0.3*36, 20)
	}
}

// A balance that only trembles has not seen runoff.
func TestTrembling(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	s := logged(experiment.RunoffMass, 0.25, 1, 0, 30, func(float64) float64 { return 800 + r.NormFloat64() })
	h := runoff(loggedPlot(s), def)
	if h.Status != hydrograph.Dry || math.Abs(h.VolumeML) > 20 {
		t.Errorf("status %v, %v mL, u %v", h.Status, h.VolumeML, h.UVolumeML)
	}
	e := h.TimeToRunoff(hydrograph.MethodThreshold)
	if e.Censored != "right" {
		t.Errorf("time to runoff %+v", e)
	}
}

// The slope of a window does not depend on how the readings were binned, on the
// zero of the balance, or on the order in which the bins' sums were added.
func TestSlopesDoNotDependOnBins(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tare := rapid.Float64Range(0, 1e5).Draw(t, "tare")
		rate := rapid.Float64Range(10, 900).Draw(t, "rate")
		bend := rapid.Float64Range(0, 20).Draw(t, "bend")
		f := func(t float64) float64 { return tare + rate*t + bend*t*t }
		fine := runoff(loggedPlot(logged(experiment.RunoffVolume, 1.0/12, 1, 0, 30, f)), def)
		coarse := runoff(loggedPlot(logged(experiment.RunoffVolume, 0.5, 1, 0, 30, f)), def)
		if len(fine.Intervals) != len(coarse.Intervals) {
			t.Fatalf("%d and %d intervals", len(fine.Intervals), len(coarse.Intervals))
		}
		for i := range fine.Intervals {
			a, b := fine.Intervals[i].RateMMH, coarse.Intervals[i].RateMMH
			if math.Abs(a-b) > 1e-6*(1+math.Abs(a)) {
				t.Fatalf("window %d: %v and %v mm/h", i, a, b)
			}
		}
	})
}
