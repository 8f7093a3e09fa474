package infiltration_test

import (
	"errors"
	"math"
	"testing"

	"sheetwash/analysis/infiltration"
)

// Each expected value is worked by hand from the equation beside it.
func TestClosedForms(t *testing.T) {
	v := value(t)
	philip := infiltration.Philip{S: 5, A: 0.4}
	lewis := infiltration.KostiakovLewis{A: 3, B: 0.5, FC: 0.2}
	smith := infiltration.SmithParlange{K: 1, G: 2}
	for _, tt := range []struct {
		name      string
		got, want float64
	}{
		{"Philip depth, 5 sqrt(4) + 0.4 4", v(philip.Depth(4)), 11.6},
		{"Philip rate, 5/(2 sqrt(4)) + 0.4", v(philip.Rate(4)), 1.65},
		{"Kostiakov-Lewis depth, 3 sqrt(4) + 0.2 4", v(lewis.Depth(4)), 6.8},
		{"Kostiakov-Lewis rate, 1.5/sqrt(4) + 0.2", v(lewis.Rate(4)), 0.95},
		{"Kostiakov-Lewis ponding, t0 = 1, Fp = 3 + 0.2, over 1.7", v(lewis.PondingTime(1.7)), 3.2 / 1.7},
		{"Kostiakov, which is Kostiakov-Lewis without fc", v(infiltration.KostiakovLewis{A: 3, B: 0.5}.Depth(9)), 9},
		{"Smith-Parlange rate at F = 2 ln 2, 1/(1 - 1/2)", v(smith.Rate(2 * math.Ln2)), 2},
		{"Smith-Parlange depth at t = 2 ln 2 - 1", v(smith.Depth(2*math.Ln2 - 1)), 2 * math.Ln2},
		{"Smith-Parlange depth at no time", v(smith.Depth(0)), 0},
	} {
		if math.Abs(tt.got-tt.want) > 1e-12 {
			t.Errorf("%s: got %v, want %v", tt.name, tt.got, tt.want)
		}
	}
}

func TestClosedFormsRefuseWhatHasNoValue(t *testing.T) {
	fails := func(_ float64, err error) bool { return errors.Is(err, infiltration.ErrModel) }
	for name, refused := range map[string]bool{
		"Philip rate at time 0":            fails(infiltration.Philip{S: 5, A: 1}.Rate(0)),
		"Philip without S":                 fails(infiltration.Philip{A: 1}.Depth(1)),
		"Philip before the start":          fails(infiltration.Philip{S: 5}.Depth(-1)),
		"Kostiakov-Lewis with b = 1":       fails(infiltration.KostiakovLewis{A: 1, B: 1}.Depth(1)),
		"Kostiakov-Lewis rate at time 0":   fails(infiltration.KostiakovLewis{A: 1, B: 0.5}.Rate(0)),
		"Kostiakov-Lewis before the start": fails(infiltration.KostiakovLewis{A: 1, B: 0.5}.Depth(-1)),
		"Kostiakov-Lewis below fc":         fails(infiltration.KostiakovLewis{A: 1, B: 0.5, FC: 3}.PondingTime(2)),
		"Kostiakov-Lewis NaN":              fails(infiltration.KostiakovLewis{A: math.NaN(), B: 0.5}.PondingTime(2)),
		"Smith-Parlange without G":         fails(infiltration.SmithParlange{K: 1}.Depth(1)),
		"Smith-Parlange at depth 0":        fails(infiltration.SmithParlange{K: 1, G: 2}.Rate(0)),
		"Smith-Parlange at no time at all": fails(infiltration.SmithParlange{K: 1, G: 2}.Depth(math.NaN())),
		"rates at three times":             noFit([]float64{1, 2, 3}, []float64{3, 2, 1}),
		"rates at the same time":           noFit([]float64{1, 1, 1, 1}, []float64{3, 2, 1, 1}),
		"rates that are all the same":      noFit([]float64{1, 2, 3, 4, 5}, []float64{2, 2, 2, 2, 2}),
		"rates that are no numbers":        noFit([]float64{1, 2, 3, 4, 5}, []float64{2, math.Inf(1), 2, 2, 2}),
		"rates that are nothing":           noFit([]float64{1, 2, 3, 4, 5}, make([]float64, 5)),
	} {
		if !refused {
			t.Errorf("%s: no error", name)
		}
	}
}

func noFit(t, rate []float64) bool {
	_, err := infiltration.HortonPoints(t, rate)
	return errors.Is(err, infiltration.ErrModel)
}
