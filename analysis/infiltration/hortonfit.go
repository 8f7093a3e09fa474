package infiltration

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"sheetwash/analysis/internal/fit"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

const (
	// hortonLeast is the number of intervals from which the curve's three
	// parameters leave something to check it by.
	hortonLeast = 4
	// lagScaleMin is the scale of the prior of the time that water stays on
	// the plot before it leaves, min: 1 mm of flowing water at 80 mm/h.
	lagScaleMin = 0.75
	// mostIntervals is how many intervals the curve is fitted to; more of them
	// are joined to longer ones first.
	mostIntervals = 48
)

// throughIt is by how much the sum of squares of a curve may exceed the least
// one and still be said to go through the data: a standard deviation.
const throughIt = 1.0

// curveFit is a Horton curve fitted to the intervals from a start on.
type curveFit struct {
	decline fit.Decline
	first   int // of decline.Data
	best    fit.Optimum
	region  fit.Region
	low     float64 // of the capacity at the end of rain, the other family included
	high    float64
	scale   float64 // chi2/df where above 1
	n       int     // intervals it was fitted to, before any were joined
}

// horton fits the Horton (1940) capacity curve
//
//	f = fc + (f0 - fc) exp(-k t),
//
// integrated over each interval and written with its value at the end of rain
// as a parameter, by least squares weighted with the known errors.
//
// Only intervals after the onset of runoff take part, since before it f = i
// says no more than that capacity is at least that. Time counts from the onset:
// f0 is the capacity there, at most the intensity, and a shift of time is
// absorbed by it. Water in flow on the surface delays the runoff; see
// fit.Decline. First intervals that the curve through the rest does not bear
// are left out.
//
// The interval is the profile-likelihood one: all values at the end of rain for
// which some k, f0 and lag give a sum of squares within the quantile of the
// least one. Where the scatter is larger than the errors allow, it is widened
// by sqrt(chi2/df) and Student's quantile takes the place of the normal one.
// Soils need not follow an exponential; the interval is widened to what a
// decline with the root of time (Philip 1957, Soil Sci. 83:345-357) gives for
// the same intervals, as far as it fits them no worse than the limit.
func (in *Input) horton(u *usable, windowMin float64) curveFit {
	means, bounds := joined(u.means), u.atMost
	c := in.fitCurve(means, u, windowMin)
	for range u.atMost {
		violated := c.violated(bounds)
		if len(violated) == 0 {
			break
		}
		means = inOrder(means, violated)
		bounds = without(bounds, violated)
		c = in.fitCurve(means, u, windowMin)
	}
	// A declining capacity is at the end of rain at most what any bound says.
	for _, b := range bounds {
		c.high = math.Max(c.best.True, math.Min(c.high, b.Value+in.z()*b.U))
	}
	c.n = countFrom(u.means, c.decline.Data[c.first].Start)
	return c
}

// estimate returns the capacity at the end of rain with its verdicts.
func (c *curveFit) estimate(in *Input) result.Estimate {
	e := in.finish(c.best.True, (c.high-c.low)/(2*in.z()), c.low, c.high)
	e.N = c.n
	if c.region.Fall.High > in.Tolerance.at(c.best.True, in.IntensityMMH) {
		e.Flags.Add(FlagNotSteady)
	}
	if c.n < hortonLeast {
		e.Flags.Add(FlagNotIdentifiable)
	}
	if c.scale > 1 {
		e.Flags.Add(FlagScatter)
	}
	if c.first > 0 {
		e.Flags.Add(FlagStartMoved)
	}
	return e
}

// fitCurve chooses the start and fits.
func (in *Input) fitCurve(means []fit.Mean, u *usable, windowMin float64) curveFit {
	c := curveFit{scale: 1}
	c.decline = fit.Decline{
		Data: means, From: u.fromMin, Onset: u.onsetMin, To: in.RainMin,
		Ceiling: in.IntensityMMH, LagScale: lagScaleMin, Starts: starts(len(means)),
	}
	d := &c.decline
	at, solution, best := chooseStart(fit.NewSearch(d, fit.Exponential), d)
	c.first, c.best = d.Starts[at], best
	df := len(means) - c.first - 3
	quantile := in.z()
	if df > 0 && c.best.Sum > float64(df) {
		c.scale = c.best.Sum / float64(df)
		quantile = distuv.StudentsT{Sigma: 1, Nu: float64(df)}.Quantile((1 + in.Level) / 2)
	}
	limit := c.best.Penalised + quantile*quantile*c.scale
	around := &best
	if df < 0 {
		around = nil // curves without number go through one or two intervals
	}
	c.region = solution.Region(limit, windowMin, around)
	c.low, c.high = c.region.True.Low, c.region.True.High
	if r := solution.As(fit.Root).Region(limit, windowMin, nil).True; r.Low <= r.High {
		c.low, c.high = math.Min(c.low, r.Low), math.Max(c.high, r.High)
	}
	floor := least(d.Data[c.first:])
	c.low = math.Max(c.low, floor)
	if df < 0 {
		through := solution.Region(c.best.Penalised+throughIt, windowMin, nil).True
		c.best.True = (math.Max(through.Low, floor) + through.High) / 2
	}
	c.best.True = math.Max(c.best.True, floor)
	c.low, c.high = math.Min(c.low, c.best.True), math.Max(c.high, c.best.True)
	return c
}

// least returns what a capacity that is carried on to the end of rain cannot
// fall below: zero, or the lowest rate that was measured, where noise put that
// below zero.
func least(data []fit.Mean) float64 {
	low := 0.0
	for _, m := range data {
		low = math.Min(low, m.Value)
	}
	return low
}

// starts returns the intervals from which the fit may begin: the first, and
// later ones up to half of them.
func starts(n int) []int {
	last := min(n/2, n-hortonLeast)
	s := []int{0}
	for len(s) < fit.MaxStarts {
		step := 1
		if len(s) > 2 {
			step = max(1, (last-s[len(s)-1])/(fit.MaxStarts-len(s)))
		}
		next := s[len(s)-1] + step
		if next > last {
			break
		}
		s = append(s, next)
	}
	return s
}

// startLevel is the level at which first intervals are left out.
const startLevel = 0.95

// chooseStart returns the earliest start whose curve is not made significantly
// worse by the intervals right after it, and the best curve from there: leaving
// m of them out lowers the sum of squares by chi-square with m degrees of
// freedom, if the curve holds.
func chooseStart(search *fit.Search, d *fit.Decline) (int, fit.Solution, fit.Optimum) {
	solution := search.From(0)
	best := solution.Optimum()
	sums := make([]float64, len(d.Starts))
	sums[0] = best.Penalised
	// The grid compares starts well enough unless the errors are so small that
	// the curve falls between its points.
	fine := search.Least(0) > best.Penalised+1
	for j := 1; j < len(sums); j++ {
		if sums[j] = search.Least(j); fine {
			sums[j] = search.LeastNear(j, &best)
		}
	}
	for j := range sums {
		if j < len(sums)-1 && !bears(sums, d, j) {
			continue
		}
		if j > 0 {
			solution = search.From(j)
			best = solution.Optimum()
		}
		return j, solution, best
	}
	return 0, solution, best
}

func bears(sums []float64, d *fit.Decline, j int) bool {
	for m := j + 1; m < len(sums); m++ {
		df := len(d.Data) - d.Starts[m] - 3
		scale := 1.0
		if df > 0 {
			scale = math.Max(1, sums[m]/float64(df))
		}
		gain := (sums[j] - sums[m]) / scale
		left := float64(d.Starts[m] - d.Starts[j])
		if gain > left && (distuv.ChiSquared{K: left}).CDF(gain) > startLevel {
			return false
		}
	}
	return true
}

// violated returns the bounds that the curve lies above: there, and only there,
// a bound pulls like a measurement (one-sided normal likelihood).
func (c *curveFit) violated(atMost []fit.Mean) []fit.Mean {
	var out []fit.Mean
	for _, b := range atMost {
		if c.decline.Seen(c.best, fit.Exponential, b.Start, b.End) > b.Value {
			out = append(out, b)
		}
	}
	return out
}

// parameters returns the rows of the fits table.
func (in *Input) parameters(c *curveFit) []Parameter {
	z := in.z()
	perHour := 60 / (c.decline.To - c.decline.From)
	row := func(name, unit string, value float64, r fit.Range, factor float64) Parameter {
		p := Parameter{Model: HortonCurve, Name: name, Unit: unit, N: c.n, Converged: true, RSS: quantity.Some(c.best.Sum)}
		p.Value = quantity.Some(value * factor)
		p.Low, p.High = quantity.Some(r.Low*factor), quantity.Some(r.High*factor)
		if p.Low.OK && p.High.OK {
			p.U = quantity.Some((p.High.V - p.Low.V) / (2 * z))
		}
		p.AICc = aicc(c.best.Sum, len(c.decline.Data)-c.first)
		return p
	}
	f0 := row("f0", "mm/h", c.best.End+c.best.Drop, c.region.First, 1)
	fc := row("fc", "mm/h", c.best.Far, c.region.Far, 1)
	k := row("k", "1/h", c.best.Kappa, c.region.Kappa, perHour)
	end := row("f_end", "mm/h", c.best.True, fit.Range{Low: c.low, High: c.high}, 1)
	e := in.finish(c.best.True, (c.high-c.low)/(2*z), c.low, c.high)
	end.U, end.Low, end.High = e.U, e.Low, e.High
	lag := row("lag", "min", c.best.Lag, c.region.Lag, 1)
	// The first interval holds the whole decline: f0 and k cannot be told apart.
	first := c.decline.Data[c.first]
	if c.best.Drop <= 0 || c.best.Largest || c.best.Kappa*(first.End-c.decline.From)/(c.decline.To-c.decline.From) > 2 || c.n < hortonLeast {
		for _, p := range []*Parameter{&f0, &k} {
			p.Value, p.U = quantity.None(), quantity.None()
			p.Flags.Add(FlagNotIdentifiable)
		}
	}
	if !fc.Value.OK || !fc.Low.OK {
		fc.Flags.Add(FlagNotIdentifiable)
	}
	if c.best.Far < 0 {
		fc.Flags.Add(FlagNegative)
	}
	return []Parameter{f0, fc, k, end, lag}
}

// aicc is the corrected information criterion of Hurvich & Tsai (1989,
// Biometrika 76:297-307) for f_end, f0, k, the lag and the error variance.
func aicc(rss float64, n int) quantity.Optional {
	const p = 5
	if n <= p+1 || !(rss > 0) {
		return quantity.None()
	}
	m := float64(n)
	return quantity.Some(m*math.Log(rss/m) + 2*p + 2*p*(p+1)/(m-p-1))
}
