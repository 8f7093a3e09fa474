package fit

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// ErrNotFitted is returned where no start leads to a minimum.
var ErrNotFitted = errors.New("no start leads to a minimum")

// Nonlinear is the problem of fitting y = Model(reading, parameters) by weighted
// least squares.
type Nonlinear struct {
	// Model returns what the parameters give for a reading, by its index in Y.
	Model func(reading int, parameters []float64) float64
	Y, U  []float64 // U: standard uncertainties of Y; nil: equal and unknown
}

// Minimum is a solution of a Nonlinear.
type Minimum struct {
	Parameters []float64
	// StandardErrors scale with the scatter about the model, sqrt(RSS/(n-p));
	// nil where n <= p or the parameters cannot be told apart.
	StandardErrors []float64
	RSS            float64 // sum of squared residuals, over U where that is given
	Settled        bool    // false: the search ended before it came to rest
}

// The damping shrinks by this after a step that helps and grows by that after one
// that does not.
const (
	shrinks, grows = 5.0, 2.0
	mostSteps      = 1000
	leastDamping   = 1e-14
	mostDamping    = 1e14
	atRest         = 1e-13 // relative step, in every parameter, that ends the search
)

// Fit returns the lowest minimum that the starts lead to, by damped
// Gauss-Newton steps (Levenberg 1944, Q. Appl. Math. 2:164-168; Marquardt 1963,
// J. Soc. Ind. Appl. Math. 11:431-441), damped in three ways. Every step is solved by
// orthogonal decomposition of the derivatives, not of their squares;
// derivatives are differences of fourth order.
func (p *Nonlinear) Fit(starts ...[]float64) (Minimum, error) {
	best := Minimum{RSS: math.Inf(1)}
	for _, s := range starts {
		if m, ok := p.from(s); ok && better(m, best) {
			best = m
		}
	}
	if math.IsInf(best.RSS, 1) {
		return Minimum{}, ErrNotFitted
	}
	best.StandardErrors = p.standardErrors(best)
	return best, nil
}

// from returns the lowest minimum of the ways of damping, of which two that
// agree are enough.
func (p *Nonlinear) from(start []float64) (best Minimum, ok bool) {
	best.RSS = math.Inf(1)
	for _, by := range []damping{byDerivative, byNothing, byLargest} {
		m, descended := p.descend(start, by)
		if !descended {
			continue
		}
		agree := m.Settled && best.Settled && !better(m, best) && !better(best, m)
		if better(m, best) {
			best = m
		}
		if ok = true; agree {
			break
		}
	}
	return best, ok
}

// better reports whether a minimum is lower than another, by more than rounding
// or, where it is not, better settled.
func better(m, than Minimum) bool {
	if math.Abs(m.RSS-than.RSS) <= hidden*than.RSS {
		return m.Settled && !than.Settled
	}
	return m.RSS < than.RSS
}

// damping is what the damping of a parameter is in proportion to. Each leads some
// problems astray that the others solve.
type damping uint8

const (
	byDerivative damping = iota // the size of its derivative (Marquardt)
	byLargest                   // the largest that it has had (Moré 1978, Lect. Notes Math. 630:105-116)
	byNothing                   // all the same (Levenberg)
)

// update changes the scales for new derivatives.
func (by damping) update(scale []float64, j *mat.Dense) {
	for k := range scale {
		switch norm := mat.Norm(j.ColView(k), 2); by {
		case byDerivative:
			scale[k] = norm
		case byLargest:
			scale[k] = max(scale[k], norm)
		default:
			scale[k] = 1
		}
	}
}

// descend walks down from a start until no step helps.
func (p *Nonlinear) descend(start []float64, by damping) (Minimum, bool) {
	b := append([]float64(nil), start...)
	r, rss := p.residuals(b)
	if math.IsNaN(rss) || math.IsInf(rss, 0) || len(r) < len(b) {
		return Minimum{}, false
	}
	scale := make([]float64, len(b))
	lambda := 1e-2
	for range mostSteps {
		j := p.derivatives(b)
		by.update(scale, j)
		moved := false
		for ; lambda < mostDamping; lambda *= grows {
			d, ok := step(j, r, scale, lambda)
			if !ok {
				continue
			}
			next, longest := plus(b, d)
			if longest < atRest {
				break
			}
			if longest > straight {
				if !p.bend(b, d, j, r, scale, lambda) {
					continue
				}
				next, _ = plus(b, d)
			}
			if s, sum := p.residuals(next); sum <= rss { // false for NaN
				b, r, rss, moved = next, s, sum, true
				break
			}
		}
		if !moved { // at rest, or rounding hides what a step does to the sum
			b, rss = p.rest(b, rss)
			return Minimum{Parameters: b, RSS: rss, Settled: true}, true
		}
		lambda = max(lambda/shrinks, leastDamping)
	}
	return Minimum{Parameters: b, RSS: rss}, true
}

// plus returns b + d, and the longest of the steps relative to the parameters.
func plus(b, d []float64) (next []float64, longest float64) {
	next = make([]float64, len(b))
	for k := range b {
		next[k] = b[k] + d[k]
		longest = max(longest, math.Abs(d[k])/(math.Abs(b[k])+1e-300))
	}
	return next, longest
}

// hidden is a relative change of the sum of squares that rounding may be.
const hidden = 1e-10

// rest takes undamped steps for as long as they get shorter: the derivatives still
// tell the way where the sum of squares does not.
func (p *Nonlinear) rest(b []float64, rss float64) ([]float64, float64) {
	before := math.Inf(1)
	for range 20 {
		r, _ := p.residuals(b)
		j := p.derivatives(b)
		d, ok := step(j, r, make([]float64, len(b)), 0)
		if !ok {
			break
		}
		next, length := plus(b, d)
		_, sum := p.residuals(next)
		if !(length < before/2) || !(sum <= rss*(1+hidden)) {
			break
		}
		b, rss, before = next, sum, length
	}
	return b, rss
}

// How far along a step its bend is looked for, by how much it may bend, and the
// relative step up to which there is none to speak of.
const (
	bendAt   = 0.1
	mostBend = 0.5
	straight = 1e-4
)

// bend adds to a step the second-order correction that keeps it in a curved
// valley (geodesic acceleration: Transtrum & Sethna 2012, arXiv:1201.5885), and
// reports whether the step is short enough for that to be a correction.
func (p *Nonlinear) bend(b, d []float64, j *mat.Dense, r, scale []float64, lambda float64) bool {
	ahead := make([]float64, len(b))
	for k := range b {
		ahead[k] = b[k] + bendAt*d[k]
	}
	second, _ := p.residuals(ahead)
	var along mat.VecDense
	along.MulVec(j, mat.NewVecDense(len(d), d))
	for i := range second {
		second[i] = (second[i] - r[i] + bendAt*along.AtVec(i)) / (bendAt * bendAt)
	}
	a, ok := step(j, second, scale, lambda)
	if !ok {
		return false
	}
	var ahead2, aside2 float64
	for k := range d {
		ahead2 += scale[k] * scale[k] * d[k] * d[k]
		aside2 += scale[k] * scale[k] * a[k] * a[k]
	}
	if !(4*aside2 <= mostBend*mostBend*ahead2) {
		return false
	}
	for k := range d {
		d[k] += a[k]
	}
	return true
}

// residuals returns those over U, and the sum of their squares.
func (p *Nonlinear) residuals(b []float64) (r []float64, rss float64) {
	r = make([]float64, len(p.Y))
	for i := range r {
		r[i] = p.residual(i, b)
		rss += r[i] * r[i]
	}
	return r, rss
}

func (p *Nonlinear) residual(i int, b []float64) float64 {
	r := p.Y[i] - p.Model(i, b)
	if p.U != nil {
		r /= p.U[i]
	}
	return r
}

// differenceStep is relative to a parameter, and short enough for a place far from
// zero, such as the wavelength of a line.
const differenceStep = 2e-4

// derivatives returns those of the model by the parameters, over U.
func (p *Nonlinear) derivatives(b []float64) *mat.Dense {
	j := mat.NewDense(len(p.Y), len(b), nil)
	at := append([]float64(nil), b...)
	for k := range b {
		h := differenceStep * max(math.Abs(b[k]), 1e-8)
		for i := range p.Y {
			value := func(steps float64) float64 {
				at[k] = b[k] + steps*h
				return p.residual(i, at)
			}
			j.Set(i, k, (8*(value(-1)-value(1))-(value(-2)-value(2)))/(12*h))
		}
		at[k] = b[k]
	}
	return j
}

// step returns the d that makes |r - J d|^2 + lambda |scale d|^2 least.
func step(j *mat.Dense, r, scale []float64, lambda float64) ([]float64, bool) {
	n, k := j.Dims()
	a, y := mat.NewDense(n+k, k, nil), mat.NewVecDense(n+k, nil)
	a.Slice(0, n, 0, k).(*mat.Dense).Copy(j)
	for i, v := range r {
		y.SetVec(i, v)
	}
	for c, s := range scale {
		if !(s > 0) {
			s = 1 // nothing depends on it
		}
		a.Set(n+c, c, math.Sqrt(lambda)*s)
	}
	for _, v := range a.RawMatrix().Data {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, false
		}
	}
	var qr mat.QR
	var d mat.VecDense
	qr.Factorize(a)
	var far mat.Condition
	if err := qr.SolveVecTo(&d, false, y); err != nil && !errors.As(err, &far) {
		return nil, false
	}
	return d.RawVector().Data, true
}

// singularAt is the condition, with all derivatives scaled to the same size, at
// which parameters cannot be told apart.
const singularAt = 1e10

// standardErrors are the roots of the diagonal of (J'J)^-1 RSS/(n-p).
func (p *Nonlinear) standardErrors(m Minimum) []float64 {
	k := len(m.Parameters)
	free := len(p.Y) - k
	if free < 1 {
		return nil
	}
	j := p.derivatives(m.Parameters)
	norm := make([]float64, k)
	for c := range norm {
		if norm[c] = mat.Norm(j.ColView(c), 2); !(norm[c] > 0) || math.IsInf(norm[c], 0) {
			return nil
		}
		for i := range p.Y {
			j.Set(i, c, j.At(i, c)/norm[c])
		}
	}
	var qr mat.QR
	qr.Factorize(j)
	if !(qr.Cond() < singularAt) {
		return nil
	}
	var r mat.Dense
	qr.RTo(&r)
	triangle := mat.NewTriDense(k, mat.Upper, nil)
	for i := range k {
		for c := i; c < k; c++ {
			triangle.SetTri(i, c, r.At(i, c))
		}
	}
	var inverse mat.TriDense
	var far mat.Condition
	if err := inverse.InverseTri(triangle); err != nil && !errors.As(err, &far) {
		return nil
	}
	out := make([]float64, k)
	for i := range out { // row i of R^-1: (J'J)^-1 = R^-1 R^-T
		sum := 0.0
		for c := i; c < k; c++ {
			sum += inverse.At(i, c) * inverse.At(i, c)
		}
		out[i] = math.Sqrt(sum*m.RSS/float64(free)) / norm[i]
	}
	return out
}
