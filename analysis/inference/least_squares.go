package inference

import (
	"fmt"
	"math"
	"math/big"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// Regression is a linear least-squares fit of several terms.
type Regression struct {
	Terms                []Coefficient // intercept first, where there is one
	N, DFModel, DFError  int
	SSModel, SSError     float64           // about the mean with an intercept, else about zero
	RSquared, ResidualSD quantity.Optional // RSquared uncentred without an intercept
	F, P                 quantity.Optional // missing for a perfect fit
	Level                float64
	Flags                result.Flags
}

// precision of the arithmetic of the normal equations, bits. Squaring the
// condition of the design costs twice its digits; of 300 there are plenty left,
// and samples are small.
const precision = 1024

// MultipleRegression fits y to columns and, if asked for, an intercept.
//
//	b = (X'X)^-1 X'y,  cov b = s² (X'X)^-1,  s² = rss/(n-p)
//
// The normal equations are solved in 1024-bit arithmetic, so that the answer is
// that of the numbers given and not of their rounding. Source: Draper & Smith (1998),
// ch. 5. Columns that depend on each other: flag not_defined; no more values
// than terms: flag n_small. Errors: ErrInput for NaN, unlike lengths or the level.
func MultipleRegression(columns [][]float64, y []float64, intercept bool, level float64) (Regression, error) {
	if err := checkFinite("y", y); err != nil {
		return Regression{}, err
	}
	for j, c := range columns {
		if err := checkLengths("a column", "y", len(c), len(y)); err != nil {
			return Regression{}, err
		}
		if err := checkFinite(fmt.Sprintf("column %d", j), c); err != nil {
			return Regression{}, err
		}
	}
	x := make([][]*big.Float, len(y))
	for i := range y {
		for _, c := range columns {
			x[i] = append(x[i], exact(c[i]))
		}
	}
	return leastSquares(x, y, intercept, level)
}

// Polynomial fits y to the powers 1 to degree of x and, if asked for, an
// intercept, as MultipleRegression does.
func Polynomial(x, y []float64, degree int, intercept bool, level float64) (Regression, error) {
	if err := checkLengths("x", "y", len(x), len(y)); err != nil {
		return Regression{}, err
	}
	if err := checkFinite("x", x); err != nil {
		return Regression{}, err
	}
	if err := checkFinite("y", y); err != nil {
		return Regression{}, err
	}
	if degree < 1 {
		return Regression{}, fmt.Errorf("%w: degree %d", ErrInput, degree)
	}
	rows := make([][]*big.Float, len(x))
	for i, v := range x {
		power := exact(v)
		for range degree {
			rows[i] = append(rows[i], power)
			power = product(power, exact(v))
		}
	}
	return leastSquares(rows, y, intercept, level)
}

func leastSquares(x [][]*big.Float, y []float64, intercept bool, level float64) (Regression, error) {
	r := Regression{N: len(y), Level: level}
	if err := checkLevel(level); err != nil {
		return r, err
	}
	if len(y) == 0 || len(x[0]) == 0 {
		r.Flags.Add(FlagNoData)
		return r, nil
	}
	r.DFModel = len(x[0])
	if intercept {
		for i := range x {
			x[i] = append([]*big.Float{exact(1)}, x[i]...)
		}
	}
	p := len(x[0])
	r.DFError = r.N - p
	if r.DFError < 0 {
		r.Flags.Add(FlagNSmall)
		return r, nil
	}
	b, inverse, ok := solveNormal(x, y)
	if !ok {
		r.Flags.Add(FlagNotDefined)
		return r, nil
	}
	r.sums(x, y, b, intercept)
	r.Terms = make([]Coefficient, p)
	for j := range b {
		r.Terms[j].Value = quantity.Some(double(b[j]))
	}
	if r.DFError == 0 {
		r.Flags.Add(FlagNSmall)
		return r, nil
	}
	s := math.Sqrt(r.SSError / float64(r.DFError))
	r.ResidualSD = quantity.Some(s)
	for j := range r.Terms {
		r.Terms[j].test(s*math.Sqrt(inverse[j]), r.DFError, level)
	}
	if r.Flags.Has(FlagPerfectFit) {
		return r, nil
	}
	r.F = quantity.Some(r.SSModel / float64(r.DFModel) / (s * s))
	if f, err := FUpper(r.F.V, float64(r.DFModel), float64(r.DFError)); err == nil {
		r.P = quantity.Some(f)
	}
	return r, nil
}

// sums fills the sums of squares.
func (r *Regression) sums(x [][]*big.Float, y []float64, b []*big.Float, intercept bool) {
	total, rest, centre := exact(0), exact(0), exact(0)
	largest := 0.0
	if intercept {
		for _, v := range y {
			centre.Add(centre, exact(v))
		}
		centre.Quo(centre, exact(float64(len(y))))
	}
	for i, v := range y {
		d := exact(v)
		d.Sub(d, centre)
		total.Add(total, product(d, d))
		e := exact(v)
		for j := range b {
			e.Sub(e, product(x[i][j], b[j]))
		}
		rest.Add(rest, product(e, e))
		largest = max(largest, math.Abs(v))
	}
	r.SSError = double(rest)
	r.SSModel = double(new(big.Float).SetPrec(precision).Sub(total, rest))
	if t := double(total); t > 0 {
		r.RSquared = quantity.Some(r.SSModel / t)
	}
	if !spread(largest, math.Sqrt(r.SSError/float64(len(y)))) {
		r.Flags.Add(FlagPerfectFit)
	}
}

// solveNormal returns the solution of the normal equations and the diagonal of
// the inverse of X'X, by Gauss-Jordan elimination with the pivots on the diagonal.
func solveNormal(x [][]*big.Float, y []float64) (b []*big.Float, inverse []float64, ok bool) {
	p := len(x[0])
	diagonal := make([]float64, p)
	m := make([][]*big.Float, p) // X'X | X'y | I
	for j := range m {
		m[j] = make([]*big.Float, 2*p+1)
		for k := range m[j] {
			m[j][k] = exact(0)
		}
		for i, row := range x {
			for k := range p {
				m[j][k].Add(m[j][k], product(row[j], row[k]))
			}
			m[j][p].Add(m[j][p], product(row[j], exact(y[i])))
		}
		m[j][p+1+j].SetInt64(1)
		diagonal[j] = double(m[j][j])
	}
	for j := range p {
		// A pivot that is rounding next to what it was before elimination
		// belongs to a column that depends on those before it.
		if pivot := double(m[j][j]); !(pivot > diagonal[j]*0x1p-100) {
			return nil, nil, false
		}
		inv := new(big.Float).SetPrec(precision).Quo(exact(1), m[j][j])
		for k := range m[j] {
			m[j][k] = product(m[j][k], inv)
		}
		for i := range m {
			if i == j || m[i][j].Sign() == 0 {
				continue
			}
			f := new(big.Float).Copy(m[i][j])
			for k := range m[i] {
				m[i][k].Sub(m[i][k], product(f, m[j][k]))
			}
		}
	}
	for j := range p {
		b = append(b, m[j][p])
		inverse = append(inverse, max(0, double(m[j][p+1+j])))
	}
	return b, inverse, true
}

func exact(v float64) *big.Float { return new(big.Float).SetPrec(precision).SetFloat64(v) }

func product(a, b *big.Float) *big.Float { return new(big.Float).SetPrec(precision).Mul(a, b) }

func double(v *big.Float) float64 {
	f, _ := v.Float64()
	return f
}
