package inference

import (
	"math"
	"slices"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// BrokenLine is a continuous line of two straight parts.
type BrokenLine struct {
	Break           Interval // SE by the delta method; limits with t(n-4)
	Intercept       quantity.Optional
	Before, After   quantity.Optional // slopes
	RSS, RSSWithout quantity.Optional // with and without the break
	N               int
	Flags           result.Flags
}

// Breakpoint fits y = a + b x + d max(0, x - c) by least squares.
//
// The residual sum of squares as a function of c has several local minima, at
// most one between neighbouring x. Every such stretch is searched: within it the best two lines are
// solved for and their crossing taken where it lies inside, else its ends. Source: Hudson (1966), Journal of the American Statistical Association
// 61:1097-1129; the error of c from the linear approximation of Muggeo (2003), Statistics in Medicine 22:3055-3071.
// An ordinary F test for the break is not valid, so none is given. Fewer than five
// points or distinct x: n_small. Errors: ErrInput for NaN, unlike lengths or the level.
func Breakpoint(x, y []float64, level float64) (BrokenLine, error) {
	c, err := pairs(x, y, level)
	r := BrokenLine{N: len(x)}
	r.Break = Interval{Level: level, N: len(x)}
	if err != nil {
		return r, err
	}
	r.Flags = c.Flags
	at := slices.Compact(slices.Sorted(slices.Values(x)))
	if len(at) < 5 {
		r.Flags.Add(FlagNSmall)
		return r, nil
	}
	straight, err := LinearRegression(x, y, level)
	if err != nil {
		return r, err
	}
	if straight.ResidualSD.OK {
		r.RSSWithout = quantity.Some(straight.ResidualSD.V * straight.ResidualSD.V * float64(straight.DF))
	}
	best := math.Inf(1)
	var fit hinge
	try := func(v float64) {
		if h, ok := newHinge(x, y, v); ok && h.rss < best*(1-1e-13) {
			best, fit = h.rss, h
		}
	}
	for i := 1; i+2 < len(at); i++ {
		try(at[i])
		try(at[i+1])
		if v, ok := crossing(x, y, at[i]); ok && v > at[i] && v < at[i+1] {
			try(v)
		}
	}
	if math.IsInf(best, 1) {
		r.Flags.Add(FlagNotDefined)
		return r, nil
	}
	r.Break.Value = quantity.Some(fit.at)
	r.Intercept, r.Before, r.After = quantity.Some(fit.b[0]), quantity.Some(fit.b[1]), quantity.Some(fit.b[1]+fit.b[2])
	r.RSS = quantity.Some(fit.rss)
	r.errors(x, y, fit)
	return r, nil
}

// errors fills the error of the breakpoint by linearising the model in it.
func (r *BrokenLine) errors(x, y []float64, fit hinge) {
	df := float64(len(x) - 4)
	if df < 1 || fit.b[2] == 0 {
		r.Flags.Add(FlagNSmall)
		return
	}
	columns := [][]float64{x, make([]float64, len(x)), make([]float64, len(x))}
	for i, v := range x {
		if v > fit.at {
			columns[1][i], columns[2][i] = v-fit.at, -1
		}
	}
	g, err := MultipleRegression(columns, y, true, r.Break.Level)
	if err != nil || len(g.Terms) < 4 || !g.Terms[3].SE.OK {
		r.Flags.Add(FlagNotDefined)
		return
	}
	se := g.Terms[3].SE.V / math.Abs(fit.b[2])
	r.Break.SE, r.Break.DF = quantity.Some(se), quantity.Some(df)
	if se == 0 {
		r.Flags.Add(FlagPerfectFit)
		return
	}
	h := critical(r.Break.Level, df) * se
	r.Break.Low, r.Break.High = quantity.Some(fit.at-h), quantity.Some(fit.at+h)
}

// hinge is the best broken line for one place of the break.
type hinge struct {
	at, rss float64
	b       [3]float64 // intercept, slope before, change of slope
}

func newHinge(x, y []float64, at float64) (hinge, bool) {
	bend := make([]float64, len(x))
	for i, v := range x {
		bend[i] = math.Max(0, v-at)
	}
	b, rss, ok := leastSquaresOf([][]float64{ones(len(x)), x, bend}, y)
	if !ok {
		return hinge{}, false
	}
	return hinge{at: at, rss: rss, b: [3]float64{b[0], b[1], b[2]}}, true
}

// crossing returns where the best lines of the points up to and beyond a place meet.
func crossing(x, y []float64, at float64) (float64, bool) {
	before, after := make([]float64, len(x)), make([]float64, len(x))
	step, slope := make([]float64, len(x)), make([]float64, len(x))
	for i, v := range x {
		if v <= at {
			before[i], slope[i] = 1, v
		} else {
			step[i], after[i] = 1, v
		}
	}
	b, _, ok := leastSquaresOf([][]float64{before, slope, step, after}, y)
	if !ok || b[1] == b[3] {
		return 0, false
	}
	return (b[2] - b[0]) / (b[1] - b[3]), true
}

func ones(n int) []float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = 1
	}
	return v
}
