package fit

import (
	"errors"
	"math"
	"testing"
)

// Certified values of NIST's Statistical Reference Datasets for nonlinear
// regression (public domain, www.itl.nist.gov/div898/strd): DanWood, lower
// difficulty, y = b1 x^b2, and BoxBOD, higher difficulty, y = b1 (1 - exp(-b2
// x)), from each of NIST's starts alone and from another.
func TestNonlinearAgainstNIST(t *testing.T) {
	danWood := []float64{1.309, 1.471, 1.490, 1.565, 1.611, 1.680}
	boxBOD := []float64{1, 2, 3, 5, 7, 10}
	power := func(n int, b []float64) float64 { return b[0] * math.Pow(danWood[n], b[1]) }
	saturating := func(n int, b []float64) float64 { return -b[0] * math.Expm1(-b[1]*boxBOD[n]) }
	for _, tt := range []struct {
		name       string
		problem    Nonlinear
		starts     [][]float64
		want, se   []float64
		rss, relTo float64
	}{
		{"DanWood",
			Nonlinear{Model: power, Y: []float64{2.138, 3.421, 3.597, 4.340, 4.882, 5.660}},
			[][]float64{{1, 5}, {0.7, 4}, {1, 1}},
			[]float64{7.6886226176e-1, 3.8604055871}, []float64{1.8281973860e-2, 5.1726610913e-2}, 4.3173084083e-3, 1e-7},
		{"BoxBOD",
			Nonlinear{Model: saturating, Y: []float64{109, 149, 149, 191, 213, 224}},
			[][]float64{{1, 1}, {100, 0.75}, {200, 0.6}},
			[]float64{2.1380940889e2, 5.4723748542e-1}, []float64{1.2354515176e1, 1.0455993237e-1}, 1.1680088766e3, 1e-7},
	} {
		check := func(what string, got, want float64) {
			if math.Abs(got-want) > tt.relTo*math.Abs(want) {
				t.Errorf("%s: %s = %.11g, certified %.11g", tt.name, what, got, want)
			}
		}
		for _, start := range tt.starts {
			m, err := tt.problem.Fit(start)
			if err != nil || !m.Settled {
				t.Errorf("%s from %v: %v", tt.name, start, err)
				continue
			}
			for j := range tt.want {
				check("parameter", m.Parameters[j], tt.want[j])
				check("standard error", m.StandardErrors[j], tt.se[j])
			}
			check("residual sum of squares", m.RSS, tt.rss)
		}
		// Weights that are all alike change the sum of squares only.
		tt.problem.U = []float64{2, 2, 2, 2, 2, 2}
		w, err := tt.problem.Fit(tt.starts...)
		if err != nil {
			t.Errorf("%s with weights: %v", tt.name, err)
			continue
		}
		check("weighted sum of squares", 4*w.RSS, tt.rss)
		check("standard error with weights", w.StandardErrors[0], tt.se[0])
	}
}

func TestNonlinearWithoutMinimum(t *testing.T) {
	p := Nonlinear{Model: func(int, []float64) float64 { return math.NaN() }, Y: []float64{1, 2}}
	if _, err := p.Fit([]float64{1}); !errors.Is(err, ErrNotFitted) {
		t.Errorf("error %v, want %v", err, ErrNotFitted)
	}
	if _, err := p.Fit(); !errors.Is(err, ErrNotFitted) {
		t.Errorf("error %v without a start", err)
	}
	same := Nonlinear{Model: func(n int, b []float64) float64 { return (b[0] + b[1]) * float64(n+1) }, Y: []float64{1, 2.1, 2.9}}
	if m, err := same.Fit([]float64{1, 1}); err != nil || m.StandardErrors != nil {
		t.Errorf("%+v, %v: parameters that only count together have no errors of their own", m, err)
	}
}
