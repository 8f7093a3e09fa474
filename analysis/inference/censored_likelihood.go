package inference

import "math"

// censoredFit is the likelihood of a censored normal sample in alpha = mu/sigma
// and beta = 1/sigma, in which its logarithm is concave. The sample is shifted
// and scaled to unit range before.
type censoredFit struct {
	n, mean, ss   float64        // observed values: how many, their mean, squares about it
	bounds        []countedBound // the others
	centre, scale float64
	alpha, beta   float64 // at the maximum
	top           float64 // ln L there
}

// countedBound is a bound that several values in a row have.
type countedBound struct {
	Bounds
	n float64
}

// minSigma is the sigma, as a share of the range of the sample, below which a
// likelihood is taken to grow without end: all observed values coincide.
const minSigma = 1e-7

// newCensoredFit returns false where one value would agree with all bounds, so
// that the likelihood is largest for a sigma of zero.
func newCensoredFit(y []Bounds) (*censoredFit, bool) {
	lo, hi := math.Inf(1), math.Inf(-1)
	least, most := math.Inf(-1), math.Inf(1) // that agree with all
	for _, b := range y {
		least, most = max(least, b.Low), min(most, b.High)
		for _, v := range [2]float64{b.Low, b.High} {
			if !math.IsInf(v, 0) {
				lo, hi = min(lo, v), max(hi, v)
			}
		}
	}
	f := &censoredFit{centre: lo + (hi-lo)/2, scale: hi - lo}
	if least <= most || !spread(f.centre, f.scale) {
		return nil, false
	}
	var observed, start []float64
	for _, b := range y {
		s := Bounds{(b.Low - f.centre) / f.scale, (b.High - f.centre) / f.scale}
		switch {
		case s.Observed():
			observed = append(observed, s.Low)
			start = append(start, s.Low)
			continue
		case s.closed():
			start = append(start, (s.Low+s.High)/2)
		case math.IsInf(s.Low, -1):
			start = append(start, s.High)
		default:
			start = append(start, s.Low)
		}
		if k := len(f.bounds) - 1; k >= 0 && f.bounds[k].Bounds == s {
			f.bounds[k].n++
		} else {
			f.bounds = append(f.bounds, countedBound{s, 1})
		}
	}
	f.n = float64(len(observed))
	f.mean, f.ss = moments(observed)
	m, ss := moments(start)
	f.beta = 1 / max(math.Sqrt(ss/float64(len(start))), 1e-3)
	f.alpha = m * f.beta
	return f, true
}

// slopes holds ln L with its first and second derivatives.
type slopes struct{ l, a, b, aa, ab, bb float64 }

// likelihood evaluates ln L and its derivatives after a shift of the sample by -mu.
func (f *censoredFit) likelihood(alpha, beta, mu float64) slopes {
	var s slopes
	if f.n > 0 {
		// sums of z = beta y - alpha and its products over the observed values
		d := f.mean - mu
		z, yy := beta*d-alpha, f.ss+f.n*d*d
		s.add(f.n, math.Log(beta)-z*z/2-beta*beta*f.ss/(2*f.n), z, 1/beta-(beta*yy/f.n-alpha*d), -1, d, -1/(beta*beta)-yy/f.n)
	}
	for _, o := range f.bounds {
		lo, hi := o.Low-mu, o.High-mu
		switch {
		case math.IsInf(hi, 1):
			z := beta*lo - alpha
			q, h := upperTail(z)
			w := -h * (h - z)
			s.add(o.n, q, h, -h*lo, w, -w*lo, w*lo*lo)
		case math.IsInf(lo, -1):
			z := alpha - beta*hi
			q, h := upperTail(z)
			w := -h * (h - z)
			s.add(o.n, q, -h, h*hi, w, -w*hi, w*hi*hi)
		default:
			s.between(o.n, lo, hi, alpha, beta)
		}
	}
	return s
}

// add adds n times a value's part.
func (s *slopes) add(n, l, a, b, aa, ab, bb float64) {
	s.l += n * l
	s.a += n * a
	s.b += n * b
	s.aa += n * aa
	s.ab += n * ab
	s.bb += n * bb
}

// between adds n values known to lie between lo and hi.
func (s *slopes) between(n, lo, hi, alpha, beta float64) {
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
	d, m := fb-fa, hi*fb-lo*fa
	s.add(n, math.Log(p), -d, m,
		-(zb*fb-za*fa)-d*d,
		(hi*zb*fb-lo*za*fa)+d*m,
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
		if gain < 1e-18 || b > 2/minSigma {
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
