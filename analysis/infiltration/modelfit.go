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

// fit fits the model.
func (c *capacity) fit(in *Input, data []fit.Mean, r rain) ModelFit {
	n, k := len(data), len(c.coordinates)
	if n < k+moreThanParameters && c.name != ConstantRate {
		return c.without(n, result.Flags{FlagNotIdentifiable})
	}
	box := c.box(data, r)
	least, ok := box.Minimum(c.starts(data, r))
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
	best := f(least.At)
	out.Value = quantity.Some(back(best))
	for _, sign := range [2]float64{-1, 1} {
		side, bound := &out.Low, row.least
		if sign > 0 {
			side, bound = &out.High, row.most
		}
		e := box.Extreme(f, least, limit, sign)
		found := e.Settled && sign*(e.Value-best) >= -1e-9*math.Abs(best)
		switch {
		case found && !c.open(row, e) && !(bound != nil && c.atEnd(row.coordinate, e.At)):
			*side = quantity.Some(back(e.Value))
		case bound != nil:
			*side = quantity.Some(bound(r))
		default:
			out.Flags.Add(FlagNotIdentifiable)
		}
	}
	c.atBound(&out, row, least, r)
	if row.name == PondingTime { // the curve began below the intensity
		for _, v := range []*quantity.Optional{&out.Value, &out.Low, &out.High} {
			v.V = max(v.V, 0)
		}
	}
	return out
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
