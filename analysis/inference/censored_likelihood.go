package inference

import "math"

// censoredFit is the likelihood of a censored normal sample in alpha = mu/sigma
// and beta = 1/sigma, in which its logarithm is concave. The sample is shifted
// and scaled to unit range before.
type censoredFit struct {
	y             []Bounds
	centre, scale float64
	alpha, beta   float64 // at the maximum
	top           float64 // ln L there
}

// minSigma is the sigma, as a share of the range of the sample, below which a
// likelihood is taken to grow without end: all observed values coincide.
const minSigma = 1e-7

// newCensoredFit returns false where all finite bounds coincide.
func newCensoredFit(y []Bounds) (*censoredFit, bool) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, b := range y {
		for _, v := range [2]float64{b.Low, b.High} {
			if !math.IsInf(v, 0) {
				lo, hi = min(lo, v), max(hi, v)
			}
		}
	}
	f := &censoredFit{centre: lo + (hi-lo)/2, scale: hi - lo}
	if !spread(f.centre, f.scale) {
		return nil, false
	}
	var m, n, ss float64
	for _, b := range y {
		s := Bounds{(b.Low - f.centre) / f.scale, (b.High - f.centre) / f.scale}
		f.y = append(f.y, s)
		x := s.Low
		switch {
		case s.closed():
			x = (s.Low + s.High) / 2
		case math.IsInf(x, -1):
			x = s.High
		}
		n++
		d := x - m
		m += d / n
		ss += d * (x - m)
	}
	f.beta = 1 / max(math.Sqrt(ss/n), 1e-3)
	f.alpha = m * f.beta
	return f, true
}

// slopes holds ln L with its first and second derivatives.
type slopes struct{ l, a, b, aa, ab, bb float64 }

// likelihood evaluates ln L and its derivatives after a shift of the sample by -mu.
func (f *censoredFit) likelihood(alpha, beta, mu float64) slopes {
	var s slopes
	for _, o := range f.y {
		lo, hi := o.Low-mu, o.High-mu
		switch {
		case o.Observed():
			z := beta*lo - alpha
			s.add(math.Log(beta)-z*z/2, z, 1/beta-z*lo, -1, lo, -1/(beta*beta)-lo*lo)
		case math.IsInf(hi, 1):
			q, h := upperTail(beta*lo - alpha)
			w := -h * (h - (beta*lo - alpha))
			s.add(q, h, -h*lo, w, -w*lo, w*lo*lo)
		case math.IsInf(lo, -1):
			q, h := upperTail(alpha - beta*hi)
			w := -h * (h - (alpha - beta*hi))
			s.add(q, -h, h*hi, w, -w*hi, w*hi*hi)
		default:
			s.between(lo, hi, alpha, beta)
		}
	}
	return s
}

func (s *slopes) add(l, a, b, aa, ab, bb float64) {
	s.l += l
	s.a += a
	s.b += b
	s.aa += aa
	s.ab += ab
	s.bb += bb
}

// between adds a value known to lie between lo and hi.
func (s *slopes) between(lo, hi, alpha, beta float64) {
	za, zb := beta*lo-alpha, beta*hi-alpha
	var p float64
	if za > 0 {
		p = NormalCDF(-za) - NormalCDF(-zb)
	} else {
		p = NormalCDF(zb) - NormalCDF(za)
	}
	if !(p > 0) {
		s.l = math.Inf(-1)
		return
	}
	fa, fb := density(za)/p, density(zb)/p
	n, m := fb-fa, hi*fb-lo*fa
	s.add(math.Log(p), -n, m,
		-(zb*fb-za*fa)-n*n,
		(hi*zb*fb-lo*za*fa)+n*m,
		-(hi*hi*zb*fb-lo*lo*za*fa)-m*m)
}

func density(z float64) float64 { return math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) }

// upperTail returns ln Q(z) and the hazard phi(z)/Q(z).
func upperTail(z float64) (logQ, hazard float64) {
	if z > 25 {
		// Mills' ratio by its continued fraction, three terms deep: exact to 1e-9 here.
		hazard = z + 1/(z+2/(z+3/z))
		return -z*z/2 - 0.5*math.Log(2*math.Pi) - math.Log(hazard), hazard
	}
	q := NormalCDF(-z)
	return math.Log(q), density(z) / q
}

// maximise finds the largest likelihood by damped Newton steps.
func (f *censoredFit) maximise() bool {
	a, b := f.alpha, f.beta
	s := f.likelihood(a, b, 0)
	for range 200 {
		det := s.aa*s.bb - s.ab*s.ab
		if math.IsInf(s.l, 0) || !(det > 0) {
			return false
		}
		da, db := (s.ab*s.b-s.bb*s.a)/det, (s.ab*s.a-s.aa*s.b)/det
		gain := s.a*da + s.b*db // twice the rise that the quadratic promises
		if gain < 1e-20*float64(len(f.y)) || b > 2/minSigma {
			break
		}
		ok := false
		for cut := 1.0; cut > 1e-12; cut /= 2 {
			if b+cut*db <= b/10 {
				continue
			}
			if t := f.likelihood(a+cut*da, b+cut*db, 0); t.l > s.l {
				a, b, s, ok = a+cut*da, b+cut*db, t, true
				break
			}
		}
		if !ok {
			break
		}
	}
	f.alpha, f.beta, f.top = a, b, s.l
	return true
}

// profile returns the largest ln L for a given mean, starting from beta.
func (f *censoredFit) profile(mu, beta float64) (l, at float64) {
	s := f.likelihood(0, beta, mu)
	for range 200 {
		if !(s.bb < 0) {
			break
		}
		step := -s.b / s.bb
		if s.b*step < 1e-18 {
			break
		}
		ok := false
		for cut := 1.0; cut > 1e-12; cut /= 2 {
			b := beta + cut*step
			if b <= beta/10 {
				b = beta / 10
			}
			if t := f.likelihood(0, b, mu); t.l > s.l {
				beta, s, ok = b, t, true
				break
			}
		}
		if !ok {
			break
		}
	}
	return s.l, beta
}

// limit returns the mean on the side of step at which the profile has fallen by drop.
func (f *censoredFit) limit(mu, step, drop float64) (float64, bool) {
	target := f.top - drop
	in, out, beta := mu, mu+step, f.beta
	fin, fout := drop, 0.0
	for k := 0; ; k++ {
		if k > 60 {
			return 0, false
		}
		fout, beta = f.profile(out, beta)
		if fout -= target; fout < 0 {
			break
		}
		in, fin = out, fout
		step *= 1.5
		out += step
	}
	side := 0
	for range 200 { // Illinois' regula falsi
		x := (in*fout - out*fin) / (fout - fin)
		if math.Abs(out-in) < 1e-12*(1+math.Abs(x)) {
			return x, true
		}
		var fx float64
		fx, beta = f.profile(x, beta)
		fx -= target
		switch {
		case math.Abs(fx) < 1e-11:
			return x, true
		case fx < 0:
			out, fout = x, fx
			if side == -1 {
				fin /= 2
			}
			side = -1
		default:
			in, fin = x, fx
			if side == 1 {
				fout /= 2
			}
			side = 1
		}
	}
	return (in + out) / 2, true
}
