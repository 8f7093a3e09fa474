package inference

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// TimeRegression is a regression of the logarithms of times that may be censored.
type TimeRegression struct {
	Law           TimeLaw
	N, Observed   int
	Coefficients  []Coefficient     // intercept first; of logarithms; DF infinite
	LogScale      Coefficient       // of the logarithm of the scale; no SE for exponential times
	LogLikelihood quantity.Optional // with the Jacobian -ln t of observed times
	AIC           quantity.Optional
	Level         float64
	Flags         result.Flags

	fit *timeFit
}

// TimeRatios fits an accelerated failure time model: the logarithm of a time is
// a location that is linear in the columns, plus a scale times an error of the law.
//
//	ln T = b0 + sum b_j x_j + sigma W;  exp(b_j) is a ratio of times
//	L = prod f(z)/(sigma t) * prod S(z) * prod F(z) * prod (F(z_b) - F(z_a))
//
// over observed, right-, left- and interval-censored times. Limits of the
// coefficients are Wald's, with z; ProfileRatio gives better ones for few plots.
// Source: Kalbfleisch & Prentice (2002), The Statistical Analysis of Failure Time
// Data, 2nd ed., ch. 3; Newton's method with the observed information. Fewer observed
// times than parameters: flag few_observed; no largest likelihood (a group without
// an observed time): not_converged. Errors: ErrInput for NaN, unlike lengths, times
// that are not positive, an unknown law or the level.
func TimeRatios(times []Bounds, columns [][]float64, law TimeLaw, level float64) (TimeRegression, error) {
	r := TimeRegression{Law: law, N: len(times), Level: level}
	if err := checkLevel(level); err != nil {
		return r, err
	}
	std, ok := law.standard()
	if !ok {
		return r, fmt.Errorf("%w: law of times %q", ErrInput, law)
	}
	for j, c := range columns {
		if err := checkLengths("column", "times", len(c), len(times)); err != nil {
			return r, err
		}
		if err := checkFinite(fmt.Sprintf("column %d", j), c); err != nil {
			return r, err
		}
	}
	y, err := logBounds(times)
	if err != nil {
		return r, err
	}
	for _, b := range y {
		if b.closed() {
			r.Observed++
		}
	}
	switch {
	case r.N == 0:
		r.Flags.Add(FlagNoData)
		return r, nil
	case r.Observed == 0:
		r.Flags.Add(FlagAllCensored)
		return r, nil
	}
	f := &timeFit{std: std, y: y, fixedScale: law == ExponentialTimes}
	for i := range y {
		row := []float64{1}
		for _, c := range columns {
			row = append(row, c[i])
		}
		f.x = append(f.x, row)
	}
	if r.Observed < len(columns)+1 || !f.fixedScale && r.Observed == 1 {
		r.Flags.Add(FlagFewObserved)
		return r, nil
	}
	r.solve(f)
	return r, nil
}

// logBounds takes logarithms of bounds.
func logBounds(times []Bounds) ([]Bounds, error) {
	y := make([]Bounds, len(times))
	for i, b := range times {
		if !(b.Low <= b.High) || !(b.High > 0) || math.IsInf(b.Low, 1) || (b.Observed() && !(b.Low > 0)) {
			return nil, fmt.Errorf("%w: time[%d] between %v and %v", ErrInput, i, b.Low, b.High)
		}
		y[i] = Bounds{math.Inf(-1), math.Log(b.High)}
		if b.Low > 0 {
			y[i].Low = math.Log(b.Low)
		}
	}
	return y, nil
}

// solve maximises the likelihood and fills coefficients and their errors.
func (r *TimeRegression) solve(f *timeFit) {
	f.start()
	if !f.maximise(-1) {
		r.Flags.Add(FlagNotConverged)
		return
	}
	info := f.information(-1)
	var chol mat.Cholesky
	var cov mat.SymDense
	if !chol.Factorize(info) || chol.InverseTo(&cov) != nil {
		r.Flags.Add(FlagNotConverged)
		return
	}
	p := len(f.x[0])
	for j := range p {
		if !(cov.At(j, j) < 1e8) { // flat: the likelihood rises without end
			r.Flags.Add(FlagNotConverged)
			return
		}
	}
	r.fit = f
	z := criticalNormal(r.Level)
	fill := func(v, variance float64) Coefficient {
		se := math.Sqrt(variance)
		c := Coefficient{Value: quantity.Some(v), SE: quantity.Some(se), T: quantity.Some(v / se),
			Low: quantity.Some(v - z*se), High: quantity.Some(v + z*se)}
		c.P = quantity.Some(2 * NormalCDF(-math.Abs(v/se)))
		return c
	}
	for j := range p {
		r.Coefficients = append(r.Coefficients, fill(f.theta[j], cov.At(j, j)))
	}
	parameters := p
	r.LogScale = Coefficient{Value: quantity.Some(f.theta[p])}
	if !f.fixedScale {
		r.LogScale = fill(f.theta[p], cov.At(p, p))
		parameters++
	}
	r.LogLikelihood = quantity.Some(f.top)
	r.AIC = quantity.Some(2*float64(parameters) - 2*f.top)
}

// Median returns the median time for a row of the columns.
func (r TimeRegression) Median(row []float64) quantity.Optional {
	if r.fit == nil || len(row)+1 != len(r.Coefficients) {
		return quantity.None()
	}
	eta := r.Coefficients[0].Value.V + math.Exp(r.LogScale.Value.V)*r.fit.std.median
	for j, x := range row {
		eta += r.Coefficients[j+1].Value.V * x
	}
	return quantity.Some(math.Exp(eta))
}

// ProfileRatio returns the time ratio exp(b) of column j (counted from 0) with limits
// from the profile likelihood, cut for few values.
//
//	2 (ln Lmax - ln Lprofile(b)) = n ln(1 + t²/df),  df = n - parameters of the location
//
// t is Student's quantile for df. For log-normal times without censoring the
// limits are those of the pooled t interval of the logarithms exactly. With
// censoring they are an approximation whose coverage docs/coverage.md gives. A limit
// at which the likelihood never falls so far is missing and flagged.
// Departure from Wald's limits: those cover too little for a few plots. Source: Meeker & Escobar (1995).
func (r TimeRegression) ProfileRatio(j int) Interval {
	i := Interval{Level: r.Level, N: r.N}
	if r.fit == nil || j < 0 || j+1 >= len(r.Coefficients) {
		i.Flags.Add(r.Flags...)
		i.Flags.Add(FlagNotDefined)
		return i
	}
	p := len(r.fit.x[0])
	df := float64(r.N - p)
	c := r.Coefficients[j+1]
	i.Value, i.SE = c.Value.Map(math.Exp), c.SE
	if df < 1 {
		i.Flags.Add(FlagNSmall)
		return i
	}
	i.DF = quantity.Some(df)
	t := critical(r.Level, df)
	drop := float64(r.N) * math.Log1p(t*t/df) / 2
	low, okLow := r.fit.limit(j+1, -t*c.SE.V, drop)
	high, okHigh := r.fit.limit(j+1, t*c.SE.V, drop)
	if okLow {
		i.Low = quantity.Some(math.Exp(low))
	}
	if okHigh {
		i.High = quantity.Some(math.Exp(high))
	}
	if !okLow && !okHigh {
		i.Flags.Add(FlagNotConverged)
	}
	i.open()
	return i
}
