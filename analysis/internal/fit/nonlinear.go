package fit

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// ErrNotFitted is returned where no start leads to a minimum.
var ErrNotFitted = errors.New("no start leads to a minimum")

// Nonlinear is the problem of fitting y = Model(x, parameters) by weighted
// least squares.
type Nonlinear struct {
	Model   func(x float64, parameters []float64) float64
	X, Y, U []float64 // U: standard uncertainties of Y; nil: equal and unknown
}

// Minimum is a solution of a Nonlinear.
type Minimum struct {
	Parameters []float64
	// StandardErrors scale with the scatter about the model, sqrt(RSS/(n-p));
	// nil where n <= p or the parameters cannot be told apart.
	StandardErrors []float64
	RSS            float64 // sum of squared residuals, over U where that is given
}

// Levenberg and Marquardt: damping shrinks by this after a step that helps and
// grows by it after one that does not.
const (
	damping       = 10.0
	mostSteps     = 400
	mostDamping   = 1e16
	leastProgress = 1e-15 // relative change of the sum of squares that ends the search
)

// Fit returns the lowest minimum that the starts lead to, by damped
// Gauss-Newton steps (Marquardt 1963, J. Soc. Ind. Appl. Math. 11:431-441) with
// derivatives by central differences.
func (p *Nonlinear) Fit(starts ...[]float64) (Minimum, error) {
	best := Minimum{RSS: math.Inf(1)}
	for _, s := range starts {
		if m, ok := p.descend(s); ok && m.RSS < best.RSS {
			best = m
		}
	}
	if math.IsInf(best.RSS, 1) {
		return Minimum{}, ErrNotFitted
	}
	best.StandardErrors = p.standardErrors(best)
	return best, nil
}

// descend walks down from a start until no step helps.
func (p *Nonlinear) descend(start []float64) (Minimum, bool) {
	b := append([]float64(nil), start...)
	rss := p.sum(b)
	if math.IsNaN(rss) || math.IsInf(rss, 0) {
		return Minimum{}, false
	}
	lambda := 1e-3
	for range mostSteps {
		jtj, jtr := p.normal(b)
		moved := false
		for ; lambda < mostDamping; lambda *= damping {
			next, ok := step(b, jtj, jtr, lambda)
			if !ok {
				continue
			}
			if s := p.sum(next); s <= rss { // false for NaN
				moved = rss-s > leastProgress*rss
				b, rss = next, s
				lambda = math.Max(lambda/damping, 1e-12)
				break
			}
		}
		if !moved {
			break
		}
	}
	return Minimum{Parameters: b, RSS: rss}, true
}

func (p *Nonlinear) residual(i int, b []float64) float64 {
	r := p.Y[i] - p.Model(p.X[i], b)
	if p.U != nil {
		r /= p.U[i]
	}
	return r
}

func (p *Nonlinear) sum(b []float64) float64 {
	s := 0.0
	for i := range p.Y {
		r := p.residual(i, b)
		s += r * r
	}
	return s
}

// normal returns J'J and J'r of the residuals.
func (p *Nonlinear) normal(b []float64) (*mat.SymDense, *mat.VecDense) {
	n := len(b)
	jtj, jtr := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	row, at := make([]float64, n), append([]float64(nil), b...)
	for i := range p.Y {
		for j := range b {
			h := 6e-6 * math.Max(math.Abs(b[j]), 1e-8) // the cube root of the precision
			at[j] = b[j] + h
			up := p.residual(i, at)
			at[j] = b[j] - h
			row[j] = (p.residual(i, at) - up) / (2 * h)
			at[j] = b[j]
		}
		jtj.SymRankOne(jtj, 1, mat.NewVecDense(n, row))
		jtr.AddScaledVec(jtr, p.residual(i, b), mat.NewVecDense(n, row))
	}
	return jtj, jtr
}

// step returns b + (J'J + lambda diag J'J)^-1 J'r.
func step(b []float64, jtj *mat.SymDense, jtr *mat.VecDense, lambda float64) ([]float64, bool) {
	n := len(b)
	damped := mat.NewSymDense(n, nil)
	damped.CopySym(jtj)
	for j := range n {
		damped.SetSym(j, j, jtj.At(j, j)*(1+lambda))
	}
	var c mat.Cholesky
	var d mat.VecDense
	if !c.Factorize(damped) || c.SolveVecTo(&d, jtr) != nil {
		return nil, false
	}
	next := make([]float64, n)
	for j := range next {
		next[j] = b[j] + d.AtVec(j)
	}
	return next, true
}

func (p *Nonlinear) standardErrors(m Minimum) []float64 {
	free := len(p.Y) - len(m.Parameters)
	jtj, _ := p.normal(m.Parameters)
	var c mat.Cholesky
	var inverse mat.SymDense
	if free < 1 || !c.Factorize(jtj) || c.InverseTo(&inverse) != nil {
		return nil
	}
	out := make([]float64, len(m.Parameters))
	for j := range out {
		out[j] = math.Sqrt(inverse.At(j, j) * m.RSS / float64(free))
	}
	return out
}
