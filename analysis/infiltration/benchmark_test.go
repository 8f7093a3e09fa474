package infiltration_test

import (
	"math/rand/v2"
	"testing"

	"sheetwash/analysis/infiltration"
	"sheetwash/analysis/simulate"
)

// BenchmarkSteady measures one plot of 6 to 30 bottles, both methods.
func BenchmarkSteady(b *testing.B) {
	r := rand.New(rand.NewPCG(7, 7))
	var inputs []infiltration.Input
	for len(inputs) < 200 {
		if d := newDraw(r, conditions{simulate.FieldInstruments(), 0.03}); d.in.RanOff {
			inputs = append(inputs, d.in)
		}
	}
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		infiltration.Steady(inputs[n%len(inputs)])
		n++
	}
}
