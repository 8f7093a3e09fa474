package inference_test

import (
	"fmt"

	"sheetwash/analysis/inference"
)

// Two of five plots had no runoff when the rain ended after 60 minutes.
func ExampleKaplanMeier() {
	time := []float64{22.4, 60, 41.7, 60, 33.9}
	ranOff := []bool{true, false, true, false, true}
	s, err := inference.KaplanMeier(time, ranOff, 0.95)
	if err != nil {
		fmt.Println(err)
		return
	}
	m, err := s.RestrictedMean(60)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("median %.1f min, mean within 60 min %.1f min [%.1f, %.1f]\n", s.Quantile(0.5).Value.V, m.Value.V, m.Low.V, m.High.V)
	// Output:
	// median 41.7 min, mean within 60 min 43.6 min [19.4, 56.2]
}

// Two values give an interval, and an honest one.
func ExampleMeanT() {
	i, err := inference.MeanT([]float64{3.4, 8.8}, 0.95)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f [%.1f, %.1f]\n", i.Value.V, i.Low.V, i.High.V)
	// Output:
	// 6.1 [-28.2, 40.4]
}
