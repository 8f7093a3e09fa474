package inference

import "math"

// TimeLaw is the law of the logarithm of a time about its location, in units of
// its scale.
type TimeLaw string

// The laws on offer.
const (
	WeibullTimes     TimeLaw = "weibull"     // smallest extreme value
	ExponentialTimes TimeLaw = "exponential" // Weibull with a scale of 1
	LognormalTimes   TimeLaw = "lognormal"   // normal
	LoglogisticTimes TimeLaw = "loglogistic" // logistic
)

// standard is a standardised law: its density f, distribution F and upper tail S
// as logarithms, and the first two derivatives of f over f.
type standard struct {
	logF, logLower, logUpper func(z float64) float64
	r1, r2                   func(z float64) float64
	median                   float64
}

func (l TimeLaw) standard() (standard, bool) {
	switch l {
	case WeibullTimes, ExponentialTimes:
		return standard{
			logF:     func(z float64) float64 { return z - math.Exp(z) },
			logLower: func(z float64) float64 { return math.Log(-math.Expm1(-math.Exp(z))) },
			logUpper: func(z float64) float64 { return -math.Exp(z) },
			r1:       func(z float64) float64 { return 1 - math.Exp(z) },
			r2:       func(z float64) float64 { e := math.Exp(z); return 1 - 3*e + e*e },
			median:   math.Log(math.Ln2),
		}, true
	case LognormalTimes:
		return standard{
			logF:     func(z float64) float64 { return -z*z/2 - 0.5*math.Log(2*math.Pi) },
			logLower: func(z float64) float64 { q, _ := upperTail(-z); return q },
			logUpper: func(z float64) float64 { q, _ := upperTail(z); return q },
			r1:       func(z float64) float64 { return -z },
			r2:       func(z float64) float64 { return z*z - 1 },
		}, true
	case LoglogisticTimes:
		lower := func(z float64) float64 {
			if z < 0 {
				return z - math.Log1p(math.Exp(z))
			}
			return -math.Log1p(math.Exp(-z))
		}
		share := func(z float64) float64 { return 1 / (1 + math.Exp(-z)) }
		return standard{
			logF:     func(z float64) float64 { return lower(z) + lower(-z) },
			logLower: lower,
			logUpper: func(z float64) float64 { return lower(-z) },
			r1:       func(z float64) float64 { return 1 - 2*share(z) },
			r2:       func(z float64) float64 { p := share(z); return 1 - 6*p + 6*p*p },
		}, true
	}
	return standard{}, false
}

// timeTerm is ln L of one time with its derivatives by the location eta and the
// logarithm tau of the scale.
type timeTerm struct{ l, e, t, ee, et, tt float64 }

// term evaluates one time, bounds given as logarithms.
//
//	z = (y - eta)/sigma, dz/deta = -1/sigma, dz/dtau = -z
func (s standard) term(b Bounds, eta, sigma float64) timeTerm {
	za, zb := (b.Low-eta)/sigma, (b.High-eta)/sigma
	chain := func(l, d, dd, z float64) timeTerm {
		return timeTerm{l, -d / sigma, -z * d, dd / (sigma * sigma), (z*dd + d) / sigma, z*z*dd + z*d}
	}
	switch {
	case b.Observed():
		r := s.r1(za)
		t := chain(s.logF(za)-math.Log(sigma)-b.Low, r, s.r2(za)-r*r, za)
		t.t--
		return t
	case math.IsInf(b.High, 1):
		q := s.logUpper(za)
		h := math.Exp(s.logF(za) - q)
		return chain(q, -h, -h*s.r1(za)-h*h, za)
	case math.IsInf(b.Low, -1):
		q := s.logLower(zb)
		h := math.Exp(s.logF(zb) - q)
		return chain(q, h, h*s.r1(zb)-h*h, zb)
	}
	var q float64 // ln (F(zb) - F(za)), from the smaller tail
	if za > 0 {
		u := s.logUpper(za)
		q = u + math.Log(-math.Expm1(s.logUpper(zb)-u))
	} else {
		u := s.logLower(zb)
		q = u + math.Log(-math.Expm1(s.logLower(za)-u))
	}
	la, lb := -math.Exp(s.logF(za)-q), math.Exp(s.logF(zb)-q)
	laa, lbb, lab := la*s.r1(za)-la*la, lb*s.r1(zb)-lb*lb, -la*lb
	return timeTerm{
		l: q, e: -(la + lb) / sigma, t: -(za*la + zb*lb),
		ee: (laa + 2*lab + lbb) / (sigma * sigma),
		et: (za*laa + zb*lbb + (za+zb)*lab + la + lb) / sigma,
		tt: za*za*laa + 2*za*zb*lab + zb*zb*lbb + za*la + zb*lb,
	}
}
