package infiltration_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis/infiltration"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// hortonRates returns exact mean runoff rates under rain of one intensity over
// intervals [edges[n], edges[n+1]], min, of a soil with the capacity
// f = fc + (f0 - fc) exp(-k (t - from)): the integral of f over an interval is
// fc d + (f0 - fc)(exp(-k a) - exp(-k b))/k, worked in hours.
func hortonRates(intensity, f0, fc, k, fromMin, u float64, edges ...float64) []infiltration.Interval {
	var out []infiltration.Interval
	for n := range len(edges) - 1 {
		a, b := (edges[n]-fromMin)/60, (edges[n+1]-fromMin)/60
		f := fc + (f0-fc)*(math.Exp(-k*a)-math.Exp(-k*b))/(k*(b-a))
		out = append(out, infiltration.Interval{StartMin: edges[n], EndMin: edges[n+1], RateMMH: intensity - f, U: u})
	}
	return out
}

// edges returns n+1 equally spaced times.
func edges(from, to float64, n int) []float64 {
	out := make([]float64, n+1)
	for i := range out {
		out[i] = from + (to-from)*float64(i)/float64(n)
	}
	return out
}

// A curve without errors is found again, its value at the end of rain being
// fc + (f0 - fc) exp(-k T) = 20 + 40 exp(-6 x 0.9) = 20.1807.
func TestHortonFindsTheCurve(t *testing.T) {
	in := infiltration.Input{
		IntensityMMH: 70, RainMin: 60, OnsetMin: quantity.Some(6), RanOff: true,
		Intervals: hortonRates(70, 60, 20, 6, 6, 0.3, edges(6, 60, 12)...),
	}
	a := infiltration.Steady(in)
	if got := a.Horton.Value.V; math.Abs(got-20.1807) > 0.01 {
		t.Errorf("value at the end of rain = %v, want 20.1807", got)
	}
	want := map[string]float64{"f0": 60, "fc": 20, "k": 6, "f_end": 20.1807, "lag": 0}
	for _, p := range a.Parameters {
		w, ok := want[p.Name]
		if !ok {
			t.Errorf("parameter %q is not expected", p.Name)
			continue
		}
		delete(want, p.Name)
		if !p.Value.OK || math.Abs(p.Value.V-w) > 2e-3*(1+w) {
			t.Errorf("%s = %v, want %v", p.Name, p.Value, w)
		}
		if p.Low.OK && p.Low.V > w+1e-3*w || p.High.OK && p.High.V < w-1e-3*w {
			t.Errorf("%s: interval %v to %v misses %v", p.Name, p.Low, p.High, w)
		}
	}
	if len(want) > 0 {
		t.Errorf("parameters missing: %v", want)
	}
	if a.Horton.Flags.String() != "" {
		t.Errorf("flags %q for a settled curve", a.Horton.Flags)
	}
	if a.Headline != infiltration.HortonCurve {
		t.Errorf("headline %q", a.Headline)
	}
}

// The interval of a constant rate known to be constant would be z u / sqrt(n);
// a curve that may decline cannot do better, and the final window, in which the
// drift is free, is exactly computable: mean of the last three.
func TestFinalWindowOfThreeBottles(t *testing.T) {
	in := infiltration.Input{IntensityMMH: 60, RainMin: 40, OnsetMin: quantity.Some(2), RanOff: true}
	for n, q := range []float64{20, 28, 34, 38, 38.6, 38.8, 38.4, 38.6} {
		in.Intervals = append(in.Intervals, infiltration.Interval{StartMin: 5 * float64(n), EndMin: 5 * float64(n+1), RateMMH: q, U: 0.4})
	}
	a := infiltration.Steady(in)
	w := a.Window
	if a.WindowMin != 25 || w.N != 3 {
		t.Fatalf("window of %d from %v min; want 3 from 25 min: the last quarter holds two bottles", w.N, a.WindowMin)
	}
	// f = 21.2, 21.6, 21.4: mean 21.4, u = 0.4/sqrt(3) = 0.2309. Slope over
	// the middles (+-5 min): (21.4-21.2)/10 = 0.02 per min, its u = 0.4/sqrt(50)
	// = 0.0566; drift over 15 min 0.3 +- 1.645 x 0.0566 x 15 = 1.396, within
	// 10 % of 21.4: steady.
	if math.Abs(w.Value.V-21.4) > 1e-9 || math.Abs(w.U.V-0.2309) > 1e-4 {
		t.Errorf("mean %v, u %v; want 21.4 and 0.2309", w.Value.V, w.U.V)
	}
	if w.Flags.Has(infiltration.FlagNotSteady) {
		t.Errorf("flags %q: the drift is within the tolerance", w.Flags)
	}
	// The middle lies 7.5 min before the end: low = mean - 1.96 x 0.2309 -
	// (1.96 x 0.0566 - 0.02) x 7.5 = 20.266, high with + 0.02: 22.834.
	if math.Abs(w.Low.V-20.266) > 1e-3 || math.Abs(w.High.V-22.834) > 1e-3 {
		t.Errorf("interval %v to %v; want 20.266 to 22.834", w.Low.V, w.High.V)
	}
	// The same rates with four times the error cannot be shown to be steady.
	for n := range in.Intervals {
		in.Intervals[n].U = 1.6
	}
	if w = infiltration.Steady(in).Window; !w.Flags.Has(infiltration.FlagNotSteady) {
		t.Errorf("flags %q: three bottles of 1.6 mm/h show no steadiness", w.Flags)
	}
}

func TestVerdicts(t *testing.T) {
	settled := hortonRates(70, 60, 20, 6, 6, 0.3, edges(6, 60, 12)...)
	slow := hortonRates(70, 68, 10, 1.5, 6, 0.3, edges(6, 40, 8)...)
	with := func(base []infiltration.Interval, change func(n int, iv *infiltration.Interval)) []infiltration.Interval {
		out := make([]infiltration.Interval, len(base))
		copy(out, base)
		for n := range out {
			change(n, &out[n])
		}
		return out
	}
	for _, tt := range []struct {
		name      string
		in        infiltration.Input
		has, not  []string
		censored  result.Censored
		low, high float64 // range of the value; 0, 0: none wanted
	}{
		{"nothing ran off", infiltration.Input{IntensityMMH: 70, RainMin: 60, UIntensity: 2},
			[]string{"lower_bound"}, nil, result.Right, 70, 70},
		{"dry bottles only", infiltration.Input{IntensityMMH: 70, RainMin: 60, RanOff: true, Intervals: with(settled, func(_ int, iv *infiltration.Interval) { iv.RateMMH = 0 })},
			[]string{"lower_bound"}, nil, result.Right, 70, 70},
		{"ran off without a reading", infiltration.Input{IntensityMMH: 70, RainMin: 60, RanOff: true, OnsetMin: quantity.Some(59)},
			[]string{"upper_bound", "no_readings"}, nil, result.Left, 70, 70},
		{"settled", infiltration.Input{IntensityMMH: 70, RainMin: 60, RanOff: true, Intervals: settled},
			nil, []string{"not_steady", "not_identifiable", "extrapolated"}, "", 20, 20.5},
		// f at 40 min: 10 + 58 exp(-1.5 x 34/60) = 34.79
		{"still declining", infiltration.Input{IntensityMMH: 70, RainMin: 40, RanOff: true, Intervals: slow},
			[]string{"not_steady"}, []string{"not_identifiable"}, "", 34.5, 35.1},
		{"bottles end long before the rain", infiltration.Input{IntensityMMH: 70, RainMin: 60, RanOff: true, Intervals: slow},
			[]string{"not_steady", "extrapolated"}, nil, "", 15, 34.8},
		{"one bottle", infiltration.Input{IntensityMMH: 70, RainMin: 10, RanOff: true, Intervals: hortonRates(70, 60, 20, 6, 6, 0.3, 6, 10)},
			[]string{"not_identifiable", "not_steady"}, nil, "", 40, 60},
		// Its mean, 20 + 40 (1 - exp(-0.4))/0.4 = 52.97, is all that is known: 20 min on, the rate may be anything below.
		{"one bottle long before the end", infiltration.Input{IntensityMMH: 70, RainMin: 30, RanOff: true, Intervals: hortonRates(70, 60, 20, 6, 6, 0.3, 6, 10)},
			[]string{"upper_bound", "not_identifiable", "extrapolated"}, nil, result.Left, 52.9, 53.0},
		{"no intervals", infiltration.Input{IntensityMMH: 70, RainMin: 60, RanOff: true}, []string{"no_data"}, []string{"lower_bound"}, "", 0, 0},
		{"onset somewhere in the only wet bottle", infiltration.Input{IntensityMMH: 70, RainMin: 10, RanOff: true,
			Intervals: []infiltration.Interval{{StartMin: 0, EndMin: 5, U: 0.1}, {StartMin: 5, EndMin: 10, RateMMH: 12, U: 0.3}}},
			[]string{"upper_bound", "not_identifiable"}, nil, result.Left, 58, 58},
		{"dry, then overflowed with nothing read", infiltration.Input{IntensityMMH: 60, RainMin: 30, RanOff: true,
			Intervals: []infiltration.Interval{{StartMin: 0, EndMin: 10, U: 0.1}, {StartMin: 10, EndMin: 30, U: 0.3, LowerBound: true}}},
			[]string{"upper_bound"}, []string{"lower_bound"}, result.Left, 60, 60},
		{"every bottle overflowed", infiltration.Input{IntensityMMH: 70, RainMin: 60, RanOff: true, Intervals: with(settled, func(_ int, iv *infiltration.Interval) { iv.LowerBound = true })},
			[]string{"upper_bound", "overflow"}, nil, result.Left, 20, 20.6},
		// The overflowed bottles say f <= 30, the others alone would say more.
		{"late bottles overflowed", infiltration.Input{IntensityMMH: 70, RainMin: 60, RanOff: true, Intervals: with(settled, func(n int, iv *infiltration.Interval) {
			if n > 2 {
				iv.LowerBound, iv.RateMMH = true, iv.RateMMH-2
			}
		})}, []string{"overflow", "upper_bound"}, nil, result.Left, 15, 22.5},
		{"more runoff than rain", infiltration.Input{IntensityMMH: 45, RainMin: 60, RanOff: true, Intervals: settled},
			[]string{"negative"}, nil, "", -5.2, -4.5},
		{"recession left out", infiltration.Input{IntensityMMH: 70, RainMin: 60, RanOff: true, Intervals: append(with(settled, func(int, *infiltration.Interval) {}), infiltration.Interval{StartMin: 60, EndMin: 65, RateMMH: 9, U: 0.1}, infiltration.Interval{StartMin: 59, EndMin: 63, RateMMH: 20, U: 0.1})},
			nil, []string{"scatter"}, "", 20, 20.5},
		// The last bottle, 55.5 to 60 min at 49.77 mm/h, held on for half a minute
		// in which half of the flow went on: 49.77 x 4.75/5 over 5 min.
		{"last bottle held on", infiltration.Input{IntensityMMH: 70, RainMin: 60, RanOff: true, Intervals: with(settled, func(n int, iv *infiltration.Interval) {
			if n == 11 {
				iv.EndMin, iv.RateMMH = 60.5, 49.77*4.75/5
			}
		})}, nil, []string{"extrapolated", "scatter"}, "", 20, 20.5},
		{"wild scatter", infiltration.Input{IntensityMMH: 70, RainMin: 60, RanOff: true, Intervals: with(settled, func(n int, iv *infiltration.Interval) { iv.RateMMH += 6 * float64(n%3-1) })},
			[]string{"scatter"}, nil, "", 14, 27},
		{"no rain", infiltration.Input{RanOff: true, Intervals: settled}, []string{"bad_input"}, nil, "", 0, 0},
	} {
		e := infiltration.Steady(tt.in).Horton
		for _, f := range tt.has {
			if !e.Flags.Has(f) {
				t.Errorf("%s: flags %q lack %s", tt.name, e.Flags, f)
			}
		}
		for _, f := range tt.not {
			if e.Flags.Has(f) {
				t.Errorf("%s: flags %q have %s", tt.name, e.Flags, f)
			}
		}
		if e.Censored != tt.censored {
			t.Errorf("%s: censored %q, want %q", tt.name, e.Censored, tt.censored)
		}
		if none := tt.low == 0 && tt.high == 0; none == e.Value.OK || !none && !(e.Value.V >= tt.low && e.Value.V <= tt.high) {
			t.Errorf("%s: value %v, want %v to %v", tt.name, e.Value, tt.low, tt.high)
		}
	}
}

// A rate that rises is followed by no capacity curve: the window answers.
func TestRisingRate(t *testing.T) {
	in := infiltration.Input{IntensityMMH: 70, RainMin: 60, RanOff: true, OnsetMin: quantity.Some(1)}
	for n := range 12 {
		in.Intervals = append(in.Intervals, infiltration.Interval{StartMin: 5 * float64(n), EndMin: 5 * float64(n+1), RateMMH: 60 - 2*float64(n), U: 0.4})
	}
	a := infiltration.Steady(in)
	if a.Headline != infiltration.FinalWindow || !a.Window.Flags.Has(infiltration.FlagRising) || !a.Window.Flags.Has(infiltration.FlagNotSteady) {
		t.Errorf("headline %s, flags %q; want the final window, rising and not steady", a.Headline, a.Window.Flags)
	}
	// f = 10 + 2n: at the end of rain 10 + 2 x 11.5 = 33
	if !(a.Window.Low.V <= 33 && a.Window.High.V >= 33) {
		t.Errorf("interval %v to %v misses 33", a.Window.Low.V, a.Window.High.V)
	}
}

// What all intervals share is added after the fit, in quadrature, and told
// apart: the value does not move.
func TestSharedErrors(t *testing.T) {
	in := infiltration.Input{IntensityMMH: 70, RainMin: 60, OnsetMin: quantity.Some(6), RanOff: true, Intervals: hortonRates(70, 60, 20, 6, 6, 0.3, edges(6, 60, 12)...)}
	own := infiltration.Steady(in).Horton
	in.UIntensity, in.UAreaRel = 2.1, 0.005
	all := infiltration.Steady(in).Horton
	if all.Value != own.Value || all.UShared.V != 2.1 {
		t.Errorf("value %v then %v, shared %v; want the same value and 2.1", own.Value, all.Value, all.UShared)
	}
	shared := math.Hypot(2.1, 0.005*(70-own.Value.V)) // the area's error in proportion to the runoff rate
	for _, side := range [2][2]float64{{own.Value.V - own.Low.V, all.Value.V - all.Low.V}, {own.High.V - own.Value.V, all.High.V - all.Value.V}} {
		if want := math.Hypot(side[0], 1.959964*shared); math.Abs(side[1]-want) > 1e-5 {
			t.Errorf("side of the interval %v, want %v", side[1], want)
		}
	}
	if want := math.Hypot(own.U.V, shared); math.Abs(all.U.V-want) > 1e-9 {
		t.Errorf("u %v, want %v", all.U.V, want)
	}
}

// Whatever the intervals, every number is finite, the value lies within its
// interval, and the same intervals in another order give the same answer.
func TestAnyIntervals(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number := func(name string, low, high float64) float64 {
			return rapid.OneOf(rapid.Float64Range(low, high), rapid.SampledFrom([]float64{0, low, high})).Draw(t, name)
		}
		in := infiltration.Input{
			IntensityMMH: number("intensity", 0, 300), UIntensity: number("u intensity", 0, 10), UAreaRel: number("u area", 0, 0.1),
			RainMin: number("rain", 0, 120), RanOff: rapid.Bool().Draw(t, "ran off"), UOnsetMin: number("u onset", 0, 1),
		}
		if rapid.Bool().Draw(t, "noted") {
			in.OnsetMin = quantity.Some(number("onset", 0, 120))
		}
		at := 0.0
		for range rapid.IntRange(0, 12).Draw(t, "n") {
			at += number("gap", 0, 10)
			iv := infiltration.Interval{StartMin: at, RateMMH: number("rate", -5, 400), U: number("u", 0, 50), LowerBound: rapid.IntRange(0, 5).Draw(t, "bound") == 0}
			at += number("length", 0.01, 30)
			iv.EndMin = at
			in.Intervals = append(in.Intervals, iv)
		}
		a := infiltration.Steady(in)
		for _, e := range []result.Estimate{a.Window, a.Horton} {
			if !e.Value.OK && e.Flags.String() == "" {
				t.Fatalf("neither value nor verdict: %+v", e)
			}
			if e.Value.OK && (e.Low.OK && e.Low.V > e.Value.V || e.High.OK && e.High.V < e.Value.V || !e.U.OK) {
				t.Fatalf("value outside its interval, or without u: %+v", e)
			}
		}
		other := in
		other.Intervals = append([]infiltration.Interval(nil), in.Intervals...)
		rand.New(rand.NewPCG(1, uint64(len(in.Intervals)))).Shuffle(len(other.Intervals), func(i, j int) {
			other.Intervals[i], other.Intervals[j] = other.Intervals[j], other.Intervals[i]
		})
		if b := infiltration.Steady(other); b.Horton.Value != a.Horton.Value || b.Window.Low != a.Window.Low || b.Horton.High != a.Horton.High {
			t.Fatalf("the order of the intervals changes the answer: %+v then %+v", a, b)
		}
	})
}

// Rates in another unit give the answer in that unit.
func TestUnitsDoNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 3))
		in := infiltration.Input{IntensityMMH: 70, UIntensity: 2, RainMin: 60, OnsetMin: quantity.Some(6), RanOff: true}
		in.Intervals = hortonRates(70, uniform(random, 30, 70), 20, uniform(random, 1, 12), 6, 0.5, edges(6, 60, 4+random.IntN(20))...)
		for n := range in.Intervals {
			in.Intervals[n].RateMMH += 0.5 * random.NormFloat64()
		}
		a := infiltration.Steady(in).Horton
		const inch = 25.4
		in.IntensityMMH /= inch
		in.UIntensity /= inch
		for n := range in.Intervals {
			in.Intervals[n].RateMMH /= inch
			in.Intervals[n].U /= inch
		}
		b := infiltration.Steady(in).Horton
		for _, pair := range [][2]quantity.Optional{{a.Value, b.Value}, {a.Low, b.Low}, {a.High, b.High}, {a.U, b.U}} {
			if math.Abs(pair[0].V-pair[1].V*inch) > 1e-6*70 {
				t.Fatalf("%v in mm/h, %v in in/h", pair[0], pair[1])
			}
		}
		if a.Flags.String() != b.Flags.String() {
			t.Fatalf("flags %q then %q", a.Flags, b.Flags)
		}
	})
}
