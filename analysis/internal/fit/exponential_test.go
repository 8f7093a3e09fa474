package fit

import (
	"math"
	"testing"
)

// Both are right to about a unit of the last digit.
func TestDecaysAgainstMathExp(t *testing.T) {
	var x []float64
	for v := 0.0; v < 60; v += 0.00731 {
		x = append(x, v)
	}
	out := make([]float64, len(x))
	for _, rate := range []float64{0, 1e-300, 1e-9, 0.37, 1, 3, 400, math.Inf(1)} {
		decays(rate, x, out)
		for k, got := range out {
			want := math.Exp(-rate * x[k])
			if math.Abs(got-want) > 0x1p-51*want && want > math.Exp(-nothing) {
				t.Fatalf("exp(-%v) = %v, want %v", rate*x[k], got, want)
			}
			if want < math.Exp(-nothing) && got != 0 {
				t.Fatalf("exp(-%v) = %v, want nothing", rate*x[k], got)
			}
		}
	}
}
