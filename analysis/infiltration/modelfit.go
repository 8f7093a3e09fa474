package infiltration

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"sheetwash/analysis/internal/fit"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// allRows are the model's own rows and those that every model has.
func (c *capacity) allRows() []reported {
	return append(slices.Clip(c.rows),
		reported{name: CapacityAtEnd, unit: "mm/h", of: c.last, coordinate: none, unboundedAt: none, least: nothing, most: intensity},
		reported{name: PondingTime, unit: "min", coordinate: none, unboundedAt: none, of: func(p fit.Point, r rain) float64 {
			return 60 * c.ponding(p, r)
		}})
}

// moreThanParameters is by how much the number of intervals must exceed that of
// parameters; a constant needs one.
const moreThanParameters = 2

// minimum is the best fit of a model to the intervals of a plot.
type minimum struct {
	*capacity
	n, k    int // intervals, parameters
	box     *fit.Box
	least   fit.Least
	lagMin  float64      // residence time of water on the plot
	refused result.Flags // why there is no fit: then all else is empty
}

// minimum finds the best fit of the model.
func (c *capacity) minimum(in *seen, r rain) minimum {
	m := minimum{capacity: c, n: len(in.data), k: len(c.coordinates)}
	if m.n < m.k+moreThanParameters && c.name != ConstantRate {
		m.refused = result.Flags{FlagNotIdentifiable}
		return m
	}
	m.box = c.box(in, r)
	var ok bool
	if m.least, ok = m.box.Minimum(c.starts(in.data, r)); !ok {
		m.refused = result.Flags{FlagBadInput}
		return m
	}
	if in.rise != nil {
		residuals := make([]float64, m.n+1)
		m.box.Residuals(m.least.At, residuals, nil)
		m.lagMin = residuals[m.n] * lagScaleMin
	}
	return m
}

// bends reports whether the rate of the form may decline.
func (m *minimum) bends() bool { return m.name != ConstantRate }

// rss is the sum of squares of the residuals over their errors, without the prior
// of the residence time.
func (m *minimum) rss() float64 {
	prior := m.lagMin / lagScaleMin
	return max(m.least.Sum-prior*prior, 0)
}

// scatter is chi-square over the degrees of freedom, 1 where these are none.
func (m *minimum) scatter() float64 {
	if m.n <= m.k {
		return 1
	}
	return m.least.Sum / float64(m.n-m.k)
}

// report returns the fit with its rows. forms says up to which sum of squares the
// model may speak of the capacity at the end of rain.
func (m *minimum) report(in *Input, data []fit.Mean, r rain, forms *forms, at int) ModelFit {
	if m.refused != nil {
		return m.without(m.n, m.refused)
	}
	f := ModelFit{Model: m.name, N: m.n, RSS: quantity.Some(m.rss()), Converged: m.least.Settled}
	f.AICc = aiccOf(f.RSS.V, m.n, m.k+1)
	if !m.least.Settled {
		f.Flags.Add(FlagNotConverged)
	}
	if m.scatter() > 1 {
		f.Flags.Add(FlagScatter)
	}
	if forms.known() {
		f.Weight = quantity.Some(forms.weights[at])
	}
	if forms.excludes(at) {
		f.Flags.Add(FlagFormExcluded)
	}
	limit := m.least.Sum + in.room(m.scatter(), m.n-m.k)
	for _, row := range m.allRows() {
		p := m.value(&row, r)
		switch {
		case row.name != CapacityAtEnd:
			m.bound(&p, &row, limit, r)
		case forms.known() && !forms.excludes(at) && m.bends():
			m.bound(&p, &row, m.least.Sum+forms.room(at), r)
		case !forms.excludes(at):
			p.Flags.Add(FlagNotIdentifiable)
		}
		p.N, p.RSS, p.AICc, p.Weight, p.Converged = m.n, f.RSS, f.AICc, f.Weight, f.Converged
		if p.Low.OK && p.High.OK {
			p.U = quantity.Some((p.High.V - p.Low.V) / (2 * in.z()))
		}
		p.Flags.Add(f.Flags...)
		f.Parameters = append(f.Parameters, p)
	}
	m.verdict(&f, m.least, data, r)
	return f
}

// room is by how much a sum of squares may exceed the least one within an
// interval: the square of the normal quantile or, where the scatter is more than
// the errors allow, of Student's with the scatter.
func (in *Input) room(scatter float64, df int) float64 {
	q, scale := in.z(), 1.0
	if scatter > 1 {
		q, scale = distuv.StudentsT{Sigma: 1, Nu: float64(df)}.Quantile((1+in.Level)/2), scatter
	}
	return q * q * scale
}

// verdict withdraws what the intervals cannot tell: f0 and k of a Horton curve
// that falls within the first of them.
func (c *capacity) verdict(f *ModelFit, least fit.Least, data []fit.Mean, r rain) {
	if c.name != HortonPonding {
		return
	}
	p, _ := c.parameters(least.At, r)
	if p[1]*(data[0].End-data[0].Start)/60 <= 2 {
		return
	}
	for n := range f.Parameters {
		if q := &f.Parameters[n]; q.Name == "f0" || q.Name == "k" {
			q.Value, q.U = quantity.None(), quantity.None()
			q.Flags.Add(FlagNotIdentifiable)
		}
	}
}

// value returns a row with the value at the minimum.
func (m *minimum) value(row *reported, r rain) Parameter {
	p, _ := m.parameters(m.least.At, r)
	return Parameter{Model: m.name, Name: row.name, Unit: row.unit, Value: quantity.Some(row.of(p, r))}
}

// bound gives a row its profile-likelihood interval: what it is where the sum of
// squares is at most the limit.
func (m *minimum) bound(out *Parameter, row *reported, limit float64, r rain) {
	f := func(u fit.Point) float64 {
		p, _ := m.parameters(u, r)
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
	best := f(m.least.At)
	for _, sign := range [2]float64{-1, 1} {
		side, bound := &out.Low, row.least
		if sign > 0 {
			side, bound = &out.High, row.most
		}
		e := m.box.Extreme(f, m.least, limit, sign)
		found := e.Settled && sign*(e.Value-best) >= -1e-9*math.Abs(best)
		within := row.coordinate == none && bound != nil // a function that ranges cannot take anywhere
		switch {
		case found && (within || !m.open(row, e) && !(bound != nil && m.atEnd(row.coordinate, e.At))):
			*side = quantity.Some(back(e.Value))
		case bound != nil:
			*side = quantity.Some(bound(r))
		default:
			out.Flags.Add(FlagNotIdentifiable)
		}
	}
	m.atBound(out, row, m.least, r)
	if row.name == PondingTime { // the curve began below the intensity
		for _, v := range []*quantity.Optional{&out.Value, &out.Low, &out.High} {
			v.V = max(v.V, 0)
		}
	}
}

// open reports whether a row has no bound on the side of an extreme.
func (c *capacity) open(row *reported, e fit.Extreme) bool {
	for n := range c.coordinates {
		if e.Ends[n] && (c.coordinates[n].scale == logarithmic || n == row.unboundedAt) {
			return true
		}
	}
	return false
}

// atEnd reports whether a coordinate is at an end of its range.
func (c *capacity) atEnd(n int, at fit.Point) bool {
	return n != none && (at[n] <= c.coordinates[n].low || at[n] >= c.coordinates[n].high)
}

// atBound puts a value at an end of its range onto it, and withdraws one that has
// no bound there.
func (c *capacity) atBound(out *Parameter, row *reported, least fit.Least, r rain) {
	switch n := row.coordinate; {
	case c.atEnd(row.unboundedAt, least.At), c.atEnd(n, least.At) && row.least == nil:
		out.Value = quantity.None()
		out.Flags.Add(FlagNotIdentifiable)
	case c.atEnd(n, least.At):
		end := row.least
		if least.At[n] >= c.coordinates[n].high {
			end = row.most
		}
		out.Value = quantity.Some(end(r))
		out.Flags.Add(FlagAtBound)
	}
}
