package inference

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// The linear models of treatments and blocks are small and well conditioned:
// gonum's QR decomposition in doubles is right for them. MultipleRegression is for designs that are not.

// linearModel is a least-squares fit of columns of full rank.
type linearModel struct {
	b       []float64
	inverse *mat.Dense // (X'X)^-1
	rss     float64
	df      int
}

// rankTolerance is the smallest diagonal of R, next to the largest, that counts.
const rankTolerance = 1e-10

func fitLinear(columns [][]float64, y []float64) (linearModel, bool) {
	n, p := len(y), len(columns)
	if n < p || p == 0 {
		return linearModel{}, false
	}
	x := mat.NewDense(n, p, nil)
	for j, c := range columns {
		x.SetCol(j, c)
	}
	var qr mat.QR
	qr.Factorize(x)
	var r mat.Dense
	qr.RTo(&r)
	largest := 0.0
	for j := range p {
		largest = math.Max(largest, math.Abs(r.At(j, j)))
	}
	for j := range p {
		if !(math.Abs(r.At(j, j)) > rankTolerance*largest) {
			return linearModel{}, false
		}
	}
	b := mat.NewVecDense(p, nil)
	v := mat.NewVecDense(n, append([]float64(nil), y...))
	if err := qr.SolveVecTo(b, false, v); err != nil {
		return linearModel{}, false
	}
	upper := mat.NewTriDense(p, mat.Upper, nil)
	for i := range p {
		for j := i; j < p; j++ {
			upper.SetTri(i, j, r.At(i, j))
		}
	}
	var rinv mat.TriDense
	if err := rinv.InverseTri(upper); err != nil {
		return linearModel{}, false
	}
	m := linearModel{b: append([]float64(nil), b.RawVector().Data...), df: n - p, inverse: mat.NewDense(p, p, nil)}
	m.inverse.Mul(&rinv, rinv.T())
	for i := range y {
		e := y[i]
		for j := range columns {
			e -= columns[j][i] * m.b[j]
		}
		m.rss += e * e
	}
	return m, true
}

// leastSquaresOf returns coefficients and residual sum of squares.
func leastSquaresOf(columns [][]float64, y []float64) ([]float64, float64, bool) {
	m, ok := fitLinear(columns, y)
	return m.b, m.rss, ok
}

// contrast returns c'b and c'(X'X)^-1 c.
func (m linearModel) contrast(c []float64) (value, variance float64) {
	for i, ci := range c {
		value += ci * m.b[i]
		for j, cj := range c {
			variance += ci * cj * m.inverse.At(i, j)
		}
	}
	return value, variance
}
