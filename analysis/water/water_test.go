package water_test

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis/water"
)

// The two equations for density are fits to different measurements: they agree
// within 0.01 kg/m3 where both hold (Tanaka et al. 2001 discuss 0.003 to 0.006).
func TestDensitiesAgree(t *testing.T) {
	for tC := 0.0; tC <= 40; tC += 0.5 {
		a, errA := water.Density(tC)
		b, errB := water.DensityKell(tC)
		if errA != nil || errB != nil || math.Abs(a-b) > 0.01 {
			t.Errorf("at %v Cel: %v and %v kg/m3 (%v, %v)", tC, a, b, errA, errB)
		}
	}
}

func TestTemperatureOutOfRange(t *testing.T) {
	for _, tt := range []struct {
		name string
		f    func(float64) (float64, error)
		bad  []float64
	}{
		{"Density", water.Density, []float64{-0.1, 40.1, math.NaN(), math.Inf(1)}},
		{"DensityKell", water.DensityKell, []float64{-0.1, 150.1, math.NaN()}},
		{"Viscosity", water.Viscosity, []float64{-0.1, 70.1, math.NaN()}},
	} {
		for _, tC := range tt.bad {
			if v, err := tt.f(tC); !errors.Is(err, water.ErrTemperature) || v != 0 {
				t.Errorf("%s(%v) = %v, %v; want ErrTemperature", tt.name, tC, v, err)
			}
		}
	}
}

// 100 g per L of suspension leave 1 - 100/2650 = 0.962264 L for water:
// 103.9216 g per L of water. A litre of it weighs 100 + 0.962264 x 998.2 g =
// 1060.5319 g, so 94.2923 g per kg.
func TestBases(t *testing.T) {
	const tol = 1e-4
	c, ok := water.WaterBasis(100)
	if !ok || math.Abs(c-103.9216) > tol {
		t.Errorf("WaterBasis(100) = %v, %v; want 103.9216", c, ok)
	}
	if c := water.MassBasis(100, 998.2); math.Abs(c-94.2923) > tol {
		t.Errorf("MassBasis(100, 998.2) = %v; want 94.2923", c)
	}
	if c, ok := water.WaterBasis(2650); ok || c != 0 {
		t.Errorf("WaterBasis of solid grains = %v, %v; want none", c, ok)
	}
	for name, f := range map[string]func() (float64, bool){
		"PerLSuspension": water.Suspension{WaterKgM3: 998}.PerLSuspension,
		"PerLWater":      water.Suspension{WaterKgM3: 998, SedimentG: 1}.PerLWater,
		"PerKg":          water.Suspension{WaterKgM3: 998}.PerKg,
	} {
		if v, ok := f(); ok || v != 0 {
			t.Errorf("%s of nothing = %v, %v; want none", name, v, ok)
		}
	}
}

// The conversions between bases agree with the definitions on masses.
func TestBasesFollowMasses(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := water.Suspension{
			WaterG:    rapid.Float64Range(1, 5000).Draw(t, "water"),
			SedimentG: rapid.Float64Range(0, 2000).Draw(t, "sediment"),
			WaterKgM3: rapid.Float64Range(992, 1000).Draw(t, "density"),
		}
		c, _ := s.PerLSuspension()
		perL, _ := s.PerLWater()
		perKg, _ := s.PerKg()
		fromC, _ := water.WaterBasis(c)
		close := func(name string, got, want float64) {
			if math.Abs(got-want) > 1e-9*(1+math.Abs(want)) {
				t.Fatalf("%s: %v, want %v", name, got, want)
			}
		}
		close("water basis", fromC, perL)
		close("back to suspension", water.SuspensionBasis(perL), c)
		close("mass basis", water.MassBasis(c, s.WaterKgM3), perKg)
		close("volume of mass", water.VolumeOfMass(s.WaterG+s.SedimentG, c, s.WaterKgM3), s.VolumeML())
	})
}
