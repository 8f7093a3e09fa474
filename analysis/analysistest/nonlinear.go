package analysistest

import (
	"math"

	"sheetwash/analysis/internal/fit"
)

// Fitted is a nonlinear regression: parameters, their standard errors, residual
// sum of squares and residual standard deviation.
type Fitted struct {
	B, SE    []float64
	RSS, RSD float64
}

// Nonlinear fits y = model(x, b) by least squares with the program's own fitter,
// which only packages below analysis can call.
func Nonlinear(model func(x float64, b []float64) float64, x, y []float64, start []float64) (Fitted, error) {
	p := fit.Nonlinear{Model: func(i int, b []float64) float64 { return model(x[i], b) }, Y: y}
	m, err := p.Fit(start)
	if err != nil {
		return Fitted{}, err
	}
	return Fitted{B: m.Parameters, SE: m.StandardErrors, RSS: m.RSS, RSD: math.Sqrt(m.RSS / float64(len(y)-len(start)))}, nil
}
