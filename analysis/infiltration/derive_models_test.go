package infiltration_test

import (
	"fmt"
	"math"
	"testing"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/infiltration"
	"sheetwash/analysis/quantity"
)

// declining are bottles of 2.5 min of a plot under 60 mm/h for half an hour: a Horton curve
// with errors of a few tenths of a mm/h, drawn once.
func declining(errors float64) infiltration.Input {
	in := infiltration.Input{IntensityMMH: 60, UIntensity: 1, RainMin: 30, OnsetMin: quantity.Some(5), UOnsetMin: 0.05, RanOff: true, Level: 0.95}
	for i, e := range []float64{0.3, -0.2, 0.4, -0.5, 0.1, 0.2, -0.3, 0, 0.2, -0.1} {
		start := 5 + 2.5*float64(i)
		f := 20 + 35*math.Exp(-0.15*(start-5))
		in.Intervals = append(in.Intervals, infiltration.Interval{StartMin: start, EndMin: start + 2.5, RateMMH: 60 - f + errors*e, U: 0.4})
	}
	return in
}

func derive(in infiltration.Input) *infiltration.Derivations {
	nodes := infiltration.Nodes{Intensity: derivation.Value("intensity", in.IntensityMMH, "mm/h"), RainMinutes: derivation.Value("minutes", in.RainMin, "min")}
	for _, iv := range in.Intervals {
		nodes.Rates = append(nodes.Rates, derivation.Value("rate", iv.RateMMH, "mm/h"))
	}
	return infiltration.Derive(in, nodes)
}

// Every parameter of every model, and both steady rates, follow from their trees,
// and the objective of each fit has no gradient in the parameters that are free.
func TestDerivations(t *testing.T) {
	for _, errors := range []float64{1, 0.01} {
		in := declining(errors)
		d := derive(in)
		answer := infiltration.Steady(in)
		for _, method := range []string{infiltration.FinalWindow, infiltration.HortonCurve} {
			n, ok := d.Steady("steady_infiltration_rate", method, &answer)
			check(t, method, &n, ok)
		}
		models := infiltration.Models(in)
		closed := 0
		for _, p := range append(answer.Parameters, models.Rows()...) {
			n, ok := d.Parameter(&p, &answer)
			if p.Value.OK && (n.Value == nil || !derivation.Same(*n.Value, p.Value.V)) {
				t.Errorf("%s %s: the tree is of another value", p.Model, p.Name)
			}
			check(t, p.Model+" "+p.Name, &n, ok)
			if n.Equation != "" {
				closed++
			}
		}
		if closed < 24 {
			t.Errorf("only %d parameters have an equation", closed)
		}
	}
}

func check(t *testing.T, what string, n *derivation.Node, ok bool) {
	t.Helper()
	if !ok {
		t.Errorf("%s: no derivation", what)
		return
	}
	if err := n.Check(); err != nil {
		t.Errorf("%s: %v", what, err)
	}
	if n.Fit == nil {
		return
	}
	for _, p := range n.Fit.Parameters {
		if p.Held != "" || p.Tied != "" {
			continue
		}
		if err := stationary(n.Fit, p); err != nil {
			t.Errorf("%s: %v", what, err)
		}
	}
}

// stationary checks that the gradient in a parameter is nothing beside the root of
// the curvature: the objective is then within 1e-10 of its least.
func stationary(f *derivation.Fit, p derivation.Parameter) error {
	at := func(v float64) float64 {
		o, err := f.At(map[string]float64{p.Name: v})
		if err != nil {
			return math.NaN()
		}
		return o
	}
	h := 1e-4 * math.Max(math.Abs(p.Value), 1e-3)
	var gradient, curvature float64
	for range 2 { // the second time with a step that suits the curvature
		up, least, down := at(p.Value+h), at(p.Value), at(p.Value-h)
		gradient, curvature = (up-down)/(2*h), (up-2*least+down)/(h*h)
		if curvature > 0 {
			h = math.Min(h, 1e-3/math.Sqrt(curvature))
		}
	}
	if !(curvature > 0) || math.Abs(gradient) > 1e-5*math.Sqrt(curvature) {
		return fmt.Errorf("%s = %v: gradient %v, curvature %v", p.Name, p.Value, gradient, curvature)
	}
	return nil
}
