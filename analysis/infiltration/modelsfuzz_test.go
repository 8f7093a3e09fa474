package infiltration_test

import (
	"math"
	"testing"

	"sheetwash/analysis/infiltration"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// FuzzModels fits whatever curve comes: the steady rate and every one of the seven models give a
// value within its interval, or say why not; nothing that is not a number leaves them.
func FuzzModels(f *testing.F) {
	f.Add([]byte{100, 120, 140, 150, 155, 158}, 60.0, 30.0, 0.5, 0.0, true)
	f.Add([]byte{200, 200, 200, 200}, 60.0, 30.0, 0.0, 0.0, false)
	f.Add([]byte{0, 0, 255, 1, 0, 255, 254}, 90.0, 45.0, 2.0, 5.0, true)
	f.Add([]byte{200, 150, 120, 80, 60, 50, 45, 42, 41, 40}, 1e-3, 1e4, 1e-9, 0.0, true)
	f.Add([]byte{30}, 120.0, 20.0, 1e5, 19.0, true)
	f.Add([]byte{}, 120.0, 20.0, 1.0, 3.0, false)
	f.Add([]byte{10, 20, 30}, math.Inf(1), math.NaN(), -1.0, -2.0, true)
	f.Fuzz(func(t *testing.T, rates []byte, intensity, minutes, u, onset float64, noted bool) {
		in := infiltration.Input{IntensityMMH: intensity, UIntensity: u / 10, RainMin: minutes, RanOff: true}
		if noted {
			in.OnsetMin, in.UOnsetMin = quantity.Some(onset), 0.1
		}
		rates = rates[:min(len(rates), 60)]
		length := minutes / float64(len(rates)+1)
		for n, b := range rates {
			in.Intervals = append(in.Intervals, infiltration.Interval{
				StartMin: float64(n) * length, EndMin: float64(n+1) * length, RateMMH: intensity * float64(b) / 200, U: u, LowerBound: b == 255,
			})
		}
		a := infiltration.Steady(in)
		within(t, "final_window", &a.Window)
		within(t, "horton", &a.Horton)
		c := infiltration.Models(in)
		if len(c.Fits) != 7 {
			t.Fatalf("%d models", len(c.Fits))
		}
		within(t, "average", &c.Average)
		within(t, "sorptivity", &c.Sorptivity)
		for _, p := range c.Rows() {
			within(t, p.Model+" "+p.Name, &result.Estimate{Value: p.Value, U: p.U, Low: p.Low, High: p.High, Flags: p.Flags})
		}
	})
}

// within checks that a value lies in its interval, and that what has no value says why.
func within(t *testing.T, name string, e *result.Estimate) {
	t.Helper()
	for _, v := range []quantity.Optional{e.Value, e.U, e.Low, e.High} {
		if v.OK && (math.IsNaN(v.V) || math.IsInf(v.V, 0)) {
			t.Errorf("%s: %v (%v to %v), u %v", name, e.Value, e.Low, e.High, e.U)
		}
	}
	slack := 1e-9 + 1e-6*math.Abs(e.Value.V)
	switch {
	case !e.Value.OK && len(e.Flags) == 0:
		t.Errorf("%s has neither a value nor a flag", name)
	case e.Value.OK && (e.Low.OK && e.Low.V > e.Value.V+slack || e.High.OK && e.High.V < e.Value.V-slack):
		t.Errorf("%s: %v outside %v to %v", name, e.Value, e.Low, e.High)
	}
}
