package fit

import (
	"math"
	"testing"
)

// straightLine is y = u0 + u1 x with unit errors, within a range.
func straightLine(x, y []float64, low, high Point) *Box {
	return NewBox(2, len(x), low, high, func(at Point, r []float64, j *[MostCoordinates][]float64) {
		for i := range r {
			r[i] = y[i] - at[0] - at[1]*x[i]
			if j != nil {
				j[0][i], j[1][i] = -1, -x[i]
			}
		}
	})
}

// For a straight line the profile limits are those of linear regression with
// known errors: estimate +- z sqrt((X'X)^-1). Here X'X = [4 6; 6 14], of which the
// inverse is [0.7 -0.3; -0.3 0.2]; the estimates of y = 1, 3, 2, 5 at x = 0 to 3
// are 1.1 and 1.1.
func TestBoxOfAStraightLine(t *testing.T) {
	x, y := []float64{0, 1, 2, 3}, []float64{1, 3, 2, 5}
	wide := Point{100, 100}
	b := straightLine(x, y, Point{-100, -100}, wide)
	least, ok := b.Minimum([]Point{{0, 0}, {50, -50}})
	if !ok || !least.Settled || math.Abs(least.At[0]-1.1) > 1e-9 || math.Abs(least.At[1]-1.1) > 1e-9 || math.Abs(least.Sum-2.7) > 1e-9 {
		t.Fatalf("minimum %+v, want 1.1, 1.1 and the sum 2.7", least)
	}
	e, ok := b.Errors(least.At)
	if !ok || math.Abs(e[0]-math.Sqrt(0.7)) > 1e-9 || math.Abs(e[1]-math.Sqrt(0.2)) > 1e-9 {
		t.Errorf("errors %v, want the roots of 0.7 and 0.2", e)
	}
	const z = 2.0
	for _, tt := range []struct {
		name string
		f    func(Point) float64
		want float64
	}{
		{"intercept", func(u Point) float64 { return u[0] }, math.Sqrt(0.7)},
		{"slope", func(u Point) float64 { return u[1] }, math.Sqrt(0.2)},
		{"value at 2", func(u Point) float64 { return u[0] + 2*u[1] }, math.Sqrt(0.7 - 4*0.3 + 4*0.2)},
		{"square of the slope", func(u Point) float64 { return u[1] * u[1] }, 0},
	} {
		for _, sign := range []float64{-1, 1} {
			e := b.Extreme(tt.f, least, least.Sum+z*z, sign)
			want := tt.f(least.At) + sign*z*tt.want
			if tt.want == 0 { // a monotone function of the slope
				want = math.Pow(1.1+sign*z*math.Sqrt(0.2), 2)
			}
			if !e.Settled || e.Ends != [MostCoordinates]bool{} || math.Abs(e.Value-want) > 1e-7 {
				t.Errorf("%s: limit %+v, want %v", tt.name, e, want)
			}
		}
	}
}

// A range that cuts the region holds the coordinate at its end, and the others
// follow: with the slope at most 0.5 the best intercept is the mean of y - 0.5 x, 2.
func TestBoxHoldsTheRange(t *testing.T) {
	x, y := []float64{0, 1, 2, 3}, []float64{1, 3, 2, 5}
	b := straightLine(x, y, Point{-100, -100}, Point{100, 0.5})
	least, ok := b.Minimum([]Point{{0, 0}})
	if !ok || !least.Settled || least.At[1] != 0.5 || math.Abs(least.At[0]-2) > 1e-9 {
		t.Fatalf("minimum %+v, want 2 and 0.5", least)
	}
	up := b.Extreme(func(u Point) float64 { return u[1] }, least, least.Sum+4, 1)
	if up.Value != 0.5 || !up.Ends[1] {
		t.Errorf("largest slope %+v, want the end of the range", up)
	}
	// Down to the limit: the sum is 2.7 + d'X'X d from the free minimum, and for a
	// slope of 1.1 - s at its best intercept it is 2.7 + 5 s^2.
	down := b.Extreme(func(u Point) float64 { return u[1] }, least, least.Sum+4, -1)
	if want := 1.1 - math.Sqrt((least.Sum+4-2.7)/5); !down.Settled || math.Abs(down.Value-want) > 1e-7 {
		t.Errorf("smallest slope %+v, want %v", down, want)
	}
}

// What nothing depends on goes to the end of its range, and says so.
func TestBoxOfNothing(t *testing.T) {
	b := NewBox(2, 3, Point{-5, -5}, Point{5, 5}, func(at Point, r []float64, j *[MostCoordinates][]float64) {
		for i := range r {
			r[i] = float64(i) - at[0]
			if j != nil {
				j[0][i], j[1][i] = -1, 0
			}
		}
	})
	least, ok := b.Minimum([]Point{{0, 1}})
	if !ok || !least.Settled || math.Abs(least.At[0]-1) > 1e-9 {
		t.Fatalf("minimum %+v, want 1", least)
	}
	if e := b.Extreme(func(u Point) float64 { return u[1] }, least, least.Sum+1, 1); e.Value != 5 || !e.Ends[1] {
		t.Errorf("%+v, want the end of the range", e)
	}
	if _, ok := b.Errors(least.At); ok {
		t.Error("a coordinate that nothing depends on has a standard error")
	}
	if _, ok := b.Minimum(nil); ok {
		t.Error("a minimum without a start")
	}
}
