package infiltration_test

import (
	"math"
	"testing"

	"sheetwash/analysis/infiltration"
	"sheetwash/analysis/quantity"
)

// Curves that break fitters: every one of the seven models gives a fit, or says
// why not; nothing that is not a number leaves it. Rain of 60 mm/h for 30 min.
func TestModelsAnswerNastyCurves(t *testing.T) {
	for _, tt := range []struct {
		name  string
		rates []float64 // mm/h, of bottles that share the 30 min
		u     float64
	}{
		{"all equal", []float64{40, 40, 40, 40, 40, 40}, 0.5},
		{"all equal and exact", []float64{40, 40, 40, 40, 40, 40}, 0},
		{"flat with noise", []float64{40.3, 39.6, 40.2, 39.9, 40.4, 39.7}, 0.5},
		{"rising", []float64{50, 48, 46, 44, 42, 40}, 0.5},
		{"a straight line", []float64{10, 16, 22, 28, 34, 40}, 0.5},
		{"k near 0", []float64{30, 30.2, 30.4, 30.6, 30.8, 31}, 0.5},
		{"falls ever faster", []float64{30, 31, 33, 36, 40, 45}, 0.5},
		{"one bottle holds the decline", []float64{20, 45, 45, 45, 45, 45}, 0.5},
		{"one bottle", []float64{30}, 0.5},
		{"two bottles", []float64{30, 40}, 0.5},
		{"three bottles", []float64{30, 38, 41}, 0.5},
		{"four bottles", []float64{20, 33, 38, 40}, 0.5},
		{"an outlier high", []float64{30, 36, 39, 60, 40.5, 40.8, 41, 41}, 0.5},
		{"an outlier low", []float64{30, 36, 39, 10, 40.5, 40.8, 41, 41}, 0.5},
		{"an outlier at the end", []float64{30, 36, 39, 40, 40.5, 40.8, 41, 20}, 0.5},
		{"alternating", []float64{10, 50, 10, 50, 10, 50}, 0.5},
		{"all the rain runs off", []float64{60, 60, 60, 60, 60, 60}, 0.5},
		{"more than the rain runs off", []float64{70, 70, 70, 70, 70, 70}, 0.5},
		{"dry, then wet", []float64{0, 0, 0, 0, 0, 20}, 0.5},
		{"dry gaps between", []float64{20, 0, 20, 0, 20, 20}, 0.5},
		{"exact and curved", []float64{10, 30, 38, 41, 42, 42.4, 42.5}, 0},
		{"known to nothing", []float64{10, 30, 38, 41, 42}, 1e6},
		{"nothing at all", nil, 0.5},
		{"one outlier of any size", []float64{30, 36, 1e9, 40, 41}, 0.5},
		{"48 bottles", alternating(48), 0.1},
		{"200 bottles", alternating(200), 0.1},
	} {
		for _, onset := range []quantity.Optional{quantity.None(), quantity.Some(0)} {
			in := infiltration.Input{IntensityMMH: 60, RainMin: 30, RanOff: true, OnsetMin: onset}
			length := 30 / float64(len(tt.rates))
			for n, q := range tt.rates {
				in.Intervals = append(in.Intervals, infiltration.Interval{StartMin: float64(n) * length, EndMin: float64(n+1) * length, RateMMH: q, U: tt.u})
			}
			checkComparison(t, tt.name, infiltration.Models(in))
		}
	}
	for name, in := range map[string]infiltration.Input{
		"no rain":       {RanOff: true},
		"no number":     {IntensityMMH: math.NaN(), RainMin: 30, RanOff: true},
		"never ran off": {IntensityMMH: 60, RainMin: 30},
	} {
		checkComparison(t, name, infiltration.Models(in))
	}
}

// alternating returns rates that jump up and down by a tenth.
func alternating(n int) []float64 {
	q := make([]float64, n)
	for k := range q {
		q[k] = 40 + 2*float64(k%2)
	}
	return q
}

// checkComparison checks that seven models answer, and how.
func checkComparison(t *testing.T, name string, c infiltration.Comparison) {
	t.Helper()
	if len(c.Fits) != 7 {
		t.Fatalf("%s: %d models", name, len(c.Fits))
	}
	weights, weighed := 0.0, false
	for _, f := range c.Fits {
		if f.Weight.OK {
			weights, weighed = weights+f.Weight.V, true
		}
		for _, p := range f.Parameters {
			if !p.Value.OK && len(p.Flags) == 0 {
				t.Errorf("%s: %s %s has neither a value nor a flag", name, p.Model, p.Name)
			}
			if p.Value.OK && !p.Converged && !p.Flags.Has(infiltration.FlagNotConverged) {
				t.Errorf("%s: %s %s did not converge and does not say so", name, p.Model, p.Name)
			}
			if p.Value.OK && (p.Low.OK && p.Low.V > p.Value.V*(1+1e-9)+1e-9 || p.High.OK && p.High.V < p.Value.V*(1-1e-9)-1e-9) {
				t.Errorf("%s: %s %s = %v outside %v to %v", name, p.Model, p.Name, p.Value.V, p.Low, p.High)
			}
			if p.Name == infiltration.CapacityAtEnd && p.Value.OK && (p.Value.V < 0 || p.Value.V > 60*(1+1e-12)) {
				t.Errorf("%s: %s has the capacity %v at the end of rain", name, p.Model, p.Value.V)
			}
			for _, v := range []quantity.Optional{p.Value, p.U, p.Low, p.High, p.RSS, p.AICc, p.Weight} {
				if v.OK && (math.IsNaN(v.V) || math.IsInf(v.V, 0)) {
					t.Errorf("%s: %s %s holds %v", name, p.Model, p.Name, v.V)
				}
			}
		}
	}
	if weighed && math.Abs(weights-1) > 1e-12 {
		t.Errorf("%s: the weights add up to %v", name, weights)
	}
	if !c.Average.Value.OK && len(c.Average.Flags) == 0 {
		t.Errorf("%s: the average has neither a value nor a flag", name)
	}
}
