package infiltration_test

import (
	"testing"

	"sheetwash/analysis/infiltration"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// Curves that break fitters: every one gets a value within a finite interval,
// or a bound, with the verdicts that go with it. Rain of 60 mm/h for 30 min.
func TestNastyCurves(t *testing.T) {
	const notSteady, notIdentifiable, scatter = infiltration.FlagNotSteady, infiltration.FlagNotIdentifiable, infiltration.FlagScatter
	for _, tt := range []struct {
		name      string
		rates     []float64 // mm/h, of bottles that share the 30 min
		u         float64
		has, not  []string
		low, high float64 // range in which the value must lie
	}{
		{"all equal", []float64{40, 40, 40, 40, 40, 40}, 0.5, nil, []string{notSteady, scatter}, 19.9, 20.1},
		{"all equal and exact", []float64{40, 40, 40, 40, 40, 40}, 0, nil, []string{notSteady}, 19.9, 20.1},
		{"flat with noise", []float64{40.3, 39.6, 40.2, 39.9, 40.4, 39.7}, 0.5, nil, []string{notSteady}, 19.5, 20.5},
		{"rising", []float64{50, 48, 46, 44, 42, 40}, 0.5, []string{scatter}, nil, 12, 20},
		{"a straight line", []float64{10, 16, 22, 28, 34, 40}, 0.5, []string{notSteady}, []string{notIdentifiable}, 15, 20},
		{"k near 0", []float64{30, 30.2, 30.4, 30.6, 30.8, 31}, 0.5, nil, nil, 28.5, 29.5},
		{"falls ever faster", []float64{30, 31, 33, 36, 40, 45}, 0.5, nil, nil, 10, 20},
		{"one bottle holds the decline", []float64{20, 45, 45, 45, 45, 45}, 0.5, nil, []string{notSteady}, 14.5, 15.5},
		{"one bottle", []float64{30}, 0.5, []string{notSteady, notIdentifiable}, nil, 0, 30},
		{"two bottles", []float64{30, 40}, 0.5, []string{notSteady, notIdentifiable}, nil, 10, 20},
		{"three bottles", []float64{30, 38, 41}, 0.5, []string{notIdentifiable}, nil, 15, 19.5},
		{"four bottles", []float64{20, 33, 38, 40}, 0.5, nil, []string{notIdentifiable}, 18, 21},
		{"an outlier high", []float64{30, 36, 39, 60, 40.5, 40.8, 41, 41}, 0.5, []string{infiltration.FlagStartMoved}, nil, 5, 25},
		{"an outlier low", []float64{30, 36, 39, 10, 40.5, 40.8, 41, 41}, 0.5, []string{infiltration.FlagStartMoved}, nil, 10, 35},
		{"an outlier at the end", []float64{30, 36, 39, 40, 40.5, 40.8, 41, 20}, 0.5, []string{scatter}, nil, 15, 40},
		{"alternating", []float64{10, 50, 10, 50, 10, 50}, 0.5, []string{scatter, notSteady}, nil, 0, 60},
		{"all the rain runs off", []float64{60, 60, 60, 60, 60, 60}, 0.5, nil, nil, -0.5, 0.5},
		{"more than the rain runs off", []float64{70, 70, 70, 70, 70, 70}, 0.5, []string{infiltration.FlagNegative}, nil, -10.5, -9.5},
		{"dry, then wet", []float64{0, 0, 0, 0, 0, 20}, 0.5, []string{infiltration.FlagUpperBound}, nil, 40, 40},
		{"dry gaps between", []float64{20, 0, 20, 0, 20, 20}, 0.5, []string{scatter}, nil, 30, 60},
		{"exact and curved", []float64{10, 30, 38, 41, 42, 42.4, 42.5}, 0, nil, nil, 16, 18},
		{"known to nothing", []float64{10, 30, 38, 41, 42}, 1e6, []string{notSteady}, nil, 0, 60},
	} {
		in := infiltration.Input{IntensityMMH: 60, RainMin: 30, RanOff: true}
		length := 30 / float64(len(tt.rates))
		for n, q := range tt.rates {
			in.Intervals = append(in.Intervals, infiltration.Interval{StartMin: float64(n) * length, EndMin: float64(n+1) * length, RateMMH: q, U: tt.u})
		}
		if tt.rates[0] > 0 {
			in.OnsetMin = quantity.Some(0)
		}
		a := infiltration.Steady(in)
		e := a.Horton
		if !e.Value.OK || e.Value.V < tt.low || e.Value.V > tt.high {
			t.Errorf("%s: value %v, want %v to %v", tt.name, e.Value, tt.low, tt.high)
		}
		if bounded := e.Low.OK && e.High.OK; bounded == (e.Censored == result.Left) {
			t.Errorf("%s: interval %v to %v, censored %q", tt.name, e.Low, e.High, e.Censored)
		}
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
	}
}
