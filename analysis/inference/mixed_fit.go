package inference

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// mixedFit holds the data of a mixed model and the ratios of the variances of its
// groupings to the residual one.
type mixedFit struct {
	y       []float64
	columns [][]float64
	member  [][]int // level of each value, by grouping
	levels  []int
	ratio   []float64

	x, vy *mat.Dense
	start []float64 // coefficients of ordinary least squares
	// Products of the columns X, the residual e of ordinary least squares and the
	// indicators Z of all levels.
	owner      []int      // grouping of each level
	zz, zw, ww *mat.Dense // Z'Z, Z'(X | e), (X | e)'(X | e)
}

func newMixedFit(y []float64, columns [][]float64, groups [][]string) *mixedFit {
	f := &mixedFit{y: y, columns: columns, ratio: make([]float64, len(groups))}
	for _, g := range groups {
		levels := appearances(g)
		m := make([]int, len(g))
		for i, l := range g {
			m[i] = slices.Index(levels, l)
		}
		f.member, f.levels = append(f.member, m), append(f.levels, len(levels))
	}
	f.x = mat.NewDense(len(y), len(columns), nil)
	for j, c := range columns {
		f.x.SetCol(j, c)
	}
	f.vy = mat.NewDense(len(y), 1, slices.Clone(y))
	f.start, _, _ = leastSquaresOf(columns, y)
	w := mat.NewDense(len(y), len(columns)+1, nil)
	for j, c := range columns {
		w.SetCol(j, c)
	}
	w.SetCol(len(columns), f.residuals(mat.NewVecDense(len(columns), slices.Clone(f.start))))
	for k, n := range f.levels {
		for range n {
			f.owner = append(f.owner, k)
		}
	}
	z := mat.NewDense(len(y), len(f.owner), nil)
	from := 0
	for k, m := range f.member {
		for i, l := range m {
			z.Set(i, from+l, 1)
		}
		from += f.levels[k]
	}
	f.zz, f.zw, f.ww = new(mat.Dense), new(mat.Dense), new(mat.Dense)
	f.zz.Mul(z.T(), z)
	f.zw.Mul(z.T(), w)
	f.ww.Mul(w.T(), w)
	return f
}

// mixedPoint is the model at given ratios.
type mixedPoint struct {
	ok                    bool
	b                     *mat.VecDense
	inverse               *mat.Dense // (X'H^-1X)^-1, H = V/s²
	logDetV, logDetX, rss float64
	sigma2                float64 // rss/(n-p)
}

// at solves the model for H = I + sum r_k Z_k Z_k'.
//
//	H^-1 = I - Z S A^-1 S Z',  A = I + S Z'Z S,  S = diag sqrt r,  ln|H| = ln|A|
//
// so that the work depends on the number of levels and not of values (Woodbury 1950). The response is the
// residual of ordinary least squares, whose coefficients are added again.
func (f *mixedFit) at(ratio []float64) mixedPoint {
	n, p, q := len(f.y), len(f.columns), len(f.owner)
	a := mat.NewSymDense(q, nil)
	s := make([]float64, q)
	for i, k := range f.owner {
		s[i] = math.Sqrt(ratio[k])
	}
	for i := range q {
		for j := i; j < q; j++ {
			v := s[i] * s[j] * f.zz.At(i, j)
			if i == j {
				v++
			}
			a.SetSym(i, j, v)
		}
	}
	var c mat.Cholesky
	if !c.Factorize(a) {
		return mixedPoint{}
	}
	szw := mat.NewDense(q, p+1, nil) // S Z' (X | e)
	for i := range q {
		for j := range p + 1 {
			szw.Set(i, j, s[i]*f.zw.At(i, j))
		}
	}
	var solved, cut mat.Dense
	if c.SolveTo(&solved, szw) != nil {
		return mixedPoint{}
	}
	cut.Mul(szw.T(), &solved)
	inside := mat.NewSymDense(p, nil) // X'H^-1X
	xe := mat.NewVecDense(p, nil)
	for i := range p {
		for j := i; j < p; j++ {
			inside.SetSym(i, j, f.ww.At(i, j)-(cut.At(i, j)+cut.At(j, i))/2)
		}
		xe.SetVec(i, f.ww.At(i, p)-cut.At(i, p))
	}
	var cx mat.Cholesky
	d := mat.NewVecDense(p, nil)
	var inv mat.SymDense
	if !cx.Factorize(inside) || cx.SolveVecTo(d, xe) != nil || cx.InverseTo(&inv) != nil {
		return mixedPoint{}
	}
	r := mixedPoint{ok: true, b: mat.NewVecDense(p, nil), inverse: mat.DenseCopyOf(&inv), logDetV: c.LogDet(), logDetX: cx.LogDet()}
	r.rss = f.ww.At(p, p) - cut.At(p, p) - mat.Dot(d, xe)
	r.sigma2 = r.rss / float64(n-p)
	for j := range p {
		r.b.SetVec(j, f.start[j]+d.AtVec(j))
	}
	return r
}

// inverseOf returns H^-1 in full.
func (f *mixedFit) inverseOf(ratio []float64) *mat.SymDense {
	n := len(f.y)
	h := mat.NewSymDense(n, nil)
	for i := range n {
		h.SetSym(i, i, 1)
	}
	for k, m := range f.member {
		for i := range n {
			for j := i; j < n; j++ {
				if m[i] == m[j] {
					h.SetSym(i, j, h.At(i, j)+ratio[k])
				}
			}
		}
	}
	out := mat.NewSymDense(n, nil)
	var c mat.Cholesky
	if !c.Factorize(h) || c.InverseTo(out) != nil {
		return mat.NewSymDense(n, nil)
	}
	return out
}

func (f *mixedFit) residuals(b *mat.VecDense) []float64 {
	e := slices.Clone(f.y)
	for i := range e {
		for j, c := range f.columns {
			e[i] -= c[i] * b.AtVec(j)
		}
	}
	return e
}

// criterion is -2 ln of the (restricted) likelihood with s² profiled out, less constants.
func (f *mixedFit) criterion(ratio []float64, restricted bool) float64 {
	at := f.at(ratio)
	if !at.ok || !(at.rss > 0) {
		return math.Inf(1)
	}
	n, p := float64(len(f.y)), float64(len(f.columns))
	if restricted {
		return at.logDetV + at.logDetX + (n-p)*math.Log(at.rss)
	}
	return at.logDetV + n*math.Log(at.rss)
}

// maximise searches the ratios one after the other until none moves.
func (f *mixedFit) maximise(restricted bool) {
	f.ratio = make([]float64, len(f.ratio))
	rounds := 1
	if len(f.ratio) > 1 {
		rounds = 60
	}
	for range rounds {
		before := slices.Clone(f.ratio)
		for k := range f.ratio {
			f.ratio[k] = f.search(k, restricted)
		}
		moved := 0.0
		for k := range before {
			moved = math.Max(moved, math.Abs(f.ratio[k]-before[k])/(1+before[k]))
		}
		if moved < 1e-9 {
			return
		}
	}
}

// search minimises the criterion in one ratio, on the scale s = sqrt r, by a grid
// and golden sections, refined by parabolas through three points.
func (f *mixedFit) search(k int, restricted bool) float64 {
	ratio := slices.Clone(f.ratio)
	value := func(s float64) float64 {
		ratio[k] = s * s
		return f.criterion(ratio, restricted)
	}
	best, top := 0.0, value(0)
	grid := []float64{0, 0.05, 0.1, 0.2, 0.4, 0.7, 1, 1.5, 2.2, 3.5, 6, 12, 30, 100, 1000}
	at := 0
	for i, s := range grid[1:] {
		if v := value(s); v < top {
			best, top, at = s, v, i+1
		}
	}
	lo, hi := grid[max(0, at-1)], grid[min(len(grid)-1, at+1)]
	lo, hi = golden(value, lo, hi, 45, 1e-6)
	m := (lo + hi) / 2
	if v := value(m); v <= top {
		best, top = m, v
	}
	// Values near a minimum say no more than half the digits: the root of the
	// slope, by a centred difference over a wide step, gives the rest.
	if best > 1e-4 {
		d := 1e-3 * best
		for range 4 {
			l, c, u := value(best-d), value(best), value(best+d)
			curve := l - 2*c + u
			if !(curve > 0) {
				break
			}
			best -= d * (u - l) / (2 * curve)
		}
	}
	if value(0) <= value(best) {
		return 0
	}
	return best * best
}

// predictions returns the best linear unbiased predictions, r_k Z_k' H^-1 (y - Xb).
func (f *mixedFit) predictions(at mixedPoint) [][]float64 {
	e := mat.NewVecDense(len(f.y), f.residuals(at.b))
	var he mat.VecDense
	he.MulVec(f.inverseOf(f.ratio), e)
	out := make([][]float64, len(f.ratio))
	for k, ratio := range f.ratio {
		out[k] = make([]float64, f.levels[k])
		for i, m := range f.member[k] {
			out[k][m] += ratio * he.AtVec(i)
		}
	}
	return out
}
