package inference

import (
	"math"
	"testing"
)

// The derivatives of the likelihood agree with differences of it, for every kind
// of bound and far into the tails.
func TestCensoredLikelihoodDerivatives(t *testing.T) {
	inf := math.Inf(1)
	for _, b := range []Bounds{{0.3, 0.3}, {0.2, inf}, {-inf, -0.4}, {-0.1, 0.5}, {0.4, 0.5}, {-0.5, -0.49}, {8, inf}, {-inf, -9}} {
		f := &censoredFit{bounds: []countedBound{{b, 3}}}
		if b.Observed() {
			f = &censoredFit{n: 3, mean: b.Low, ss: 0.02}
		}
		for _, at := range [][2]float64{{0.5, 2}, {-1, 0.7}, {0, 4}, {2, 3.2}} {
			a, e := at[0], at[1]
			const h = 1e-5
			s := f.likelihood(a, e, 0)
			pa, ma := f.likelihood(a+h, e, 0), f.likelihood(a-h, e, 0)
			pb, mb := f.likelihood(a, e+h, 0), f.likelihood(a, e-h, 0)
			for _, d := range []struct {
				name      string
				got, want float64
			}{
				{"a", s.a, (pa.l - ma.l) / (2 * h)}, {"b", s.b, (pb.l - mb.l) / (2 * h)},
				{"aa", s.aa, (pa.a - ma.a) / (2 * h)}, {"ab", s.ab, (pa.b - ma.b) / (2 * h)}, {"bb", s.bb, (pb.b - mb.b) / (2 * h)},
			} {
				if math.Abs(d.got-d.want) > 1e-5*(1+math.Abs(d.want)) {
					t.Errorf("%v at %v: d/d%s = %v, difference %v", b, at, d.name, d.got, d.want)
				}
			}
		}
	}
}

// Narrow intervals about values tell as much as the values.
func TestNarrowIntervalsAreValues(t *testing.T) {
	y := []float64{4.1, 5.3, 5.9, 7.7}
	var b []Bounds
	for _, v := range y {
		b = append(b, Bounds{v - 1e-4, v + 1e-4})
	}
	got, err := CensoredMean(b, 0.95)
	want := meanT(y, 0.95)
	if err != nil || math.Abs(got.Value.V-want.Value.V) > 1e-6 || math.Abs(got.Low.V-want.Low.V) > 1e-5 || math.Abs(got.High.V-want.High.V) > 1e-5 {
		t.Errorf("got %+v, %v\nwant %+v", got, err, want)
	}
}

// Left-censoring mirrors right-censoring.
func TestLeftCensoringMirrorsRight(t *testing.T) {
	inf := math.Inf(1)
	right, err := CensoredMean([]Bounds{{1, 1}, {2, 2}, {2.5, 2.5}, {3, inf}}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	left, err := CensoredMean([]Bounds{{-1, -1}, {-2, -2}, {-2.5, -2.5}, {-inf, -3}}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range [][2]float64{{left.Value.V, -right.Value.V}, {left.Low.V, -right.High.V}, {left.High.V, -right.Low.V}} {
		if math.Abs(p[0]-p[1]) > 1e-8 {
			t.Errorf("left %+v\nright %+v", left, right)
		}
	}
}
