package gum

import "math"

// Line is one line of an uncertainty budget.
type Line struct {
	Input
	Sensitivity  float64 // change of the value per change of the input
	Contribution float64 // |sensitivity| u: in quadrature they make the value's u
}

// Lines returns the uncertainty budget of a model: a line per input, in their
// order. Its sensitivities are those of Propagate; for a model that is not near
// linear the contributions then make the first-order uncertainty, which is not that
// of the draws. It reports false where the model has no value.
//
//	contribution_i = |c_i| u_i
//
// Source: [GUM2008] 5.1.3; for the form, its table H.1.
func Lines(f Model, in []Input) ([]Line, bool) {
	x := make([]float64, len(in))
	for i := range in {
		x[i] = in[i].Value
	}
	if _, ok := f(x); !ok {
		return nil, false
	}
	out := make([]Line, len(in))
	for i := range in {
		out[i].Input = in[i]
		step := fine * in[i].U
		if step == 0 {
			step = 1e-6 * max(1e-6, math.Abs(in[i].Value))
		}
		c, ok := slope(f, x, i, step)
		if !ok {
			return nil, false
		}
		out[i].Sensitivity = c
		out[i].Contribution = math.Abs(c) * in[i].U
	}
	return out, true
}

// slope is the central difference of a model at input i, or that of the side on
// which it has an answer.
func slope(f Model, x []float64, i int, step float64) (float64, bool) {
	at := x[i]
	y, _ := f(x)
	x[i] = at + step
	up, okUp := f(x)
	x[i] = at - step
	down, okDown := f(x)
	x[i] = at
	switch {
	case okUp && okDown:
		return (up - down) / (2 * step), true
	case okUp:
		return (up - y) / step, true
	case okDown:
		return (y - down) / step, true
	}
	return 0, false
}

// Budget is where the uncertainty of one value comes from.
type Budget struct {
	Quantity, Method string
	Unit             string
	Model            string // the equation, in the names of the lines
	Value, U         float64
	Lines            []Line
	// Simulated says that U comes from draws; the contributions then do not make it.
	Simulated bool
}

// NewBudget returns the budget of a model at its inputs, with the value and the first-order
// uncertainty. It reports false where the model has no value.
func NewBudget(f Model, in []Input) (Budget, bool) {
	lines, ok := Lines(f, in)
	if !ok {
		return Budget{}, false
	}
	x := make([]float64, len(in))
	for i := range in {
		x[i] = in[i].Value
	}
	y, _ := f(x)
	b := Budget{Value: y, Lines: lines}
	b.U = b.InQuadrature()
	return b, true
}

// InQuadrature returns the standard uncertainty that the lines make.
func (b *Budget) InQuadrature() float64 {
	var s float64
	for i := range b.Lines {
		s += b.Lines[i].Contribution * b.Lines[i].Contribution
	}
	return math.Sqrt(s)
}
