package simulate_test

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis/simulate"
)

// Green-Ampt under constant rain against the equations, worked in cm and h from
// Chow, Maidment & Mays 1988, Applied Hydrology, examples 4.4.1 and 4.4.2: K
// 0.65 cm/h, psi dtheta 5.68 cm, 5 cm/h of rain pond at 0.17 h and 0.85 cm, and
// after 1 h 3.02 cm have infiltrated at 1.87 cm/h.
func TestGreenAmptAgainstPublishedExample(t *testing.T) {
	p := simulate.Plot{AreaM2: 1, Rain: simulate.ConstantRain(50, 60), Soil: simulate.GreenAmpt{K: 6.5, PsiTheta: 56.8}}
	tr := p.Simulate()
	for _, tt := range []struct {
		name           string
		got, want, tol float64
	}{
		{"onset, min", tr.OnsetMin.V, 60 * 0.17, 0.3},
		{"infiltration, mm", tr.InfiltrationMM, 30.2, 0.05},
		{"capacity at the end, mm/h", tr.CapacityMMH, 18.7, 0.05},
		{"runoff, mm", tr.RunoffMM, 50 - 30.2, 0.05},
		{"runoff rate at the end, mm/h", tr.RunoffEndMMH, 50 - 18.7, 0.05},
	} {
		if math.Abs(tt.got-tt.want) > tt.tol {
			t.Errorf("%s = %v, want %v", tt.name, tt.got, tt.want)
		}
	}
}

// Horton by the clock, with capacity always below the intensity: the depth
// infiltrated is the integral Fc T + (F0 - Fc)(1 - exp(-K T))/K = 10 + 30 x
// 0.99752/6 = 14.9876 mm, and runoff begins when rain exceeds it by the 1 mm
// that the depressions hold.
func TestHortonByClockAgainstItsIntegral(t *testing.T) {
	p := simulate.Plot{AreaM2: 0.5, Rain: simulate.ConstantRain(70, 60), Soil: simulate.Horton{F0: 40, Fc: 10, K: 6, ByClock: true}, DepressionMM: 1}
	tr := p.Simulate()
	if math.Abs(tr.InfiltrationMM-14.9876) > 0.005 {
		t.Errorf("infiltration %v mm, want 14.9876", tr.InfiltrationMM)
	}
	if math.Abs(tr.RunoffMM-(70-14.9876-1)) > 0.005 {
		t.Errorf("runoff %v mm, want %v: the depressions keep 1 mm", tr.RunoffMM, 70-14.9876-1)
	}
	excess := func(min float64) float64 {
		h := min / 60
		return 70*h - 10*h - 30*(1-math.Exp(-6*h))/6
	}
	if at := tr.OnsetMin.V; excess(at-0.02) > 1 || excess(at+0.02) < 1 {
		t.Errorf("onset at %v min, when %v mm have ponded; want 1 mm", at, excess(at))
	}
	// Capacity by depth equals capacity by the clock on a surface that is ponded
	// from the start.
	p.Soil = simulate.Horton{F0: 40, Fc: 10, K: 6}
	if d := p.Simulate(); math.Abs(d.CapacityMMH-tr.CapacityMMH) > 0.01 {
		t.Errorf("capacity by depth %v, by the clock %v mm/h", d.CapacityMMH, tr.CapacityMMH)
	}
}

// After rain a linear reservoir empties by exp(-t/residence) where the soil
// takes nothing: of the 0.5 mm in flow (30 mm/h for 1 min), 1 - exp(-2) come in
// two minutes.
func TestRecession(t *testing.T) {
	p := simulate.Plot{AreaM2: 1, Rain: simulate.ConstantRain(30, 60), Soil: simulate.Horton{F0: 0, Fc: 0, K: 1}, ReservoirMin: 1, RecessionMin: 2}
	tr := p.Simulate()
	if got, want := tr.RunoffMM-tr.RunoffRainMM, 0.5*(1-math.Exp(-2)); math.Abs(got-want) > 0.003 {
		t.Errorf("recession of %v mm, want %v", got, want)
	}
}

func TestNothingRunsOff(t *testing.T) {
	p := simulate.Plot{AreaM2: 1, Rain: simulate.ConstantRain(30, 60), Soil: simulate.GreenAmpt{K: 40, PsiTheta: 20}}
	tr := p.Simulate()
	if tr.OnsetMin.OK || tr.RunoffMM != 0 || tr.ConcentrationGL.OK || math.Abs(tr.InfiltrationMM-30) > 1e-9 {
		t.Errorf("%+v from a soil that takes all the rain", tr)
	}
	if b := tr.Collect(simulate.Schedule{N: 5, AtOnset: true}, simulate.FieldInstruments(), rand.New(rand.NewPCG(1, 1))); len(b) != 0 {
		t.Errorf("%d bottles were held under dry outlets", len(b))
	}
}

// Water is neither made nor lost, the sediment is the concentration times the
// suspension, and bottles that touch hold all that runs off.
func TestBalance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number := func(name string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(t, name) }
		rain := number("intensity", 20, 120)
		soil := rapid.SampledFrom([]simulate.Capacity{
			simulate.GreenAmpt{K: number("K", 1, 60), PsiTheta: number("psi", 1, 60)},
			simulate.Horton{F0: number("f0", 60, 200), Fc: number("fc", 0, 60), K: number("k", 1, 20)},
			simulate.Philip{S: number("S", 5, 60), A: number("A", 1, 30)},
		}).Draw(t, "soil")
		p := simulate.Plot{
			AreaM2: number("area", 0.1, 1), Rain: []simulate.RainStep{{UntilMin: 10, IntensityMMH: rain}, {UntilMin: 30, IntensityMMH: rain * number("change", 0.5, 2)}},
			Soil: soil, DepressionMM: number("depressions", 0, 3), ReservoirMin: number("reservoir", 0, 2), FlowExponent: number("exponent", 1, 2),
			ConcentrationGL: 8, ConcentrationEndGL: 8, StepS: 2,
		}
		tr := p.Simulate()
		stored := tr.RainMM - tr.InfiltrationMM - tr.RunoffRainMM*(1-8.0/2650)
		if stored < -1e-9 || p.ReservoirMin == 0 && stored > p.DepressionMM+1e-9 {
			t.Fatalf("%v mm are on the surface at the end of rain", stored)
		}
		if tr.OnsetMin.OK && math.Abs(tr.ConcentrationGL.V-8) > 1e-9 {
			t.Fatalf("concentration %v, want 8", tr.ConcentrationGL.V)
		}
		bottles := tr.Collect(simulate.Schedule{N: 7}, simulate.Instruments{}, rand.New(rand.NewPCG(1, 1)))
		sum := 0.0
		for _, b := range bottles {
			sum += b.VolumeML
		}
		if want := tr.RunoffRainMM * p.AreaM2 * 1000; math.Abs(sum-want) > 1e-6*(1+want) {
			t.Fatalf("bottles hold %v mL of %v", sum, want)
		}
	})
}

func TestSameSeedSameBottles(t *testing.T) {
	p := simulate.Plot{AreaM2: 1, Rain: simulate.ConstantRain(60, 30), Soil: simulate.Philip{S: 15, A: 8}, RecessionMin: 3}
	tr := p.Simulate()
	s := simulate.Schedule{N: 6, AtOnset: true, GapMin: 0.1, RecessionMin: 3}
	collect := func(seed uint64) []simulate.Bottle {
		return tr.Collect(s, simulate.FieldInstruments(), rand.New(rand.NewPCG(seed, 0)))
	}
	a := collect(5)
	if !reflect.DeepEqual(a, collect(5)) {
		t.Error("the same seed gives other bottles")
	}
	if reflect.DeepEqual(a, collect(6)) {
		t.Error("another seed gives the same bottles")
	}
	if len(a) != 7 || !a[6].Recession {
		t.Errorf("%d bottles, the last of the recession: %v; want 7 and true", len(a), a[len(a)-1].Recession)
	}
	for _, b := range a {
		if math.Mod(b.VolumeML, 5) != 0 {
			t.Errorf("volume %v mL was not read to 5 mL", b.VolumeML)
		}
	}
}
