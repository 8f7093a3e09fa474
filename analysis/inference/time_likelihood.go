package inference

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// timeFit is the likelihood of censored times in the coefficients and the
// logarithm of the scale, which stands last in theta.
type timeFit struct {
	std        standard
	x          [][]float64
	y          []Bounds // logarithms
	fixedScale bool
	theta      []float64
	top        float64
}

// start takes the mean and spread of the logarithms, bounds at their limits.
func (f *timeFit) start() {
	v := make([]float64, len(f.y))
	for i, b := range f.y {
		switch {
		case b.closed():
			v[i] = (b.Low + b.High) / 2
		case math.IsInf(b.High, 1):
			v[i] = b.Low
		default:
			v[i] = b.High
		}
	}
	m, ss := moments(v)
	f.theta = make([]float64, len(f.x[0])+1)
	f.theta[0] = m
	if sd := math.Sqrt(ss / float64(len(v))); !f.fixedScale && sd > 1e-6 {
		f.theta[len(f.theta)-1] = math.Log(sd)
	}
}

func (f *timeFit) value(theta []float64) float64 {
	sigma := math.Exp(theta[len(theta)-1])
	l := 0.0
	for i, b := range f.y {
		eta := 0.0
		for j, x := range f.x[i] {
			eta += theta[j] * x
		}
		l += f.std.term(b, eta, sigma).l
	}
	if math.IsNaN(l) {
		return math.Inf(-1)
	}
	return l
}

// slopes fills gradient and negative Hessian (row by row); parameter held keeps
// its value.
func (f *timeFit) slopes(g, h []float64, held int) {
	k := len(f.theta)
	p := k - 1
	clear(g)
	clear(h)
	sigma := math.Exp(f.theta[p])
	for i, b := range f.y {
		eta := 0.0
		for j, x := range f.x[i] {
			eta += f.theta[j] * x
		}
		t := f.std.term(b, eta, sigma)
		for j, x := range f.x[i] {
			g[j] += t.e * x
			for m := j; m < p; m++ {
				h[j*k+m] -= t.ee * x * f.x[i][m]
			}
			h[j*k+p] -= t.et * x
		}
		g[p] += t.t
		h[p*k+p] -= t.tt
	}
	for j := range k {
		for m := range j {
			h[j*k+m] = h[m*k+j]
		}
	}
	hold := func(j int) {
		g[j] = 0
		for m := range k {
			h[j*k+m], h[m*k+j] = 0, 0
		}
		h[j*k+j] = 1
	}
	if f.fixedScale {
		hold(p)
	}
	if held >= 0 {
		hold(held)
	}
}

// information returns the observed information.
func (f *timeFit) information(held int) *mat.SymDense {
	k := len(f.theta)
	h := make([]float64, k*k)
	f.slopes(make([]float64, k), h, held)
	return mat.NewSymDense(k, h)
}

// maximise runs damped Newton steps over all parameters but the held one
// (-1: none) and sets top.
func (f *timeFit) maximise(held int) bool {
	k := len(f.theta)
	f.top = f.value(f.theta)
	g, step, next := make([]float64, k), make([]float64, k), make([]float64, k)
	h, l := make([]float64, k*k), make([]float64, k*k)
	for range 100 {
		f.slopes(g, h, held)
		if !newtonStep(step, l, g, h) {
			return false
		}
		gain := 0.0
		for j := range k {
			gain += g[j] * step[j]
		}
		if gain < 1e-16 {
			return true
		}
		if s := math.Abs(step[k-1]); s > 1 { // the scale moves by a factor e at most
			for j := range step {
				step[j] /= s
			}
		}
		better := false
		for cut := 1.0; cut > 1e-10; cut /= 2 {
			for j := range next {
				next[j] = f.theta[j] + cut*step[j]
			}
			if v := f.value(next); v > f.top {
				copy(f.theta, next)
				f.top, better = v, true
				break
			}
		}
		if !better {
			return gain < 1e-8
		}
		if f.theta[k-1] < -25 || math.Abs(f.theta[0]) > 200 {
			return false
		}
	}
	return false
}

// newtonStep solves h step = g by Cholesky's decomposition into l, with a ridge where h
// is not positive definite. A season asks for it a million times with three
// parameters, where gonum's decomposition spends its time on allocation.
func newtonStep(step, l, g, h []float64) bool {
	k := len(g)
	largest := 0.0
	for j := range k {
		largest = math.Max(largest, math.Abs(h[j*k+j]))
	}
	for ridge := 0.0; ridge < 1e6*largest+1; ridge = max(10*ridge, 1e-6*largest+1e-12) {
		if !cholesky(l, h, k, ridge) {
			continue
		}
		for i := range k {
			v := g[i]
			for j := range i {
				v -= l[i*k+j] * step[j]
			}
			step[i] = v / l[i*k+i]
		}
		for i := k - 1; i >= 0; i-- {
			v := step[i]
			for j := i + 1; j < k; j++ {
				v -= l[j*k+i] * step[j]
			}
			step[i] = v / l[i*k+i]
		}
		return true
	}
	return false
}

// cholesky fills the lower triangle l of h + ridge.
func cholesky(l, h []float64, k int, ridge float64) bool {
	for i := range k {
		for j := range i + 1 {
			v := h[i*k+j]
			if i == j {
				v += ridge
			}
			for m := range j {
				v -= l[i*k+m] * l[j*k+m]
			}
			if i != j {
				l[i*k+j] = v / l[j*k+j]
				continue
			}
			if !(v > 1e-14*math.Abs(h[i*k+i])) {
				return false
			}
			l[i*k+i] = math.Sqrt(v)
		}
	}
	return true
}

// limit returns the value of parameter j, away from its estimate in the
// direction of step, at which the profile likelihood has fallen by drop: by Newton's steps
// on the profile, whose slope is that of the likelihood at its maximum, within a bracket.
func (f *timeFit) limit(j int, step, drop float64) (float64, bool) {
	if step == 0 || math.IsNaN(step) {
		return 0, false
	}
	k := len(f.theta)
	g, h := make([]float64, k), make([]float64, k*k)
	p := &timeFit{std: f.std, x: f.x, y: f.y, fixedScale: f.fixedScale, theta: make([]float64, k)}
	warm := slices.Clone(f.theta)
	profile := func(v float64) (above, slope float64, ok bool) {
		copy(p.theta, warm)
		p.theta[j] = v
		if !p.maximise(j) {
			return -1, 0, false // as if beyond
		}
		copy(warm, p.theta)
		p.slopes(g, h, -1)
		return p.top - f.top + drop, g[j], true
	}
	in, out := f.theta[j], f.theta[j]+step
	above, slope, ok := profile(out)
	for widened := 0; ok && above > 0; widened++ {
		if widened > 40 {
			return 0, false
		}
		in = out
		step *= 1.6
		out += step
		above, slope, ok = profile(out)
	}
	if !ok {
		return 0, false
	}
	const digits = 1e-10
	x, enough := out, digits*math.Max(math.Abs(in), math.Abs(step))
	for range 200 {
		next := x - above/slope
		if !(next > min(in, out) && next < max(in, out)) {
			next = in + (out-in)/2
		}
		if math.Abs(next-x) <= enough || math.Abs(out-in) <= enough {
			return next, true
		}
		x = next
		if above, slope, _ = profile(x); above > 0 {
			in = x
		} else {
			out = x
		}
	}
	return 0, false
}
