package inference

import (
	"encoding/json"
	"math"
	"os"
	"testing"
)

// Without censoring the likelihood's estimate and limits are Student's, in closed form.
func TestCensoredMeanWithoutCensoringIsStudents(t *testing.T) {
	for _, y := range [][]float64{{1, 2}, {41.2, 18.6, 27.9, 63.4}, {3.1, 1.7, 6.9, 2.4, 1e-3}, {1e6, 1e6 + 1, 1e6 + 3}} {
		b := make([]Bounds, len(y))
		for i, v := range y {
			b[i] = Bounds{v, v}
		}
		want, _ := MeanT(y, 0.95)
		fit, ok := newCensoredFit(b)
		if !ok {
			t.Fatalf("%v: no fit", y)
		}
		got := Interval{Level: 0.95, N: len(b)}
		fit.interval(&got, 9)
		if !got.Bounded() {
			t.Fatalf("%v: %+v", y, got)
		}
		for _, p := range [][2]float64{{got.Value.V, want.Value.V}, {got.Low.V, want.Low.V}, {got.High.V, want.High.V}} {
			if math.Abs(p[0]-p[1]) > 1e-9*(want.High.V-want.Low.V) {
				t.Errorf("%v: got %+v\nwant %+v", y, got, want)
				break
			}
		}
	}
}

// The one-sample log-normal fits of survreg (survival 3.5-3) among the reference
// cases: location, scale and tolerance are theirs.
func TestCensoredGeometricMeanAgainstSurvreg(t *testing.T) {
	b, err := os.ReadFile("../../testdata/reference/statistics/censored.json")
	if err != nil {
		t.Fatal(err)
	}
	var cases []struct {
		ID, Method string
		Input      struct {
			Time, Event []float64
			Group       []string
		}
		Options  struct{ Dist string }
		Expected struct {
			Coef  []float64
			Scale float64
		}
		Tolerance struct{ Rel float64 }
	}
	if err := json.Unmarshal(b, &cases); err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, c := range cases {
		if c.Method != "aft" || c.Options.Dist != "lognormal" || len(c.Input.Group) > 0 {
			continue
		}
		n++
		y := make([]Bounds, len(c.Input.Time))
		for i, v := range c.Input.Time {
			y[i] = Bounds{v, v}
			if c.Input.Event[i] == 0 {
				y[i].High = math.Inf(1)
			}
		}
		r, err := CensoredGeometricMean(y, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		k := float64(len(y))
		scale := r.SD.V * math.Sqrt((k-1)/k)
		if math.Abs(math.Log(r.Value.V)/c.Expected.Coef[0]-1) > c.Tolerance.Rel || math.Abs(scale/c.Expected.Scale-1) > c.Tolerance.Rel {
			t.Errorf("%s: location %v, scale %v, want %v, %v", c.ID, math.Log(r.Value.V), scale, c.Expected.Coef[0], c.Expected.Scale)
		}
		if !(r.Low.V < r.Value.V && r.Value.V < r.High.V) {
			t.Errorf("%s: %+v", c.ID, r)
		}
	}
	if n == 0 {
		t.Error("no case")
	}
}
