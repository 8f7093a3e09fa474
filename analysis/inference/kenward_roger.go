package inference

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"sheetwash/analysis/quantity"
)

// KenwardRoger returns l'b with the error and degrees of freedom of Kenward and
// Roger, which allow for the variances being estimated.
//
//	C_A = C + 2 C (sum W_ij (Q_ij - P_i C P_j)) C,  P_i = -X'V^-1 G_i V^-1 X,  Q_ij = X'V^-1 G_i V^-1 G_j V^-1 X
//	W = 2 [tr(V^-1 G_i V^-1 G_j) - 2 tr(C Q_ij) + tr(C P_i C P_j)]^-1
//	df = 2/A,  A = sum W_ij (l'C P_i C l)(l'C P_j C l)/(l'C l)²
//
// G_i is Z_i Z_i' and the identity; a variance of zero counts as estimated. Source: Kenward & Roger (1997), Biometrics
// 53:983-997. Nothing where the model has no answer.
func (r MixedModel) KenwardRoger(l []float64) (Coefficient, quantity.Optional) {
	f := r.fit
	if f == nil || len(l) != len(f.columns) || len(r.Variances) == 0 {
		return Coefficient{}, quantity.None()
	}
	at := f.at(f.ratio)
	var vinv, c, vx mat.Dense
	vinv.Scale(1/at.sigma2, f.inverseOf(f.ratio))
	c.Scale(at.sigma2, at.inverse)
	vx.Mul(&vinv, f.x)
	q, p := len(f.ratio)+1, len(l)
	vg := make([]*mat.Dense, q) // V^-1 G_i
	pi := make([]*mat.Dense, q)
	for i := range q {
		vg[i] = f.times(i, &vinv)
		var gx, m mat.Dense
		gx.Mul(vg[i], &vx) // V^-1 G V^-1 X
		m.Mul(f.x.T(), &gx)
		m.Scale(-1, &m)
		pi[i] = &m
	}
	qij := make([][]*mat.Dense, q)
	info := mat.NewSymDense(q, nil)
	for i := range q {
		qij[i] = make([]*mat.Dense, q)
		for j := range q {
			var gx, ggx, m mat.Dense
			gx.Mul(vg[j], &vx)
			ggx.Mul(vg[i], &gx)
			m.Mul(f.x.T(), &ggx)
			qij[i][j] = &m
			if j >= i {
				var cq, cp, cpcp mat.Dense
				cq.Mul(&c, &m)
				cp.Mul(&c, pi[i])
				var cj mat.Dense
				cj.Mul(&c, pi[j])
				cpcp.Mul(&cp, &cj)
				info.SetSym(i, j, traceOf(vg[i], vg[j])-2*cq.Trace()+cpcp.Trace())
			}
		}
	}
	var chol mat.Cholesky
	var w mat.SymDense
	if !chol.Factorize(info) || chol.InverseTo(&w) != nil {
		return Coefficient{}, quantity.None()
	}
	u := mat.NewDense(p, p, nil)
	for i := range q {
		for j := range q {
			var pc, pcp, d mat.Dense
			pc.Mul(pi[i], &c)
			pcp.Mul(&pc, pi[j])
			d.Sub(qij[i][j], &pcp)
			d.Scale(2*w.At(i, j), &d)
			u.Add(u, &d)
		}
	}
	var cu, lambda, adjusted mat.Dense
	cu.Mul(&c, u)
	lambda.Mul(&cu, &c)
	lambda.Scale(2, &lambda)
	adjusted.Add(&c, &lambda)
	plain := quadratic(&c, l)
	a := 0.0
	slope := make([]float64, q)
	for i := range q {
		var cp, cpc mat.Dense
		cp.Mul(&c, pi[i])
		cpc.Mul(&cp, &c)
		slope[i] = quadratic(&cpc, l) / plain
	}
	for i := range q {
		for j := range q {
			a += 2 * w.At(i, j) * slope[i] * slope[j]
		}
	}
	value := 0.0
	for j, v := range l {
		value += v * at.b.AtVec(j)
	}
	se, df := math.Sqrt(quadratic(&adjusted, l)), 2/a
	k := Coefficient{Value: quantity.Some(value), SE: quantity.Some(se)}
	if !(se > 0) || !(df > 0) || math.IsInf(df, 1) {
		return k, quantity.None()
	}
	k.T = quantity.Some(value / se)
	if pv, err := TTwoSided(k.T.V, df); err == nil {
		k.P = quantity.Some(pv)
	}
	h := critical(r.Level, df) * se
	k.Low, k.High = quantity.Some(value-h), quantity.Some(value+h)
	return k, quantity.Some(df)
}

func traceOf(a, b *mat.Dense) float64 {
	n, _ := a.Dims()
	t := 0.0
	for i := range n {
		for j := range n {
			t += a.At(i, j) * b.At(j, i)
		}
	}
	return t
}
