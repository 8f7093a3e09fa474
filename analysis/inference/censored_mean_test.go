package inference

import (
	"math"
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
		fit.interval(&got)
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
