package inference

import (
	"fmt"
	"math"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// TauMethod names an estimator of the variance between studies or events.
type TauMethod string

// The estimators on offer. REML is the default of the program.
const (
	TauFixed TauMethod = "FE" // none: one true effect
	TauDL    TauMethod = "DL"
	TauREML  TauMethod = "REML"
	TauML    TauMethod = "ML"
	TauPM    TauMethod = "PM"
	TauSJ    TauMethod = "SJ"
)

// Pooling says how effects are pooled.
type Pooling struct {
	Tau          TauMethod
	HartungKnapp bool // t with k-1 degrees of freedom and the variance from the residuals
	Floor        bool // Hartung-Knapp's factor is at least 1
	Level        float64
	// RootTolerance is how near the roots of PM and of the limits of tau² must be; 0
	// is to the last digit. Programs that stop sooner can be followed with theirs.
	RootTolerance float64
}

// Pooled is a random-effects synthesis of effects.
type Pooled struct {
	Interval                // SE as used for the limits
	Statistic, P            quantity.Optional
	Tau2                    quantity.Optional
	TauLow, TauHigh         quantity.Optional // limits of tau² by Q profiles
	Q, QP                   quantity.Optional
	QDF                     int
	I2                      quantity.Optional // per cent
	H2                      quantity.Optional
	PredictLow, PredictHigh quantity.Optional // of the effect in one further event
	Floored                 bool              // the floor of Hartung-Knapp came into play
}

// Pool combines effects y with known variances v.
//
//	w = 1/(v + tau²),  mu = sum w y/sum w,  SE² = 1/sum w
//	Hartung-Knapp: SE² * sum w (y-mu)²/(k-1), t with k-1 degrees of freedom
//	prediction: mu ± q sqrt(tau² + SE²);  I² = tau²/(tau² + s²), s² the typical variance
//
// Source: DerSimonian & Laird (1986); Paule & Mandel (1982); Sidik & Jonkman (2005), Applied
// Statistics 54:367-384; Viechtbauer (2005), Journal of Educational and Behavioral Statistics 30:261-293, for ML and REML;
// Hartung & Knapp (2001), Statistics in Medicine 20:3875-3889; floor by Röver, Knapp & Friede (2015), BMC Medical Research Methodology 15:99; Higgins & Thompson (2002)
// for I²; Higgins, Thompson & Spiegelhalter (2009) for prediction; Viechtbauer (2007) for Q profiles. One effect: no synthesis, flag
// one_value. Errors: ErrInput for NaN, variances that are not positive, unlike lengths, the level or the method.
func Pool(y, v []float64, how Pooling) (Pooled, error) {
	r := Pooled{Interval: Interval{Level: how.Level, N: len(y)}}
	if err := checkLevel(how.Level); err != nil {
		return r, err
	}
	if err := checkLengths("y", "v", len(y), len(v)); err != nil {
		return r, err
	}
	if err := checkFinite("y", y); err != nil {
		return r, err
	}
	if err := checkPositive("v", v); err != nil {
		return r, err
	}
	switch len(y) {
	case 0:
		r.Flags.Add(FlagNoData)
		return r, nil
	case 1:
		r.Value = quantity.Some(y[0])
		r.Flags.Add(FlagOneValue)
		if !how.HartungKnapp {
			r.pool(y, v, 0, how)
		}
		return r, nil
	}
	e := effects{y, v}
	tau2, ok := e.tau2(how.Tau, how.RootTolerance)
	if !ok {
		return r, fmt.Errorf("%w: estimator %q", ErrInput, how.Tau)
	}
	r.Tau2 = quantity.Some(tau2)
	r.heterogeneity(e, tau2, how)
	r.pool(y, v, tau2, how)
	if r.SE.OK && how.Tau != TauFixed {
		q := criticalNormal(how.Level)
		if how.HartungKnapp {
			q = critical(how.Level, float64(len(y)-1))
		}
		h := q * math.Sqrt(tau2+r.SE.V*r.SE.V)
		if h > 0 {
			r.PredictLow, r.PredictHigh = quantity.Some(r.Value.V-h), quantity.Some(r.Value.V+h)
		}
	}
	return r, nil
}

// pool fills the estimate with its limits.
func (r *Pooled) pool(y, v []float64, tau2 float64, how Pooling) {
	e := effects{y, v}
	mu, sw, ss := e.weighted(tau2)
	r.Value = quantity.Some(mu)
	se := math.Sqrt(1 / sw)
	q := criticalNormal(how.Level)
	if how.HartungKnapp {
		factor := math.Sqrt(ss / float64(len(y)-1))
		if how.Floor && factor < 1 {
			factor, r.Floored = 1, true
		}
		se *= factor
		r.DF = quantity.Some(float64(len(y) - 1))
		q = critical(how.Level, r.DF.V)
	}
	r.SE = quantity.Some(se)
	if !spread(math.Abs(mu), se) {
		r.Flags.Add(FlagNoSpread)
		return
	}
	r.Low, r.High = quantity.Some(mu-q*se), quantity.Some(mu+q*se)
	r.Statistic = quantity.Some(mu / se)
	p := 2 * NormalCDF(-math.Abs(mu/se))
	if how.HartungKnapp {
		p, _ = TTwoSided(mu/se, r.DF.V)
	}
	r.P = quantity.Some(p)
}

// heterogeneity fills Q, I², H² and the limits of tau².
func (r *Pooled) heterogeneity(e effects, tau2 float64, how Pooling) {
	_, _, q := e.weighted(0)
	r.QDF = len(e.y) - 1
	r.Q = quantity.Some(q)
	if p, err := ChiSquaredUpper(q, float64(r.QDF)); err == nil {
		r.QP = quantity.Some(p)
	}
	k := float64(r.QDF)
	if how.Tau == TauFixed {
		r.H2 = quantity.Some(q / k)
		r.I2 = quantity.Some(100 * math.Max(0, (q-k)/q))
		return
	}
	var s1, s2 float64
	for _, v := range e.v {
		s1 += 1 / v
		s2 += 1 / (v * v)
	}
	typical := k * s1 / (s1*s1 - s2)
	r.I2, r.H2 = quantity.Some(100*tau2/(tau2+typical)), quantity.Some((tau2+typical)/typical)
	upper, err1 := ChiSquaredQuantile((1+how.Level)/2, k)
	lower, err2 := ChiSquaredQuantile((1-how.Level)/2, k)
	if err1 != nil || err2 != nil {
		return
	}
	r.TauLow, r.TauHigh = e.profile(upper, how.RootTolerance), e.profile(lower, how.RootTolerance)
}

// effects are estimates with their variances.
type effects struct{ y, v []float64 }

// weighted returns the mean, the sum of weights and the weighted squares.
func (e effects) weighted(tau2 float64) (mu, sw, ss float64) {
	for i, y := range e.y {
		w := 1 / (e.v[i] + tau2)
		sw += w
		mu += w * y
	}
	mu /= sw
	for i, y := range e.y {
		ss += (y - mu) * (y - mu) / (e.v[i] + tau2)
	}
	return mu, sw, ss
}

// profile returns the tau² at which the weighted squares equal a value.
func (e effects) profile(target, tolerance float64) quantity.Optional {
	f := func(t float64) float64 { _, _, ss := e.weighted(t); return ss - target }
	if f(0) <= 0 {
		return quantity.Some(0)
	}
	high := 100.0
	for f(high) > 0 {
		if high *= 2; math.IsInf(high, 1) {
			return quantity.None()
		}
	}
	return quantity.Some(brent(f, 0, high, f(0), f(high), tolerance))
}

func (e effects) scale() float64 {
	_, ss := moments(e.y)
	return math.Max(ss, e.v[0])
}

func (e effects) tau2(method TauMethod, tolerance float64) (float64, bool) {
	k := float64(len(e.y))
	switch method {
	case TauFixed:
		return 0, true
	case TauDL:
		var s1, s2 float64
		for _, v := range e.v {
			s1 += 1 / v
			s2 += 1 / (v * v)
		}
		_, _, q := e.weighted(0)
		return math.Max(0, (q-(k-1))/(s1-s2/s1)), true
	case TauPM:
		return e.profile(k-1, tolerance).V, true
	case TauSJ:
		_, ss := moments(e.y)
		start := ss / k
		if start == 0 {
			return 0, true
		}
		_, _, q := e.weighted(start) // sum of start/(v+start) (y-mu)² is start times this
		return start * q / (k - 1), true
	case TauML, TauREML:
		return e.likelihood(method == TauREML), true
	}
	return 0, false
}

// likelihood returns the tau² of the largest (restricted) likelihood: the root of
// its slope that is highest, searched over a grid and refined.
func (e effects) likelihood(restricted bool) float64 {
	value := func(t float64) float64 {
		_, sw, ss := e.weighted(t)
		l := -ss / 2
		for _, v := range e.v {
			l -= math.Log(v+t) / 2
		}
		if restricted {
			l -= math.Log(sw) / 2
		}
		return l
	}
	slope := func(t float64) float64 {
		mu, sw, _ := e.weighted(t)
		var s, s2 float64
		for i, y := range e.y {
			w := 1 / (e.v[i] + t)
			s += w*w*(y-mu)*(y-mu) - w
			s2 += w * w
		}
		if restricted {
			s += s2 / sw
		}
		return s / 2
	}
	best, top := 0.0, value(0)
	lo, fl := 0.0, slope(0)
	const steps = 60
	high := 10 * e.scale()
	for i := 1; i <= steps; i++ {
		hi := high * math.Pow(float64(i)/steps, 4)
		fh := slope(hi)
		if fl > 0 && fh <= 0 {
			if x, ok := bracketedRoot(slope, lo, hi, fl, fh); ok && value(x) > top {
				best, top = x, value(x)
			}
		}
		lo, fl = hi, fh
	}
	return best
}

// LeaveOneOut pools the effects without each one in turn: the influence of single
// events. Errors as Pool.
func LeaveOneOut(y, v []float64, how Pooling) ([]Pooled, error) {
	if err := checkLengths("y", "v", len(y), len(v)); err != nil {
		return nil, err
	}
	var out []Pooled
	for i := range y {
		yi := append(append([]float64{}, y[:i]...), y[i+1:]...)
		vi := append(append([]float64{}, v[:i]...), v[i+1:]...)
		p, err := Pool(yi, vi, how)
		if err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}

// PooledTrend is a random-effects regression of effects on one covariate, such as
// the day of the season.
type PooledTrend struct {
	Intercept, Slope Coefficient
	Tau2             quantity.Optional
	QM, QMP          quantity.Optional // of the slope
	QE               quantity.Optional // left over
	Level            float64
	Flags            result.Flags
}

// PoolTrend fits y = a + b x with random effects about the line.
//
//	tau² = (QE - (k-2))/(tr P),  P = W - W X (X'WX)^-1 X'W  (DerSimonian-Laird)
//
// With hartungKnapp the errors are scaled by the residuals and the tests are t with
// k-2. Source: Thompson & Sharp (1999), Statistics in Medicine 18:2693-2708; Knapp & Hartung (2003), Statistics in
// Medicine 22:2693-2710. Fewer than three effects or one x: flags. Errors as Pool.
func PoolTrend(y, v, x []float64, hartungKnapp bool, level float64) (PooledTrend, error) {
	r := PooledTrend{Level: level}
	if _, err := Pool(y, v, Pooling{Tau: TauFixed, Level: level}); err != nil {
		return r, err
	}
	if err := checkLengths("x", "y", len(x), len(y)); err != nil {
		return r, err
	}
	if err := checkFinite("x", x); err != nil {
		return r, err
	}
	if len(y) < 3 {
		r.Flags.Add(FlagNSmall)
		return r, nil
	}
	fixed, ok := newWeightedLine(x, y, v, 0)
	if !ok {
		r.Flags.Add(FlagNotDefined)
		return r, nil
	}
	k := float64(len(y))
	tau2 := math.Max(0, (fixed.rss-(k-2))/fixed.trace)
	line, _ := newWeightedLine(x, y, v, tau2)
	r.Tau2, r.QE = quantity.Some(tau2), quantity.Some(fixed.rss)
	scale := 1.0
	if hartungKnapp {
		scale = math.Sqrt(math.Max(1, line.rss/(k-2)))
	}
	fill := func(b, se float64) Coefficient {
		se *= scale
		c := Coefficient{Value: quantity.Some(b), SE: quantity.Some(se), T: quantity.Some(b / se)}
		q, p := criticalNormal(level), 2*NormalCDF(-math.Abs(b/se))
		if hartungKnapp {
			q = critical(level, k-2)
			p, _ = TTwoSided(b/se, k-2)
		}
		c.P, c.Low, c.High = quantity.Some(p), quantity.Some(b-q*se), quantity.Some(b+q*se)
		return c
	}
	r.Intercept, r.Slope = fill(line.a, line.seA), fill(line.b, line.seB)
	qm := r.Slope.T.V * r.Slope.T.V
	r.QM = quantity.Some(qm)
	if p, err := ChiSquaredUpper(qm, 1); err == nil {
		r.QMP = quantity.Some(p)
	}
	return r, nil
}

// weightedLine is a line by weighted least squares.
type weightedLine struct{ a, b, seA, seB, rss, trace float64 }

func newWeightedLine(x, y, v []float64, tau2 float64) (weightedLine, bool) {
	var s, sx, sy float64
	for i := range x {
		w := 1 / (v[i] + tau2)
		s += w
		sx += w * x[i]
		sy += w * y[i]
	}
	mx, my := sx/s, sy/s
	var sxx, sxy, w2, w2x, w2xx float64
	for i := range x {
		w := 1 / (v[i] + tau2)
		d := x[i] - mx
		sxx += w * d * d
		sxy += w * d * (y[i] - my)
		w2 += w * w
		w2x += w * w * d
		w2xx += w * w * d * d
	}
	if !(sxx > 0) {
		return weightedLine{}, false
	}
	l := weightedLine{b: sxy / sxx, seB: math.Sqrt(1 / sxx), seA: math.Sqrt(1/s + mx*mx/sxx)}
	l.a = my - l.b*mx
	for i := range x {
		e := y[i] - l.a - l.b*x[i]
		l.rss += e * e / (v[i] + tau2)
	}
	l.trace = s - w2/s - w2xx/sxx // tr W - tr W²X(X'WX)^-1X', columns 1 and x - mx being orthogonal
	return l, true
}
