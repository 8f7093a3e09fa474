package rainfall_test

import (
	"errors"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis/rainfall"
)

// The 15 cans of the published example, by hand. Sorted they begin 12, 12, 13,
// 24; their mean is 461/15 = 30.7333. Fractional: 3.75 cans hold
// 12 + 12 + 13 + 0.75 x 24 = 55, so 100 (55/3.75) / 30.7333 = 47.7223 %.
// Ceil: 61/4 over the mean = 49.6204 %. Lowest half: 7.5 cans hold
// 12+12+13+24+26+27+30 + 0.5 x 32 = 160: 100 (160/7.5) / 30.7333 = 69.4143 %.
func TestLowParts(t *testing.T) {
	catch := []float64{47, 42, 45, 24, 13, 26, 33, 34, 27, 30, 40, 44, 32, 12, 12}
	for _, tt := range []struct {
		name string
		f    func([]float64, rainfall.Boundary) (float64, error)
		rule rainfall.Boundary
		want float64
	}{
		{"quarter, exact share", rainfall.LowQuarter, rainfall.Fractional, 47.7223},
		{"quarter, upper whole can", rainfall.LowQuarter, rainfall.Ceil, 49.6204},
		{"quarter, halves up", rainfall.LowQuarter, rainfall.Round, 49.6204},
		{"quarter, lower whole can", rainfall.LowQuarter, rainfall.Floor, 40.1302},
		{"half, exact share", rainfall.LowHalf, rainfall.Fractional, 69.4143},
	} {
		if got, err := tt.f(catch, tt.rule); err != nil || math.Abs(got-tt.want) > 5e-5 {
			t.Errorf("%s: %v, %v; want %v", tt.name, got, err, tt.want)
		}
	}
}

// Two grids of 12 gauges, mm in 5 min, and the uniformities that their workbook
// computes: sheets med3_2 and med2_2 of Hapich (2025), TWP_Runoff,
// Rainfall_Simulator_Calibration.xlsx (MIT), to its five digits.
func TestMeasuredGrids(t *testing.T) {
	for _, tt := range []struct {
		sheet string
		mm    []float64
		want  float64
	}{
		{"med3_2", []float64{3.0, 4.1, 4.3, 4.4, 4.1, 4.9, 5.0, 4.2, 4.8, 4.0, 4.0, 3.5}, 90.258},
		{"med2_2", []float64{5.8, 6.4, 7.0, 8.3, 7.0, 8.8, 8.9, 5.6, 7.0, 5.7, 5.0, 5.4}, 83.807},
	} {
		if got, err := rainfall.Christiansen(tt.mm); err != nil || math.Abs(got-tt.want) > 5e-4 {
			t.Errorf("%s: %v, %v; want %v", tt.sheet, got, err, tt.want)
		}
	}
}

func TestNoUniformity(t *testing.T) {
	for name, catch := range map[string][]float64{
		"no can": nil, "one can": {3}, "all dry": {0, 0, 0}, "negative": {1, -1, 3}, "not a number": {1, math.NaN()}, "infinite": {1, math.Inf(1)},
	} {
		_, a := rainfall.Christiansen(catch)
		_, b := rainfall.LowQuarter(catch, rainfall.Fractional)
		_, c := rainfall.Variation(catch)
		for _, err := range []error{a, b, c} {
			if !errors.Is(err, rainfall.ErrCatch) {
				t.Errorf("%s: %v, want ErrCatch", name, err)
			}
		}
	}
	if _, err := rainfall.LowQuarter([]float64{1, 2, 3}, rainfall.Floor); !errors.Is(err, rainfall.ErrCatch) {
		t.Errorf("no can in the quarter: %v, want ErrCatch", err)
	}
}

// Uniformities do not depend on the unit or on the order of cans, and even rain
// has 100 %.
func TestUniformityProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		catch := rapid.SliceOfN(rapid.Float64Range(0.1, 50), 4, 40).Draw(t, "catch")
		scale := rapid.Float64Range(0.01, 100).Draw(t, "scale")
		other := slices.Clone(catch)
		slices.Reverse(other)
		for i := range other {
			other[i] *= scale
		}
		same := func(name string, f func([]float64) (float64, error)) {
			a, errA := f(catch)
			b, errB := f(other)
			if errA != nil || errB != nil || math.Abs(a-b) > 1e-9*(1+math.Abs(a)) {
				t.Fatalf("%s: %v and %v (%v, %v)", name, a, b, errA, errB)
			}
		}
		same("Christiansen", rainfall.Christiansen)
		same("Variation", rainfall.Variation)
		for _, rule := range []rainfall.Boundary{rainfall.Fractional, rainfall.Round, rainfall.Floor, rainfall.Ceil} {
			same(rule.String(), func(x []float64) (float64, error) { return rainfall.LowQuarter(x, rule) })
		}
		for i := range other {
			other[i] = catch[0]
		}
		cu, _ := rainfall.Christiansen(other)
		du, _ := rainfall.LowQuarter(other, rainfall.Fractional)
		if math.Abs(cu-100) > 1e-9 || math.Abs(du-100) > 1e-9 {
			t.Fatalf("even rain: CU %v, DU %v", cu, du)
		}
	})
}
