package inference

import (
	"fmt"
	"math"

	"sheetwash/analysis/quantity"
)

// Bounds is what is known of one value: Low = High for an observed one, High
// +Inf for a right-censored one, Low -Inf for a left-censored one.
type Bounds struct{ Low, High float64 }

// Observed reports whether the value itself is known.
func (b Bounds) Observed() bool { return b.Low == b.High }

// closed reports whether the value is known to lie within finite bounds.
func (b Bounds) closed() bool { return !math.IsInf(b.Low, -1) && !math.IsInf(b.High, 1) }

// CensoredMean returns the mean of a normal sample of which some values are
// only known to lie beyond or between bounds: maximum likelihood with an
// interval from the profile likelihood.
//
//	L(mu, sigma) = prod phi((y-mu)/sigma)/sigma  over observed values
//	             * prod (Phi((b-mu)/sigma) - Phi((a-mu)/sigma))  over the others
//	limits: the mu with 2 (ln Lmax - ln Lprofile(mu)) = n ln(1 + t²/(n-1))
//
// t is the Student quantile for n-1 degrees of freedom. Where only two values have finite bounds the cut is that of two
// values, 2 ln(1 + t²) with one degree: with that of n three values of which most are bounds cover 0.92. Without censoring both
// estimate and limits are those of MeanT, since there the likelihood ratio is
// n ln(1 + T²/(n-1)) exactly; chi-squared in its place would cover too little
// for small n. With censoring the limits are an approximation, measured in
// docs/methods/inference.md. SD is sigma with the same correction, sigma
// sqrt(n/(n-1)).
//
// Source: Cohen (1959), Technometrics 1:217-237, and Tobin (1958), Econometrica
// 26:24-36, for the likelihood; Olsen (1978), Econometrica 46:1211-1215, for its
// single maximum; Meeker & Escobar (1995), The American Statistician 49:48-53, for profile
// limits. Fewer than two values with finite bounds: no estimate, flag
// few_observed. Errors: ErrInput for NaN, Low above High or the level.
func CensoredMean(y []Bounds, level float64) (Interval, error) {
	if err := checkLevel(level); err != nil {
		return Interval{}, err
	}
	if err := checkBounds(y); err != nil {
		return Interval{}, err
	}
	r := Interval{Level: level, N: len(y)}
	closed := 0
	var observed []float64
	for _, b := range y {
		if b.closed() {
			closed++
		}
		if b.Observed() {
			observed = append(observed, b.Low)
		}
	}
	switch {
	case len(observed) == len(y):
		return meanT(observed, level), nil
	case closed == 0:
		r.Flags.Add(FlagAllCensored)
		return r, nil
	case closed < 2:
		r.Flags.Add(FlagFewObserved)
		return r, nil
	}
	fit, ok := newCensoredFit(y)
	if !ok {
		r.Flags.Add(FlagNoSpread)
		return r, nil
	}
	fit.interval(&r, closed)
	return r, nil
}

func checkBounds(y []Bounds) error {
	for i, b := range y {
		if !(b.Low <= b.High) || math.IsInf(b.Low, 1) || math.IsInf(b.High, -1) {
			return fmt.Errorf("%w: y[%d] between %v and %v", ErrInput, i, b.Low, b.High)
		}
	}
	return nil
}

// CensoredGeometricMean is CensoredMean of the logarithms, transformed back: the
// geometric mean (and median) of a log-normal. SD is that of the logarithms.
// Errors: ErrInput also for an upper bound that is not positive.
func CensoredGeometricMean(y []Bounds, level float64) (Interval, error) {
	l := make([]Bounds, len(y))
	for i, b := range y {
		if b.High <= 0 || (b.Observed() && b.Low <= 0) {
			return Interval{}, fmt.Errorf("%w: y[%d] is at most %v, and logarithms need positive values", ErrInput, i, b.High)
		}
		l[i] = Bounds{Low: math.Inf(-1), High: math.Log(b.High)}
		if b.Low > 0 {
			l[i].Low = math.Log(b.Low)
		}
	}
	r, err := CensoredMean(l, level)
	if err != nil {
		return r, err
	}
	r.Value, r.Low, r.High = r.Value.Map(math.Exp), r.Low.Map(math.Exp), r.High.Map(math.Exp)
	r.open()
	return r, nil
}

// interval fills estimate and limits. Two values between finite bounds tell the scatter
// as two values alone do, with one degree of freedom, however many bounds stand beside them.
func (f *censoredFit) interval(r *Interval, closed int) {
	if !f.maximise() {
		r.Flags.Add(FlagNotConverged)
		return
	}
	mu, sigma := f.alpha/f.beta, 1/f.beta
	if !(sigma > minSigma) {
		r.Flags.Add(FlagNoSpread)
		return
	}
	n := float64(r.N)
	df := n - 1
	r.Value = quantity.Some(f.centre + f.scale*mu)
	r.SD = quantity.Some(f.scale * sigma * math.Sqrt(n/df))
	count := n
	if closed == 2 {
		df, count = 1, 2
	}
	t := critical(r.Level, df)
	r.DF = quantity.Some(df)
	drop := count * math.Log1p(t*t/df) / 2
	step := t * sigma / math.Sqrt(df)
	if v, ok := f.limit(mu, -step, drop); ok {
		r.Low = quantity.Some(f.centre + f.scale*v)
	}
	if v, ok := f.limit(mu, step, drop); ok {
		r.High = quantity.Some(f.centre + f.scale*v)
	}
	if !r.Bounded() {
		r.Flags.Add(FlagNotConverged)
	}
	r.open()
}

// CensoredShift is CensoredMean of differences with the test that their mean is
// zero, against Student's t with n-1.
//
//	T² = df (exp(2 (ln Lmax - ln Lprofile(0))/(df+1)) - 1)
//
// df is that of the interval, n-1 but for two values between bounds. Without censoring T is that of the paired t test exactly. Errors as CensoredMean.
func CensoredShift(d []Bounds, level float64) (Difference, error) {
	i, err := CensoredMean(d, level)
	r := Difference{Interval: i}
	if err != nil || !i.Value.OK || i.Flags.Has(FlagNoSpread) || !i.Low.OK && !i.High.OK {
		return r, err
	}
	if known(d) == len(d) && allObserved(d) {
		r.test()
		return r, nil
	}
	f, ok := newCensoredFit(d)
	if !ok || !f.maximise() {
		return r, nil
	}
	l, _ := f.profile(-f.centre/f.scale, f.beta)
	df := i.DF.V
	t := math.Sqrt(math.Max(0, df*math.Expm1(2*(f.top-l)/(df+1))))
	r.T = quantity.Some(math.Copysign(t, i.Value.V))
	if p, err := TTwoSided(t, df); err == nil {
		r.P = quantity.Some(p)
	}
	return r, nil
}

func allObserved(y []Bounds) bool {
	for _, b := range y {
		if !b.Observed() {
			return false
		}
	}
	return true
}

// CensoredPoint returns the estimate of CensoredMean without its interval, which
// costs most of the work; missing where CensoredMean has none. Errors as there.
func CensoredPoint(y []Bounds) (quantity.Optional, error) {
	if err := checkBounds(y); err != nil {
		return quantity.None(), err
	}
	if known(y) < 2 {
		return quantity.None(), nil
	}
	f, ok := newCensoredFit(y)
	if !ok || !f.maximise() || !(1/f.beta > minSigma) {
		return quantity.None(), nil
	}
	return quantity.Some(f.centre + f.scale*f.alpha/f.beta), nil
}

// CensoredPointGiven returns the mean of the largest likelihood of a normal
// sample with bounds whose standard deviation is known, such as one pooled over many samples; missing where no
// value has a finite bound on the side to which the likelihood would run off.
// Errors: ErrInput as CensoredMean, and for sigma that is not positive.
func CensoredPointGiven(y []Bounds, sigma float64) (quantity.Optional, error) {
	if !(sigma > 0) || math.IsInf(sigma, 1) {
		return quantity.None(), orInput(nil, "sigma", sigma)
	}
	if len(y) == 0 {
		return quantity.None(), nil
	}
	high, low := false, false // something holds the mean from above, from below
	start := 0.0
	for i, b := range y {
		if !(b.Low <= b.High) || math.IsInf(b.Low, 1) || math.IsInf(b.High, -1) {
			return quantity.None(), fmt.Errorf("%w: y[%d] between %v and %v", ErrInput, i, b.Low, b.High)
		}
		high, low = high || !math.IsInf(b.High, 1), low || !math.IsInf(b.Low, -1)
		switch {
		case b.closed():
			start += (b.Low + b.High) / 2
		case math.IsInf(b.High, 1):
			start += b.Low
		default:
			start += b.High
		}
	}
	if !high || !low {
		return quantity.None(), nil
	}
	std, _ := LognormalTimes.standard()
	mu := start / float64(len(y))
	for range 100 { // Newton's steps on a concave function
		var g, h float64
		for _, b := range y {
			t := std.term(b, mu, sigma)
			g += t.e
			h += t.ee
		}
		if !(h < 0) {
			return quantity.None(), nil
		}
		step := math.Max(-sigma, math.Min(sigma, -g/h))
		mu += step
		if math.Abs(step) <= 1e-12*sigma {
			return quantity.Some(mu), nil
		}
	}
	return quantity.None(), nil
}
