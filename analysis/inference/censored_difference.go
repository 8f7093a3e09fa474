package inference

import (
	"math"

	"sheetwash/analysis/quantity"
)

// CensoredDifference returns the difference of the means, x minus y, of two
// normal samples with one variance, of which some values are only known to lie beyond or between
// bounds.
//
//	limits: the d with 2 (ln Lmax - ln Lprofile(d)) = n ln(1 + t²/(n-2))
//	T² = (n-2) (exp(2 (ln Lmax - ln L(0))/n) - 1), against Student's t with n-2
//
// Without censoring estimate, limits and test are those of the pooled t test exactly; with it they are an
// approximation, measured in docs/coverage.md. A sample without a value that is known between finite
// bounds, or fewer than three of them in all: no answer, flags all_censored or few_observed. A sample of one: no interval, one_value. Source: Tobin (1958), Econometrica
// 26:24-36; Meeker & Escobar (1995) for profile limits. Errors: ErrInput for bounds in the wrong order, NaN or the level.
func CensoredDifference(x, y []Bounds, level float64) (Difference, error) {
	r := Difference{Interval: Interval{Level: level, N: len(x) + len(y)}}
	// The one-sample estimator checks bounds and level.
	a, err := CensoredMean(x, level)
	if err != nil {
		return r, err
	}
	b, err := CensoredMean(y, level)
	if err != nil {
		return r, err
	}
	r.First, r.Second = a.Value, b.Value
	knownX, knownY := known(x), known(y)
	switch {
	case len(x) == 0 || len(y) == 0:
		r.Flags.Add(FlagNoData)
		return r, nil
	case knownX == 0 || knownY == 0:
		r.Flags.Add(FlagAllCensored)
		return r, nil
	case len(x) == 1 || len(y) == 1:
		// The scatter of the other sample alone would stand for both.
		if a.Value.OK && b.Value.OK {
			r.Value = quantity.Some(a.Value.V - b.Value.V)
		}
		r.Flags.Add(FlagOneValue)
		return r, nil
	case knownX+knownY < 3:
		r.Flags.Add(FlagFewObserved)
		return r, nil
	}
	f, scale, ok := newDifferenceFit(x, y)
	if !ok {
		r.Flags.Add(FlagNoSpread)
		return r, nil
	}
	f.start()
	if !f.maximise(-1) || f.theta[2] < math.Log(minSigma) {
		r.Flags.Add(FlagNotConverged)
		return r, nil
	}
	r.fill(f, scale)
	return r, nil
}

// known counts the values within finite bounds.
func known(y []Bounds) int {
	n := 0
	for _, b := range y {
		if b.closed() {
			n++
		}
	}
	return n
}

// newDifferenceFit shifts and scales both samples to unit range.
func newDifferenceFit(x, y []Bounds) (*timeFit, float64, bool) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, b := range append(append([]Bounds{}, x...), y...) {
		for _, v := range [2]float64{b.Low, b.High} {
			if !math.IsInf(v, 0) {
				lo, hi = min(lo, v), max(hi, v)
			}
		}
	}
	centre, scale := lo+(hi-lo)/2, hi-lo
	std, _ := LognormalTimes.standard()
	f := &timeFit{std: std}
	if !spread(centre, scale) || degenerate(x) && degenerate(y) {
		return f, scale, false
	}
	for k, sample := range [2][]Bounds{x, y} {
		for _, b := range sample {
			f.y = append(f.y, Bounds{(b.Low - centre) / scale, (b.High - centre) / scale})
			f.x = append(f.x, []float64{1, float64(1 - k)})
		}
	}
	return f, scale, true
}

// degenerate reports whether one value agrees with all bounds of a sample, so
// that nothing says how far its values scatter.
func degenerate(y []Bounds) bool {
	least, most := math.Inf(-1), math.Inf(1)
	for _, b := range y {
		least, most = max(least, b.Low), min(most, b.High)
	}
	return least <= most
}

// fill takes estimate, limits and test from the likelihood.
func (d *Difference) fill(f *timeFit, scale float64) {
	n := float64(d.N)
	df := n - 2
	d.DF = quantity.Some(df)
	d.Value = quantity.Some(scale * f.theta[1])
	sigma := scale * math.Exp(f.theta[2]) * math.Sqrt(n/df)
	d.SD = quantity.Some(sigma)
	t := critical(d.Level, df)
	drop := n * math.Log1p(t*t/df) / 2
	step := t * math.Exp(f.theta[2])
	if v, ok := f.limit(1, -step, drop); ok {
		d.Low = quantity.Some(scale * v)
	}
	if v, ok := f.limit(1, step, drop); ok {
		d.High = quantity.Some(scale * v)
	}
	if !d.Low.OK && !d.High.OK {
		d.Flags.Add(FlagNotConverged)
		return
	}
	d.open()
	null := &timeFit{std: f.std, x: f.x, y: f.y, theta: append([]float64(nil), f.theta...)}
	null.theta[1] = 0
	if !null.maximise(1) {
		return
	}
	t0 := math.Sqrt(math.Max(0, df*math.Expm1(2*(f.top-null.top)/n)))
	d.T = quantity.Some(math.Copysign(t0, d.Value.V))
	if p, err := TTwoSided(t0, df); err == nil {
		d.P = quantity.Some(p)
	}
}

// CensoredRatio is CensoredDifference of logarithms, transformed back: the ratio
// of geometric means (and medians) of two log-normal samples, x over y. T and P
// are those of the logarithms. Errors: ErrInput also for an upper bound that is not positive.
func CensoredRatio(x, y []Bounds, level float64) (Difference, error) {
	lx, err := logBounds(x)
	if err != nil {
		return Difference{}, err
	}
	ly, err := logBounds(y)
	if err != nil {
		return Difference{}, err
	}
	r, err := CensoredDifference(lx, ly, level)
	if err != nil {
		return Difference{}, err
	}
	for _, v := range []*quantity.Optional{&r.Value, &r.Low, &r.High, &r.First, &r.Second} {
		*v = v.Map(math.Exp)
	}
	return r, nil
}
