package infiltration_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"sheetwash/analysis/infiltration"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/simulate"
)

// TestLastDigitOfTheInput changes every reading by up to two units of its last
// digit, as a conversion from other units does: values and limits stay to 1e-9
// (1e-6 where the curve is next to straight).
// The answer must depend on the data, not on the path of a search.
func TestLastDigitOfTheInput(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 9))
	nudge := func(v float64) float64 { return v * (1 + float64(r.IntN(5)-2)*0x1p-52) }
	checked, off := 0, 0
	for range 400 {
		in := newDraw(r, conditions{instruments: simulate.FieldInstruments()}).in
		other := in
		other.Intervals = append([]infiltration.Interval(nil), in.Intervals...)
		for i := range other.Intervals {
			v := &other.Intervals[i]
			v.StartMin, v.EndMin, v.RateMMH, v.U = nudge(v.StartMin), nudge(v.EndMin), nudge(v.RateMMH), nudge(v.U)
			if i > 0 && in.Intervals[i].StartMin == in.Intervals[i-1].EndMin {
				v.StartMin = other.Intervals[i-1].EndMin
			}
		}
		a, b := infiltration.Steady(in), infiltration.Steady(other)
		for w, pair := range [][2]quantity.Optional{
			{a.Horton.Value, b.Horton.Value}, {a.Horton.Low, b.Horton.Low}, {a.Horton.High, b.Horton.High},
			{a.Window.Value, b.Window.Value}, {a.Window.Low, b.Window.Low}, {a.Window.High, b.Window.High},
		} {
			if !pair[0].OK {
				continue
			}
			checked++
			tolerance := 1e-9
			if straight(a) {
				tolerance = 1e-6
			}
			if d := math.Abs(pair[0].V - pair[1].V); d > tolerance*math.Max(math.Abs(pair[0].V), 1) {
				off++
				t.Logf("%v and %v (%d) differ by %.1e; %d intervals, flags %v", pair[0].V, pair[1].V, w, d, a.Horton.N, a.Horton.Flags)
			}
		}
	}
	if off > 0 {
		t.Errorf("%d of %d values moved", off, checked)
	}
}

// straight reports a curve that hardly bends over the run: fall and k are then
// known from each other only, and the equations lose half of the digits.
func straight(a infiltration.Answer) bool {
	for _, p := range a.Parameters {
		if p.Name == "k" {
			return p.Value.OK && p.Value.V < 1
		}
	}
	return false
}
