package inference

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// satterthwaite returns the degrees of freedom of the contrast l.
//
// With P = V^-1 - V^-1 X C X' V^-1 the observed information about the variances of
// -2 l_R/2 is y'P V_i P V_j P y - tr(P V_i P V_j)/2, and the slope of l'Cl by variance i is
// (V^-1 X C l)' V_i (V^-1 X C l). A grouping whose variance is zero stands still.
func (f *mixedFit) satterthwaite(l []float64, at mixedPoint) float64 {
	n, p := len(f.y), len(f.columns)
	s2 := at.sigma2
	var vinv mat.Dense
	vinv.Scale(1/s2, f.inverseOf(f.ratio))
	var vx, vxc, proj, pp mat.Dense
	vx.Mul(&vinv, f.x)
	var c mat.Dense
	c.Scale(s2, at.inverse)
	vxc.Mul(&vx, &c)
	pp.Mul(&vxc, vx.T())
	proj.Sub(&vinv, &pp)
	var py mat.Dense
	py.Mul(&proj, f.vy)
	lv := mat.NewDense(p, 1, slices.Clone(l))
	var z mat.Dense
	z.Mul(&vxc, lv)
	var live []int
	for k, r := range f.ratio {
		if r >= 1e-8 {
			live = append(live, k)
		}
	}
	live = append(live, len(f.ratio))
	q := len(live)
	g := make([]float64, q)
	pv := make([]*mat.Dense, q)  // P V_i
	vpy := make([]*mat.Dense, q) // V_i P y
	for i, k := range live {
		g[i] = f.form(k, &z)
		pv[i] = f.times(k, &proj)
		vpy[i] = mat.DenseCopyOf(f.times(k, mat.DenseCopyOf(py.T())).T())
	}
	info := mat.NewSymDense(q, nil)
	for i := range q {
		for j := i; j < q; j++ {
			trace := 0.0
			for a := range n {
				for b := range n {
					trace += pv[i].At(a, b) * pv[j].At(b, a)
				}
			}
			var u mat.Dense
			u.Mul(&proj, vpy[j]) // P V_j P y
			y := 0.0
			for a := range n {
				y += vpy[i].At(a, 0) * u.At(a, 0)
			}
			info.SetSym(i, j, y-trace/2)
		}
	}
	var chol mat.Cholesky
	v := mat.NewVecDense(q, nil)
	if !chol.Factorize(info) || chol.SolveVecTo(v, mat.NewVecDense(q, slices.Clone(g))) != nil {
		return math.NaN()
	}
	variance := s2 * quadratic(at.inverse, l)
	bottom := 0.0
	for i := range g {
		bottom += g[i] * v.AtVec(i)
	}
	return 2 * variance * variance / bottom
}

// form returns z' V_k z, V_k the derivative of V by variance k (identity for the residual).
func (f *mixedFit) form(k int, z *mat.Dense) float64 {
	if k == len(f.ratio) {
		s := 0.0
		for i := range f.y {
			s += z.At(i, 0) * z.At(i, 0)
		}
		return s
	}
	sums := make([]float64, f.levels[k])
	for i, m := range f.member[k] {
		sums[m] += z.At(i, 0)
	}
	s := 0.0
	for _, v := range sums {
		s += v * v
	}
	return s
}

// times returns m V_k.
func (f *mixedFit) times(k int, m *mat.Dense) *mat.Dense {
	if k == len(f.ratio) {
		return m
	}
	rows, n := m.Dims()
	out := mat.NewDense(rows, n, nil)
	sums := make([]float64, f.levels[k])
	for i := range rows {
		clear(sums)
		for j, g := range f.member[k] {
			sums[g] += m.At(i, j)
		}
		for j, g := range f.member[k] {
			out.Set(i, j, sums[g])
		}
	}
	return out
}
