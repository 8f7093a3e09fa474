package inference_test

import (
	"math"
	"testing"

	"sheetwash/analysis/inference"
)

// The distribution function takes the quantile back to its probability, for degrees of
// freedom that are no whole numbers too, and again from memory.
func TestTQuantileInverts(t *testing.T) {
	for _, df := range []float64{1, 1.05, 1.7, 2, 3, 3, 2.49, 2.5, 2.51, 3.3, 4.99, 5.01, 7.77, 12.5, 33.3, 120.5, 4000.1} {
		for _, p := range []float64{0.6, 0.9, 0.95, 0.975, 0.9875, 0.995, 0.9995, 0.999999} {
			q, err := inference.TQuantile(p, df)
			if err != nil {
				t.Fatal(err)
			}
			back, err := inference.TCDF(-q, df)
			if err != nil || math.Abs(back-(1-p)) > 1e-12*(1-p) {
				t.Errorf("df %v: quantile %v of %v is that of %v (%v)", df, q, p, 1-back, err)
			}
		}
	}
}
