package infiltration_test

import (
	"math/rand/v2"
	"testing"

	"sheetwash/analysis/infiltration"
	"sheetwash/analysis/simulate"
)

// BenchmarkSteady measures one plot, both methods: of 6 to 30 bottles, and of 30
// bottles as in a large season.
func BenchmarkSteady(b *testing.B) {
	for _, bb := range []struct {
		name  string
		least int
	}{{"6 to 30 bottles", 0}, {"about 30 bottles", 26}} {
		b.Run(bb.name, func(b *testing.B) {
			r := rand.New(rand.NewPCG(7, 7))
			var inputs []infiltration.Input
			for len(inputs) < 100 {
				d := newDraw(r, conditions{instruments: simulate.FieldInstruments(), intensityRel: 0.03})
				if d.in.RanOff && len(d.in.Intervals) >= bb.least {
					inputs = append(inputs, d.in)
				}
			}
			b.ReportAllocs()
			n := 0
			for b.Loop() {
				infiltration.Steady(inputs[n%len(inputs)])
				n++
			}
		})
	}
}

// BenchmarkModels measures one plot of about 30 bottles: seven models with
// profile intervals, weights and the average.
func BenchmarkModels(b *testing.B) {
	r := rand.New(rand.NewPCG(7, 7))
	var inputs []infiltration.Input
	for len(inputs) < 100 {
		d := newDraw(r, conditions{instruments: simulate.FieldInstruments(), intensityRel: 0.03})
		if d.in.RanOff && len(d.in.Intervals) >= 26 {
			inputs = append(inputs, d.in)
		}
	}
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		infiltration.Models(inputs[n%len(inputs)])
		n++
	}
}
