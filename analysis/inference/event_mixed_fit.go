package inference

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// maximise climbs by the average information. A variance that a step takes below
// zero is set to zero, and let go again where the likelihood rises from there.
func (f *eventMixed) maximise() (mixedState, bool) {
	s2 := 0.0
	if f.free[2] {
		s2 = f.within.SS / f.within.DF / f.scale
	}
	at := f.state([3]float64{0.3, 0.3, s2})
	if !f.free[2] {
		at = f.state([3]float64{0.3, 0.5, 0})
	}
	for range 200 {
		if !at.ok {
			return at, false
		}
		active := f.free
		for i := range 2 {
			if at.v[i] == 0 && at.g[i] <= 0 {
				active[i] = false
			}
		}
		step, gain := averageStep(at, active)
		if gain < 1e-13 {
			return f.settle(at, active), true
		}
		moved := false
		for cut := 1.0; cut > 1e-10; cut /= 2 {
			v := at.v
			for i := range v {
				if active[i] {
					v[i] += cut * step[i]
				}
			}
			for i := range 2 {
				v[i] = math.Max(0, v[i])
			}
			if f.free[2] && !(v[2] > 0) || !f.free[2] && !(v[0]+v[1] > 0) {
				continue
			}
			if next := f.state(v); next.ok && next.l > at.l {
				at, moved = next, true
				break
			}
		}
		if !moved {
			return at, gain < 1e-7
		}
	}
	return at, false
}

// settle goes on to where the slopes are zero, which the likelihood is too flat to
// tell: as long as steps make the slopes by the logarithms of the variances smaller.
func (f *eventMixed) settle(at mixedState, active [3]bool) mixedState {
	slopes := func(s mixedState) (sum float64) {
		for i := range s.g {
			if active[i] {
				sum += math.Abs(s.g[i] * s.v[i])
			}
		}
		return sum
	}
	for range 20 {
		step, _ := averageStep(at, active)
		v, inside := at.v, true
		for i := range v {
			if active[i] {
				v[i] += step[i]
				inside = inside && v[i] > 0
			}
		}
		if !inside {
			break
		}
		next := f.state(v)
		if !next.ok || !(slopes(next) < slopes(at)) {
			break
		}
		at = next
	}
	return at
}

// averageStep solves for a step in the active variances and returns twice its promise.
func averageStep(at mixedState, active [3]bool) (step [3]float64, gain float64) {
	m := [3][4]float64{}
	for i := range 3 {
		m[i][i] = 1
		if !active[i] {
			continue
		}
		for j := range 3 {
			m[i][j] = 0
			if active[j] {
				m[i][j] = at.avg[i][j]
			}
		}
		m[i][3] = at.g[i]
	}
	step, ok := solve3(m)
	if !ok {
		for i := range 3 {
			if active[i] && at.avg[i][i] > 0 {
				step[i] = at.g[i] / at.avg[i][i]
			}
		}
	}
	for i := range 3 {
		gain += step[i] * at.g[i]
	}
	return step, gain
}

// block is an event at a point: its inverse covariance W, and what W makes of its
// columns and values.
type block struct {
	m      int
	w      []float64 // m by m
	wx     []float64 // W X, m by p
	wy     []float64 // W y
	x      [][]float64
	y, per []float64 // values, and 1/n
	logV   float64
}

func (f *eventMixed) block(cells []EventCell, v [3]float64) block {
	m, p := len(cells), f.p
	b := block{m: m, w: make([]float64, m*m), wx: make([]float64, m*p), wy: make([]float64, m), y: make([]float64, m), per: make([]float64, m)}
	d := make([]float64, m)
	sum, root := 0.0, math.Sqrt(f.scale)
	for i, c := range cells {
		b.per[i] = 1 / float64(c.N)
		d[i] = math.Max(v[1]+v[2]*b.per[i], 1e-12) // events alone: the limit of a vanishing interaction
		sum += 1 / d[i]
		b.logV += math.Log(d[i])
		b.x = append(b.x, c.X)
		b.y[i] = c.Mean / root
	}
	shrink := v[0] / (1 + v[0]*sum)
	b.logV += math.Log1p(v[0] * sum)
	for i := range m {
		for j := range m {
			w := -shrink / (d[i] * d[j])
			if i == j {
				w += 1 / d[i]
			}
			b.w[i*m+j] = w
			b.wy[i] += w * b.y[j]
			for k, x := range b.x[j] {
				b.wx[i*p+k] += w * x
			}
		}
	}
	return b
}

// times returns W Z of an m by p matrix.
func (b *block) times(z []float64, p int) []float64 {
	out := make([]float64, len(z))
	for i := range b.m {
		for j := range b.m {
			w := b.w[i*b.m+j]
			for k := range p {
				out[i*p+k] += w * z[j*p+k]
			}
		}
	}
	return out
}

// by returns V_i Z: V_0 all ones, V_1 the identity, V_2 the diagonal of 1/n.
func (b *block) by(i int, z []float64, p int) []float64 {
	if i == 1 {
		return z
	}
	out := make([]float64, len(z))
	for r := range b.m {
		for k := range p {
			if i == 2 {
				out[r*p+k] = b.per[r] * z[r*p+k]
				continue
			}
			for q := range b.m {
				out[q*p+k] += z[r*p+k]
			}
		}
	}
	return out
}

// state evaluates the restricted likelihood with its slope and informations.
//
//	slope_i = (r'W V_i W r - tr W V_i + tr C A_i)/2
//	observed_ij = r'W V_i P V_j W r - tr(P V_i P V_j)/2,  P = W - W X C X'W
func (f *eventMixed) state(v [3]float64) mixedState {
	s := mixedState{v: v}
	blocks := make([]block, 0, len(f.events))
	xwx, xwy := mat.NewDense(f.p, f.p, nil), mat.NewVecDense(f.p, nil)
	for _, cells := range f.events {
		if len(cells) == 0 {
			continue
		}
		b := f.block(cells, v)
		blocks = append(blocks, b)
		s.l -= b.logV / 2
		raw, out := xwx.RawMatrix().Data, xwy.RawVector().Data
		for i := range b.m {
			for j, x := range b.x[i] {
				out[j] += x * b.wy[i]
				for k := range f.p {
					raw[j*f.p+k] += x * b.wx[i*f.p+k]
				}
			}
		}
	}
	var lu mat.LU
	lu.Factorize(xwx)
	det, sign := lu.LogDet()
	s.c = mat.NewDense(f.p, f.p, nil)
	if sign <= 0 || math.IsInf(det, 0) || math.IsNaN(s.l) || s.c.Inverse(xwx) != nil {
		return s
	}
	var b mat.VecDense
	b.MulVec(s.c, xwy)
	s.l -= det / 2
	for j := range f.p {
		s.b = append(s.b, b.AtVec(j)*math.Sqrt(f.scale))
	}
	f.derive(&s, blocks, b.RawVector().Data)
	f.withinCells(&s)
	s.ok = !math.IsNaN(s.l)
	return s
}

// sums are what derive adds up over events.
type sums struct {
	trace         [3]float64       // tr W V_i
	traces, forms [3][3]float64    // tr W V_i W V_j, r'W V_i W V_j W r
	left          [3]*mat.VecDense // X'W V_i W r
	middle        [3][3]*mat.Dense // X'W V_i W V_j W X
}

// derive adds what the cell means say.
func (f *eventMixed) derive(s *mixedState, blocks []block, b []float64) {
	var t sums
	for i := range 3 {
		s.a[i] = mat.NewDense(f.p, f.p, nil)
		t.left[i] = mat.NewVecDense(f.p, nil)
		for j := range i + 1 {
			t.middle[i][j] = mat.NewDense(f.p, f.p, nil)
		}
	}
	for i := range blocks {
		f.sum(s, &t, &blocks[i], b)
	}
	var ca [3]mat.Dense
	for i := range 3 {
		ca[i].Mul(s.c, s.a[i])
		s.g[i] += (mat.Trace(&ca[i]) - t.trace[i]) / 2
	}
	for i := range 3 {
		for j := range i + 1 {
			var c, u mat.Dense
			var cl mat.VecDense
			cl.MulVec(s.c, t.left[j])
			form := t.forms[i][j] - mat.Dot(t.left[i], &cl)
			c.Mul(s.c, t.middle[i][j])
			u.Mul(&ca[i], &ca[j])
			tr := t.traces[i][j] - 2*mat.Trace(&c) + mat.Trace(&u)
			s.avg[i][j], s.info[i][j] = form/2, form-tr/2
			s.avg[j][i], s.info[j][i] = s.avg[i][j], s.info[i][j]
		}
	}
}

// sum adds what one event says.
func (f *eventMixed) sum(s *mixedState, t *sums, k *block, b []float64) {
	p, m := f.p, k.m
	wr := make([]float64, m)
	for i := range m {
		wr[i] = k.wy[i]
		r := k.y[i]
		for j := range p {
			wr[i] -= k.wx[i*p+j] * b[j]
			r -= k.x[i][j] * b[j]
		}
		s.l -= r * wr[i] / 2
	}
	var vx, vr, wvx, wvr [3][]float64
	for i := range 3 {
		vx[i], vr[i] = k.by(i, k.wx, p), k.by(i, wr, 1)
		wvx[i], wvr[i] = k.times(vx[i], p), k.times(vr[i], 1)
		t.trace[i] += k.trace(i)
		s.g[i] += dot(wr, vr[i]) / 2
		addCross(s.a[i], k.wx, vx[i], m, p)
		left := t.left[i].RawVector().Data
		for r := range m {
			for j := range p {
				left[j] += k.wx[r*p+j] * vr[i][r]
			}
		}
	}
	traces := k.traces()
	for i := range 3 {
		for j := range i + 1 {
			t.traces[i][j] += traces[i][j]
			t.forms[i][j] += dot(vr[i], wvr[j])
			addCross(t.middle[i][j], vx[i], wvx[j], m, p)
		}
	}
}

// trace returns tr W V_i.
func (b *block) trace(i int) float64 {
	s := 0.0
	for r := range b.m {
		switch i {
		case 0:
			for c := range b.m {
				s += b.w[r*b.m+c]
			}
		case 1:
			s += b.w[r*b.m+r]
		default:
			s += b.w[r*b.m+r] * b.per[r]
		}
	}
	return s
}

// traces returns tr W V_i W V_j for j up to i.
func (b *block) traces() (t [3][3]float64) {
	total := 0.0
	for r := range b.m {
		row := 0.0
		for c := range b.m {
			w := b.w[r*b.m+c]
			row += w
			t[1][1] += w * w
			t[2][1] += w * w * b.per[r]
			t[2][2] += w * w * b.per[r] * b.per[c]
		}
		total += row
		t[1][0] += row * row
		t[2][0] += row * row * b.per[r]
	}
	t[0][0] = total * total
	return t
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i := range a {
		s += a[i] * b[i]
	}
	return s
}

// addCross adds A'B of two m by p matrices.
func addCross(to *mat.Dense, a, b []float64, m, p int) {
	raw := to.RawMatrix().Data
	for r := range m {
		for i := range p {
			v := a[r*p+i]
			if v == 0 {
				continue
			}
			for j := range p {
				raw[i*p+j] += v * b[r*p+j]
			}
		}
	}
}

// withinCells adds what the squares within cells say of the variance of plots.
func (f *eventMixed) withinCells(s *mixedState) {
	if !f.free[2] {
		return
	}
	v, ss, df := s.v[2], f.within.SS/f.scale, f.within.DF
	s.l -= (df*math.Log(v) + ss/v) / 2
	s.g[2] += (ss/(v*v) - df/v) / 2
	s.avg[2][2] += ss / (2 * v * v * v)
	s.info[2][2] += ss/(v*v*v) - df/(2*v*v)
}

// satterthwaite returns the degrees of freedom of a contrast. Variances at zero stand still.
func (f *eventMixed) satterthwaite(l []float64, s *mixedState) float64 {
	c := mat.NewVecDense(f.p, nil)
	c.MulVec(s.c, mat.NewVecDense(f.p, append([]float64(nil), l...)))
	variance := 0.0
	for i, a := range l {
		variance += a * c.AtVec(i)
	}
	var m [3][4]float64
	var g [3]float64
	for i := range 3 {
		m[i][i] = 1
		if !f.free[i] || i < 2 && s.v[i] == 0 {
			continue
		}
		g[i] = mat.Inner(c, s.a[i], c)
		for j := range 3 {
			m[i][j] = 0
			if f.free[j] && (j == 2 || s.v[j] > 0) {
				m[i][j] = s.info[i][j]
			}
		}
		m[i][3] = g[i]
	}
	x, ok := solve3(m)
	if !ok {
		return math.NaN()
	}
	bottom := 0.0
	for i := range 3 {
		bottom += g[i] * x[i]
	}
	return 2 * variance * variance / bottom
}
