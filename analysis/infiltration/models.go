package infiltration

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"sheetwash/analysis/internal/fit"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// The flags of a fitted model, beside those of a steady infiltration rate.
const (
	FlagAtBound      = "at_bound"      // the parameter lies at an end of what the model allows; its interval is one-sided
	FlagNotConverged = "not_converged" // the search did not come to an end
)

// ModelAverage is the model name of the row that averages the models.
const ModelAverage = "average"

// Names of the rows that every model has beside its parameters.
const (
	CapacityAtEnd = "f_end"     // capacity at the end of rain, mm/h, at most the intensity
	PondingTime   = "t_ponding" // min since the start of rain
)

// ModelFit is one infiltration model fitted to the intervals of a plot.
type ModelFit struct {
	Model        string
	Parameters   []Parameter // the model's own, then CapacityAtEnd and PondingTime; no value without a flag that says why
	RSS          quantity.Optional
	AICc, Weight quantity.Optional // Weight: of Akaike, among the models that have an AICc
	N            int
	Converged    bool
	Flags        result.Flags
}

// Comparison is what the seven models make of a plot.
type Comparison struct {
	Fits []ModelFit
	// Average is the capacity at the end of rain, mm/h, averaged over the models
	// with their Akaike weights; U is the unconditional standard error
	// (Burnham & Anderson 2002, eq. 4.9) with the errors that all intervals share.
	Average result.Estimate
	// Sorptivity is that of Philip's model, mm/h^0.5.
	Sorptivity result.Estimate
}

// Models fits seven models of infiltration capacity to the interval means after
// the onset of runoff, each through time compression under constant rain, by
// least squares weighted with the known errors, and weighs them with
// Akaike's corrected criterion. All are fitted to the same intervals: those
// that the curve of Steady bears.
//
// It always answers: a model that cannot be had has rows without values and a
// flag that says why. The steady rate of a plot is that of Steady; this says how
// much of it depends on the form of the curve.
func Models(in Input) Comparison {
	in.defaults()
	data, verdicts := in.forModels()
	r := rain{i: in.IntensityMMH, end: in.RainMin / 60}
	c := Comparison{Fits: make([]ModelFit, 0, 7)}
	models := capacities()
	for n := range models {
		m := &models[n]
		if len(data) == 0 {
			c.Fits = append(c.Fits, m.without(0, verdicts))
			continue
		}
		f := m.fit(&in, data, r)
		f.add(verdicts)
		c.Fits = append(c.Fits, f)
	}
	weigh(c.Fits)
	c.Average = in.average(c.Fits)
	c.Sorptivity = sorptivity(c.Fits)
	return c
}

// Rows returns the rows of the fits table: all parameters of all models with
// their weights, and the average.
func (c *Comparison) Rows() []Parameter {
	var rows []Parameter
	for n := range c.Fits {
		rows = append(rows, c.Fits[n].Parameters...)
	}
	a := &c.Average
	return append(rows, Parameter{
		Model: ModelAverage, Name: CapacityAtEnd, Unit: "mm/h", Value: a.Value, U: a.U, Low: a.Low, High: a.High,
		N: a.N, Converged: a.Value.OK, Flags: a.Flags,
	})
}

// forModels returns the intervals that the models are fitted to, or the verdict
// why there are none.
func (in *Input) forModels() ([]fit.Mean, result.Flags) {
	if !in.sound() {
		return nil, result.Flags{FlagBadInput}
	}
	u := in.usable()
	switch {
	case !in.RanOff || u.dry:
		return nil, result.Flags{FlagLowerBound}
	case len(u.means) == 0:
		return nil, result.Flags{FlagNoReadings}
	}
	c := in.horton(&u, in.RainMin*(1-windowShare))
	var flags result.Flags
	if c.first > 0 {
		flags.Add(FlagStartMoved)
	}
	if len(u.atMost) > 0 {
		flags.Add(FlagOverflow)
	}
	if in.RainMin-u.means[len(u.means)-1].End > extrapolatedShare*in.RainMin {
		flags.Add(FlagExtrapolated)
	}
	return c.decline.Data[c.first:], flags
}

// without is the answer of a model that is not fitted.
func (c *capacity) without(n int, flags result.Flags) ModelFit {
	f := ModelFit{Model: c.name, N: n}
	for _, row := range c.allRows() {
		f.Parameters = append(f.Parameters, Parameter{Model: c.name, Name: row.name, Unit: row.unit, N: n})
	}
	f.add(flags)
	return f
}

// add adds flags to a fit and all of its rows.
func (f *ModelFit) add(flags result.Flags) {
	f.Flags.Add(flags...)
	for n := range f.Parameters {
		f.Parameters[n].Flags.Add(flags...)
	}
}

// allRows are the model's own rows and those that every model has.
func (c *capacity) allRows() []reported {
	return append(slices.Clip(c.rows),
		reported{name: CapacityAtEnd, unit: "mm/h", of: c.last, coordinate: none},
		reported{name: PondingTime, unit: "min", coordinate: none, of: func(p fit.Point, r rain) float64 {
			return 60 * c.depths(p, r, nil, nil, nil)
		}})
}

// moreThanParameters is by how much the number of intervals must exceed that of
// parameters; a constant needs one.
const moreThanParameters = 2

// fit fits the model.
func (c *capacity) fit(in *Input, data []fit.Mean, r rain) ModelFit {
	n, k := len(data), len(c.coordinates)
	if n < k+moreThanParameters && c.name != ConstantRate {
		return c.without(n, result.Flags{FlagNotIdentifiable})
	}
	box := c.box(data, r)
	least, ok := box.Minimum(c.starts())
	if !ok {
		return c.without(n, result.Flags{FlagBadInput})
	}
	f := ModelFit{Model: c.name, N: n, RSS: quantity.Some(least.Sum), AICc: aiccOf(least.Sum, n, k+1), Converged: least.Settled}
	if !least.Settled {
		f.Flags.Add(FlagNotConverged)
	}
	quantile, scale := in.z(), 1.0
	if df := n - k; df > 0 && least.Sum > float64(df) {
		scale = least.Sum / float64(df)
		quantile = distuv.StudentsT{Sigma: 1, Nu: float64(df)}.Quantile((1 + in.Level) / 2)
		f.Flags.Add(FlagScatter)
	}
	limit := least.Sum + quantile*quantile*scale
	for _, row := range c.allRows() {
		p := c.row(&row, box, least, limit, r)
		p.N, p.RSS, p.AICc, p.Converged = n, f.RSS, f.AICc, f.Converged
		if p.Low.OK && p.High.OK {
			p.U = quantity.Some((p.High.V - p.Low.V) / (2 * in.z()))
		}
		p.Flags.Add(f.Flags...)
		f.Parameters = append(f.Parameters, p)
	}
	c.verdict(&f, least, data, r)
	return f
}

// verdict withdraws what the intervals cannot tell: f0 and k of a Horton curve
// that falls within the first of them.
func (c *capacity) verdict(f *ModelFit, least fit.Least, data []fit.Mean, r rain) {
	if c.name != HortonPonding {
		return
	}
	p, _ := c.parameters(least.At, r)
	if p[2]*(data[0].End-data[0].Start)/60 <= 2 {
		return
	}
	for n := range f.Parameters {
		if q := &f.Parameters[n]; q.Name == "f0" || q.Name == "k" {
			q.Value, q.U = quantity.None(), quantity.None()
			q.Flags.Add(FlagNotIdentifiable)
		}
	}
}

// starts returns all combinations of the starts of the coordinates.
func (c *capacity) starts() []fit.Point {
	starts := []fit.Point{{}}
	for n := range c.coordinates {
		var more []fit.Point
		for _, s := range starts {
			for _, u := range c.coordinates[n].starts {
				s[n] = u
				more = append(more, s)
			}
		}
		starts = more
	}
	return starts
}

// row returns a row with its profile-likelihood interval.
func (c *capacity) row(row *reported, box *fit.Box, least fit.Least, limit float64, r rain) Parameter {
	f := func(u fit.Point) float64 {
		p, _ := c.parameters(u, r)
		v := row.of(p, r)
		if row.logarithm {
			return math.Log(v)
		}
		return v
	}
	back := func(v float64) float64 {
		if row.logarithm {
			return math.Exp(v)
		}
		return v
	}
	out := Parameter{Model: c.name, Name: row.name, Unit: row.unit}
	out.Value = quantity.Some(back(f(least.At)))
	for _, sign := range [2]float64{-1, 1} {
		e := box.Extreme(f, least, limit, sign)
		side := &out.Low
		if sign > 0 {
			side = &out.High
		}
		switch {
		case e.Open:
			out.Flags.Add(FlagNotIdentifiable)
		default:
			*side = quantity.Some(back(e.Value))
		}
	}
	if row.coordinate != none {
		c.atBound(&out, row.coordinate, least, r)
	}
	return out
}

// atBound puts values at an end of a range onto it.
func (c *capacity) atBound(out *Parameter, n int, least fit.Least, r rain) {
	co := &c.coordinates[n]
	if co.bounds == positive {
		if math.Abs(least.At[n]) >= reach {
			out.Value = quantity.None()
			out.Flags.Add(FlagNotIdentifiable)
		}
		return
	}
	top := 1.0
	if co.bounds == share {
		top = r.i
	}
	const near = 2e-6 // what reach leaves
	for _, v := range []*quantity.Optional{&out.Value, &out.Low, &out.High} {
		switch {
		case !v.OK:
		case v.V < near*top:
			v.V = 0
		case v.V > (1-near)*top:
			v.V = top
		}
	}
	if out.Value.V == 0 || out.Value.V == top {
		out.Flags.Add(FlagAtBound)
	}
}

// box returns the least-squares problem of the model.
func (c *capacity) box(data []fit.Mean, r rain) *fit.Box {
	s := newSampling(data)
	k := len(c.coordinates)
	return fit.NewBox(k, len(data), reach, func(u fit.Point, res []float64, j *[fit.MostCoordinates][]float64) {
		p, by := c.parameters(u, r)
		if j == nil {
			c.depths(p, r, s.t, s.depth, nil)
		} else {
			c.depths(p, r, s.t, s.depth, &s.slope)
		}
		for n := range res {
			a, b, per := s.from[n], s.to[n], s.per[n]
			res[n] = s.y[n] - (s.depth[b]-s.depth[a])*per
			if j == nil {
				continue
			}
			for q := range k {
				j[q][n] = -(s.slope[q][b] - s.slope[q][a]) * per * by[q]
			}
		}
	})
}

// sampling holds the times at which intervals begin and end, h, each once, and
// what a fit needs of the intervals: the mean over its error, and the inverse of
// error times length.
type sampling struct {
	t, depth []float64
	slope    slopes
	from, to []int
	y, per   []float64
}

func newSampling(data []fit.Mean) *sampling {
	n := len(data)
	s := &sampling{from: make([]int, n), to: make([]int, n)}
	buffer := make([]float64, 12*n)
	next := func(m int) (part []float64) {
		part, buffer = buffer[:m:m], buffer[m:]
		return part
	}
	s.t = next(2 * n)[:0]
	for _, m := range data {
		s.t = append(s.t, m.Start/60, m.End/60)
	}
	slices.Sort(s.t)
	s.t = slices.Compact(s.t)
	s.depth = next(2 * n)[:len(s.t)]
	for q := range s.slope {
		s.slope[q] = next(2 * n)[:len(s.t)]
	}
	s.y, s.per = next(n), next(n)
	for k, m := range data {
		s.from[k], _ = slices.BinarySearch(s.t, m.Start/60)
		s.to[k], _ = slices.BinarySearch(s.t, m.End/60)
		s.y[k], s.per[k] = m.Value/m.U, 60/((m.End-m.Start)*m.U)
	}
	return s
}
