package rainfall_test

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/rainfall"
	"sheetwash/analysis/result"
)

// Three cans in a row at 0, 1 and 3: the spacing is 3/2, so that the strip runs
// from -3/4 to 15/4, and the borders half-way at 1/2 and 2 leave 5/4, 3/2 and 7/4
// of its 9/2. Two cans share alike, and so do two at one place of three.
func TestThiessenWeights(t *testing.T) {
	for _, tt := range []struct {
		name   string
		places []rainfall.Point
		want   []float64
	}{
		{"unequal row", []rainfall.Point{{X: 0}, {X: 1}, {X: 3}}, []float64{5.0 / 18, 6.0 / 18, 7.0 / 18}},
		{"two", []rainfall.Point{{X: 1, Y: 1}, {X: 4, Y: 9}}, []float64{0.5, 0.5}},
		{"two at one place", []rainfall.Point{{X: 1}, {X: 1}, {X: 4}}, []float64{0.25, 0.25, 0.5}},
		{"grid", []rainfall.Point{{X: 0, Y: 0}, {X: 2, Y: 0}, {X: 4, Y: 0}, {X: 0, Y: 2}, {X: 2, Y: 2}, {X: 4, Y: 2}}, []float64{1.0 / 6, 1.0 / 6, 1.0 / 6, 1.0 / 6, 1.0 / 6, 1.0 / 6}},
	} {
		w, err := rainfall.ThiessenWeights(tt.places)
		if err != nil || len(w) != len(tt.want) {
			t.Fatalf("%s: %v, %v", tt.name, w, err)
		}
		for i := range w {
			near(t, tt.name, w[i], tt.want[i], 1e-12)
		}
	}
	for name, places := range map[string][]rainfall.Point{"one": {{X: 1}}, "one place": {{X: 1}, {X: 1}}, "not finite": {{X: 1}, {X: math.Inf(1)}}, "too many": make([]rainfall.Point, 0)} {
		if name == "too many" {
			for i := range 201 {
				places = append(places, rainfall.Point{X: float64(i)})
			}
		}
		if _, err := rainfall.ThiessenWeights(places); !errors.Is(err, rainfall.ErrPlaces) {
			t.Errorf("%s: %v, want ErrPlaces", name, err)
		}
	}
}

// Weights are positive, add up to one, and do not depend on where the origin
// lies, on the unit or on which way the table is turned.
func TestThiessenProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		places := rapid.SliceOfNDistinct(rapid.Custom(func(t *rapid.T) rainfall.Point {
			return rainfall.Point{X: float64(rapid.IntRange(-400, 400).Draw(t, "x")) / 4, Y: float64(rapid.IntRange(-200, 200).Draw(t, "y")) / 4}
		}), 2, 30, func(p rainfall.Point) rainfall.Point { return p }).Draw(t, "places")
		w, err := rainfall.ThiessenWeights(places)
		if err != nil {
			t.Fatal(err)
		}
		moved := make([]rainfall.Point, len(places))
		for i, p := range places {
			moved[i] = rainfall.Point{X: 2.5*p.Y + 10, Y: -2.5*p.X - 7}
		}
		v, err := rainfall.ThiessenWeights(moved)
		if err != nil {
			t.Fatal(err)
		}
		var sum float64
		for i := range w {
			sum += w[i]
			if w[i] < 0 || math.Abs(w[i]-v[i]) > 1e-6 {
				t.Fatalf("weights %v, moved %v", w, v)
			}
		}
		if math.Abs(sum-1) > 1e-9 {
			t.Fatalf("weights add up to %v", sum)
		}
	})
}

func cansAt(places []rainfall.Point, depths []float64) []experiment.Can {
	var cans []experiment.Can
	for i, p := range places {
		cans = append(cans, experiment.Can{Calibration: "c", XCM: quantity.Some(p.X), YCM: quantity.Some(p.Y), DepthMM: depths[i], DurationMin: 60})
	}
	return cans
}

// On a grid, square or staggered, the mean is plain; off it each can counts by
// its area: (5 x 10 + 6 x 20 + 7 x 30)/18 = 380/18 for the row of above, with
// n = 324/110 cans' worth.
func TestSpatialMean(t *testing.T) {
	staggered := []rainfall.Point{{X: 50, Y: 0}, {X: 100, Y: 0}, {X: 25, Y: 26}, {X: 75, Y: 26}, {X: 125, Y: 26}, {X: 50, Y: 52}, {X: 100, Y: 52}}
	for _, tt := range []struct {
		name     string
		places   []rainfall.Point
		depths   []float64
		mean     float64
		weighted bool
	}{
		{"unequal row", []rainfall.Point{{X: 0}, {X: 1}, {X: 3}}, []float64{10, 20, 30}, 380.0 / 18, true},
		{"equal row", []rainfall.Point{{X: 0}, {X: 1}, {X: 2}}, []float64{10, 20, 40}, 70.0 / 3, false},
		{"staggered", staggered, []float64{1, 2, 3, 4, 5, 6, 14}, 5, false},
		{"a hole in the grid", staggered[:6], []float64{6, 6, 6, 6, 6, 6}, 6, true},
	} {
		c := rainfall.Calibrations("d", cansAt(tt.places, tt.depths))[0]
		near(t, tt.name, c.MeanMMH, tt.mean, 1e-9)
		if c.Flags.Has("thiessen") != tt.weighted || (c.Weights != nil) != tt.weighted {
			t.Errorf("%s: flags %v, weights %v", tt.name, c.Flags, c.Weights)
		}
	}
	rows := rainfall.CalibrationRows(rainfall.Calibrations("d", cansAt([]rainfall.Point{{X: 0}, {X: 1}, {X: 3}}, []float64{10, 20, 30})), nil, nil, rainfall.DefaultSettings())
	m := 380.0 / 18
	s := math.Sqrt((5*(m-10)*(m-10) + 6*(m-20)*(m-20) + 7*(30-m)*(30-m)) / 18 / (1 - 110.0/324))
	near(t, "CV", rows[3].Value.V, s/m, 1e-9)
	// CU = 100 (1 - (5 (m-10) + 6 (m-20) + 7 (30-m)) / 18 m)
	near(t, "CU", rows[1].Value.V, 100*(1-(5*(m-10)+6*(m-20)+7*(30-m))/(18*m)), 1e-9)
	// The driest quarter of the area, 4.5/18, is all under the first can.
	near(t, "DUlq", rows[2].Value.V, 100*10/m, 1e-9)
	if rows[2].Metric != result.UniformityLowQuarter || !rows[2].Flags.Has("fractional_quarter") {
		t.Errorf("row %+v", rows[2])
	}
}

// Weighted measures with equal weights are the plain ones.
func TestWeightedMeasures(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(rapid.Float64Range(0.1, 50), 2, 40).Draw(t, "catch")
		w := make([]float64, len(x))
		for i := range w {
			w[i] = 3
		}
		for name, f := range map[string][2]func() (float64, error){
			"CU":   {func() (float64, error) { return rainfall.Christiansen(x) }, func() (float64, error) { return rainfall.ChristiansenWeighted(x, w) }},
			"DUlq": {func() (float64, error) { return rainfall.LowQuarter(x, rainfall.Fractional) }, func() (float64, error) { return rainfall.LowQuarterWeighted(x, w) }},
			"CV":   {func() (float64, error) { return rainfall.Variation(x) }, func() (float64, error) { return rainfall.VariationWeighted(x, w) }},
		} {
			a, errA := f[0]()
			b, errB := f[1]()
			if errA != nil || errB != nil || math.Abs(a-b) > 1e-9*(1+math.Abs(a)) {
				t.Fatalf("%s: %v and %v (%v, %v)", name, a, b, errA, errB)
			}
		}
	})
	for name, w := range map[string][]float64{"short": {1}, "negative": {1, -1}, "none": {0, 0}} {
		if _, err := rainfall.ChristiansenWeighted([]float64{1, 2}, w); !errors.Is(err, rainfall.ErrCatch) {
			t.Errorf("%s: %v, want ErrCatch", name, err)
		}
	}
}
