package infiltration_test

import (
	"math"
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

// BenchmarkModels measures one plot of about 30 bottles, on all processors: seven
// models with profile intervals, weights and the average.
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
	b.ResetTimer()
	b.RunParallel(func(p *testing.PB) {
		for n := 0; p.Next(); n++ {
			infiltration.Models(inputs[n%len(inputs)])
		}
	})
}

// BenchmarkHortonPoints measures one Horton curve through 30 rates, with
// standard errors.
func BenchmarkHortonPoints(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 2))
	const curves, n = 100, 30
	var t [n]float64
	var rates [curves][n]float64
	for k := range t {
		t[k] = 2 * float64(k+1)
	}
	for c := range rates {
		f0, fc, k := uniform(r, 40, 90), uniform(r, 5, 30), uniform(r, 0.03, 0.3)
		for n, at := range t {
			rates[c][n] = fc + (f0-fc)*math.Exp(-k*at) + r.NormFloat64()
		}
	}
	b.ReportAllocs()
	n0 := 0
	for b.Loop() {
		if _, err := infiltration.HortonPoints(t[:], rates[n0%curves][:]); err != nil {
			b.Fatal(err)
		}
		n0++
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "fits/s")
}
