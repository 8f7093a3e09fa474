package inference

import (
	"math"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// Line is a straight line fitted to points by least squares.
type Line struct {
	N                int
	DF               int // residual degrees of freedom
	Intercept, Slope Coefficient
	RSquared         quantity.Optional // about the mean; about zero for a line through the origin
	ResidualSD       quantity.Optional
	Level            float64
	Flags            result.Flags

	meanX, sxx float64
	origin     bool
}

// Coefficient is a parameter of a regression with its test against zero.
type Coefficient struct {
	Value, SE, T, P, Low, High quantity.Optional
}

// LinearRegression fits y = a + b x.
//
//	b = sum (x-mx)(y-my)/sum (x-mx)²,  a = my - b mx
//	s² = rss/(n-2), SE(b) = s/sqrt(Sxx), SE(a) = s sqrt(1/n + mx²/Sxx)
//
// Sums are about the means (two passes). Source: Draper & Smith (1998), Applied
// Regression Analysis, 3rd ed., ch. 1. Fewer than two distinct x: flag
// not_defined; two points: no errors, flag n_small. Errors: ErrInput for NaN,
// unlike lengths or the level.
func LinearRegression(x, y []float64, level float64) (Line, error) {
	l, err := newLine(x, y, level)
	if err != nil || l.Flags.Has(FlagNoData) {
		return l, err
	}
	mx, sxx := moments(x)
	my, syy := moments(y)
	if sxx == 0 {
		l.Flags.Add(FlagNotDefined)
		return l, nil
	}
	var sxy float64
	for i := range x {
		sxy += (x[i] - mx) * (y[i] - my)
	}
	b := sxy / sxx
	var rss float64
	for i := range x {
		r := (y[i] - my) - b*(x[i]-mx)
		rss += r * r
	}
	l.meanX, l.sxx = mx, sxx
	l.Slope.Value, l.Intercept.Value = quantity.Some(b), quantity.Some(my-b*mx)
	l.finish(2, rss, syy)
	if l.ResidualSD.OK {
		s := l.ResidualSD.V
		l.Slope.test(s/math.Sqrt(sxx), l.DF, level)
		l.Intercept.test(s*math.Sqrt(1/float64(l.N)+mx*mx/sxx), l.DF, level)
	}
	return l, nil
}

// LinearThroughOrigin fits y = b x.
//
//	b = sum x y/sum x²,  s² = rss/(n-1),  SE(b) = s/sqrt(sum x²)
//
// Source: Draper & Smith (1998), section 1.3. Errors as LinearRegression.
func LinearThroughOrigin(x, y []float64, level float64) (Line, error) {
	l, err := newLine(x, y, level)
	if err != nil || l.Flags.Has(FlagNoData) {
		return l, err
	}
	var sxx, sxy, syy float64
	for i := range x {
		sxx += x[i] * x[i]
		sxy += x[i] * y[i]
		syy += y[i] * y[i]
	}
	l.origin, l.sxx = true, sxx
	if sxx == 0 {
		l.Flags.Add(FlagNotDefined)
		return l, nil
	}
	b := sxy / sxx
	var rss float64
	for i := range x {
		r := y[i] - b*x[i]
		rss += r * r
	}
	l.Slope.Value = quantity.Some(b)
	l.finish(1, rss, syy)
	if l.ResidualSD.OK {
		l.Slope.test(l.ResidualSD.V/math.Sqrt(sxx), l.DF, level)
	}
	return l, nil
}

// Predict returns the line at x with the interval of the line (mean) and that
// of one further observation (single). Without errors both lack their limits.
func (l Line) Predict(x float64) (mean, single Interval) {
	mean = Interval{Level: l.Level, N: l.N}
	if !l.Slope.Value.OK {
		mean.Flags.Add(FlagNotDefined)
		return mean, mean
	}
	mean.Value = quantity.Some(l.Intercept.Value.Or(0) + l.Slope.Value.V*x)
	single = mean
	if !l.ResidualSD.OK || l.ResidualSD.V == 0 {
		mean.Flags.Add(FlagNSmall)
		single.Flags.Add(FlagNSmall)
		return mean, single
	}
	leverage := (x - l.meanX) * (x - l.meanX) / l.sxx
	if !l.origin {
		leverage += 1 / float64(l.N)
	}
	t := critical(l.Level, float64(l.DF)) * l.ResidualSD.V
	for i, p := range []*Interval{&mean, &single} {
		h := t * math.Sqrt(float64(i)+leverage)
		p.DF = quantity.Some(float64(l.DF))
		p.Low, p.High = quantity.Some(p.Value.V-h), quantity.Some(p.Value.V+h)
	}
	return mean, single
}

func newLine(x, y []float64, level float64) (Line, error) {
	l := Line{N: len(x), Level: level}
	if err := checkLengths("x", "y", len(x), len(y)); err != nil {
		return l, err
	}
	if err := checkFinite("x", x); err != nil {
		return l, err
	}
	if err := checkFinite("y", y); err != nil {
		return l, err
	}
	if len(x) == 0 {
		l.Flags.Add(FlagNoData)
	}
	return l, checkLevel(level)
}

func (l *Line) finish(parameters int, rss, total float64) {
	l.DF = l.N - parameters
	if total > 0 {
		l.RSquared = quantity.Some(1 - rss/total)
	}
	if l.DF < 1 {
		l.Flags.Add(FlagNSmall)
		return
	}
	l.ResidualSD = quantity.Some(math.Sqrt(rss / float64(l.DF)))
}

func (c *Coefficient) test(se float64, df int, level float64) {
	c.SE = quantity.Some(se)
	if !(se > 0) {
		return
	}
	d := float64(df)
	c.T = quantity.Some(c.Value.V / se)
	if p, err := TTwoSided(c.T.V, d); err == nil {
		c.P = quantity.Some(p)
	}
	h := critical(level, d) * se
	c.Low, c.High = quantity.Some(c.Value.V-h), quantity.Some(c.Value.V+h)
}
