package infiltration_test

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis/infiltration"
)

// value drops the error of a method whose arguments are right.
func value(t *testing.T) func(float64, error) float64 {
	return func(v float64, err error) float64 {
		t.Helper()
		if err != nil {
			t.Error(err)
		}
		return v
	}
}

// Expected values: published worked examples, with half a unit of the last
// printed digit as the tolerance, and the cited equations worked by hand.
func TestModels(t *testing.T) {
	v := value(t)
	chow := infiltration.GreenAmpt{K: 0.65, PsiTheta: 5.68} // silt loam, 30 % effective saturation; cm, h
	clay := infiltration.GreenAmpt{K: 0.05, PsiTheta: 9.88} // silty clay of Rawls et al. 1983; cm, h
	exercise := infiltration.Horton{F0: 8, FC: 0.5, K: 0.4} // cm, h
	for _, tt := range []struct {
		name           string
		got, want, tol float64
	}{
		{"Green-Ampt depth (Chow, Maidment & Mays 1988, example 4.3.1)", v(chow.Depth(1)), 3.17, 0.005},
		{"ponding time (Chow et al., example 4.4.1)", v(chow.PondingTime(1)), 10.5, 0.06},
		{"ponding depth (Chow et al., example 4.4.1)", v(chow.PondingDepth(5)), 0.85, 0.005},
		{"depth under rain (Chow et al., example 4.4.2)", v(chow.DepthUnderRain(5, 1)), 3.02, 0.005},
		{"rate under rain (Chow et al., example 4.4.2)", v(chow.RateUnderRain(5, 1)), 1.87, 0.005},
		{"depth at 1.5 h (coursework table, silty clay)", v(clay.Depth(1.5)), 1.26, 0.011},
		{"depth at 2 h (coursework table, silty clay)", v(clay.Depth(2)), 1.47, 0.011},
		{"rate at 2 h (coursework table, silty clay)", v(clay.Rate(2)), 0.39, 0.0062},
		{"rate at 3 h (coursework table, silty clay)", v(clay.Rate(3)), 0.32, 0.0062},
		{"depth at 3.5 h (coursework table, silty clay)", v(clay.Depth(3.5)), 1.97, 0.011},
		{"depth at 5 h (coursework table, silty clay)", v(clay.Depth(5)), 2.39, 0.011},
		{"depth at 6 h (coursework table, silty clay)", v(clay.Depth(6)), 2.64, 0.011},
		{"rate at 6 h (coursework table, silty clay)", v(clay.Rate(6)), 0.24, 0.0062},
		{"depth at 0.1 h, converged (the table prints 0.29)", v(clay.Depth(0.1)), 0.3177, 0.0005},
		{"ponding time (Mein & Larson 1973)", v(infiltration.GreenAmpt{K: 0.65, PsiTheta: 5.78}.PondingTime(1.5)), 2.946667, 1e-5},
		{"ponding time, K halved", v(infiltration.GreenAmpt{K: 0.325, PsiTheta: 5.78}.PondingTime(1.5)), 1.065816, 1e-5},
		{"rate at a front below ponded water", v(infiltration.RateAtFront(0.65, 17, 2.5, 30)), 1.0725, 1e-6},
		{"Horton rate (graduate hydrology exercise)", v(exercise.Rate(2)), 3.87, 0.0005},
		{"Horton depth from 2 to 5 h (same)", v(exercise.Depth(2, 5)), 7.387, 0.0005},
		{"Horton rate, in/h", v(infiltration.Horton{F0: 3, FC: 0.53, K: 4.182}.Rate(0.5)), 0.8352, 1e-5},
		// f = i at t = ln(7.5/1.5)/0.4 = 4.0236 h, F = 2.0118 + 7.5 (1 - 0.2)/0.4 = 17.0118
		{"Horton ponding depth, worked by hand", v(exercise.PondingDepth(2)), 17.0118, 5e-5},
		{"Horton ponds at once", v(exercise.PondingDepth(9)), 0, 0},
		{"Philip ponding time by time condensation", v(infiltration.PhilipPondingTime(5, 0.4, 5)), 0.567108, 1e-6},
		{"Smith & Parlange 1978 ponding depth", v(infiltration.SmithParlangePondingDepth(5.68, 0.65, 5)), 0.791009, 1e-6},
	} {
		if math.Abs(tt.got-tt.want) > tt.tol {
			t.Errorf("%s: got %v, want %v ± %v", tt.name, tt.got, tt.want, tt.tol)
		}
	}
}

func TestModelsRefuseWhatHasNoValue(t *testing.T) {
	fails := func(_ float64, err error) bool { return errors.Is(err, infiltration.ErrModel) }
	green := infiltration.GreenAmpt{K: 10, PsiTheta: 20}
	horton := infiltration.Horton{F0: 50, FC: 10, K: 4}
	for name, refused := range map[string]bool{
		"Green-Ampt never ponds at K":       fails(green.PondingTime(10)),
		"Green-Ampt rate at time 0":         fails(green.Rate(0)),
		"Green-Ampt before the start":       fails(green.Depth(-1)),
		"Green-Ampt without K":              fails(infiltration.GreenAmpt{PsiTheta: 20}.Depth(1)),
		"Green-Ampt NaN":                    fails(infiltration.GreenAmpt{K: math.NaN(), PsiTheta: 20}.Depth(1)),
		"Horton never ponds at fc":          fails(horton.PondingDepth(10)),
		"Horton that rises":                 fails(infiltration.Horton{F0: 5, FC: 10, K: 4}.Rate(1)),
		"Horton without k":                  fails(infiltration.Horton{F0: 50, FC: 10}.Depth(0, 1)),
		"Horton with a negative fc":         fails(infiltration.Horton{F0: 50, FC: -1, K: 4}.Depth(0, 1)),
		"Philip never ponds at A":           fails(infiltration.PhilipPondingTime(5, 5, 5)),
		"Smith-Parlange never ponds at K":   fails(infiltration.SmithParlangePondingDepth(5, 5, 5)),
		"front at the surface":              fails(infiltration.RateAtFront(1, 10, 0, 0)),
		"Green-Ampt under rain that is NaN": fails(green.RateUnderRain(math.NaN(), 1)),
	} {
		if !refused {
			t.Errorf("%s: no error", name)
		}
	}
}

// The depth solves its own equation, and rate is its slope.
func TestGreenAmptSolvesItsEquation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := infiltration.GreenAmpt{K: rapid.Float64Range(1e-3, 1e3).Draw(t, "K"), PsiTheta: rapid.Float64Range(1e-3, 1e3).Draw(t, "psi dtheta")}
		at := rapid.Float64Range(1e-6, 100).Draw(t, "t")
		depth, err := g.Depth(at)
		if err != nil {
			t.Fatal(err)
		}
		if got := depth - g.PsiTheta*math.Log1p(depth/g.PsiTheta); math.Abs(got-g.K*at) > 1e-9*(depth+g.K*at) {
			t.Fatalf("F = %v: left side %v, right side %v", depth, got, g.K*at)
		}
	})
}
