package inference

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// EventCell is the mean of the plots of one treatment in one event.
type EventCell struct {
	Event int // from 0
	Mean  float64
	N     int       // plots
	X     []float64 // its row of the fixed effects
}

// Scatter is what the plots of all cells show of their variance within cells.
type Scatter struct {
	SS, DF float64 // squares about the means of cells, degrees of freedom
}

// EventMixedModel is a mixed model of treatments in events.
type EventMixedModel struct {
	N, Events                         int // cells, events
	Coefficients                      []float64
	BetweenEvents, Interaction, Plots float64 // variances: of events, of treatments within events, of plots within both
	Singular                          bool    // one of the first two is zero
	Flags                             result.Flags

	fit *eventMixed
	at  mixedState
}

// MixedEvents fits plots of treatments in events by restricted maximum likelihood:
// fixed effects, events and treatments within events random.
//
//	y_etp = x_et' b + u_e + w_et + e_etp,  variances tau², omega², s²
//	cell means: V_e = tau² J + diag(omega² + s²/n_et),  independent of the squares SS ~ s² chi²(DF) within cells
//	-2 l_R = sum ln|V_e| + ln|X'V^-1 X| + r'V^-1 r + DF ln s² + SS/s²
//	Satterthwaite: df = 2 c²/(g' A g),  c = var(l'b), g its slope by the variances, A the inverse of their observed information
//
// Cell means and squares within are sufficient, so that the work grows with cells and not with
// plots. Steps by the average information; a variance at zero stays there unless the likelihood
// rises from it. Without plots repeated in cells omega² is that of the cell means, s² included. Source: Patterson & Thompson (1971), Biometrika
// 58:545-554; Gilmour, Thompson & Cullis (1995), Biometrics 51:1440-1450, for the steps; Giesbrecht & Burns (1985), Biometrics
// 41:477-486, for the degrees of freedom. Columns that depend on each other: not_defined; too few cells or events: n_small; treatments that differ
// by exactly as much in every event, as depths of the same rain do, or means that scatter only between events: no_spread, since the likelihood grows without bound
// or nothing is left to tell treatments apart by. Errors: ErrInput for NaN or unlike rows.
func MixedEvents(cells []EventCell, within Scatter) (EventMixedModel, error) {
	r := EventMixedModel{N: len(cells)}
	p := 0
	for i, c := range cells {
		if i == 0 {
			p = len(c.X)
		}
		if len(c.X) != p || p == 0 || c.N < 1 || c.Event < 0 {
			return r, orInput(nil, "cell", float64(i))
		}
		if err := checkFinite("cell", append([]float64{c.Mean}, c.X...)); err != nil {
			return r, err
		}
		r.Events = max(r.Events, c.Event+1)
	}
	if !(within.SS >= 0) || !(within.DF >= 0) {
		return r, orInput(nil, "squares within", within.SS)
	}
	if len(cells) < p+2 || r.Events < 2 {
		r.Flags.Add(FlagNSmall)
		return r, nil
	}
	f := newEventMixed(cells, within, r.Events, p)
	if !f.solvable() {
		r.Flags.Add(FlagNotDefined)
		return r, nil
	}
	if f.unbounded() {
		r.Flags.Add(FlagNoSpread)
		return r, nil
	}
	at, ok := f.maximise()
	if !ok {
		r.Flags.Add(FlagNotConverged)
		return r, nil
	}
	if at.v[1]+at.v[2] < 1e-9 { // of the variance of all means: rounding
		r.Flags.Add(FlagNoSpread)
		return r, nil
	}
	r.fit, r.at = f, at
	r.BetweenEvents, r.Interaction, r.Plots = at.v[0]*f.scale, at.v[1]*f.scale, at.v[2]*f.scale
	r.Singular = at.v[0] == 0 || at.v[1] == 0
	if r.Singular {
		r.Flags.Add(FlagSingular)
	}
	r.Coefficients = at.b
	return r, nil
}

// leastDF is what an interval needs: with half a degree of freedom Student's factor
// of 95 % is past a hundred, and it grows without bound below.
const leastDF = 0.5

// Contrast returns l'b with Student's interval and test, and Satterthwaite's degrees of freedom; below
// half a degree the value alone, n_small.
func (r *EventMixedModel) Contrast(l []float64, level float64) Difference {
	d := Difference{Interval: Interval{Level: level, N: r.N}}
	f := r.fit
	if f == nil || len(l) != f.p {
		d.Flags.Add(r.Flags...)
		d.Flags.Add(FlagNotDefined)
		return d
	}
	value, variance := 0.0, 0.0
	for i, a := range l {
		value += a * r.at.b[i]
		for j, b := range l {
			variance += a * b * r.at.c.At(i, j)
		}
	}
	d.Value = quantity.Some(value)
	se := math.Sqrt(variance * f.scale)
	d.SE = quantity.Some(se)
	df := f.satterthwaite(l, &r.at)
	if !spread(math.Abs(value), se) || !(df > 0) {
		d.Flags.Add(FlagNoSpread)
		return d
	}
	d.DF = quantity.Some(df)
	if df < leastDF {
		d.Flags.Add(FlagNSmall)
		return d
	}
	h := critical(level, df) * se
	d.Low, d.High = quantity.Some(value-h), quantity.Some(value+h)
	d.T = quantity.Some(value / se)
	if p, err := TTwoSided(d.T.V, df); err == nil {
		d.P = quantity.Some(p)
	}
	return d
}

// eventMixed holds the cells of each event; values are in units of sqrt(scale).
type eventMixed struct {
	p      int
	scale  float64 // of variances
	events [][]EventCell
	within Scatter
	free   [3]bool // variances that are estimated
}

// mixedState is a point of the search: variances of events, interaction and plots.
type mixedState struct {
	v    [3]float64
	l    float64 // restricted ln likelihood
	b    []float64
	c    *mat.Dense    // (X'V^-1X)^-1
	a    [3]*mat.Dense // X'V^-1 V_i V^-1 X
	g    [3]float64    // its slope
	avg  [3][3]float64 // average information
	info [3][3]float64 // observed information
	ok   bool
}

func newEventMixed(cells []EventCell, within Scatter, events, p int) *eventMixed {
	f := &eventMixed{p: p, events: make([][]EventCell, events), within: within, free: [3]bool{true, true, within.DF > 0 && within.SS > 0}}
	y := make([]float64, len(cells))
	for i, c := range cells {
		y[i] = c.Mean
		f.events[c.Event] = append(f.events[c.Event], c)
	}
	_, ss := moments(y)
	f.scale = ss / float64(len(y))
	return f
}

// solvable reports whether the columns are of full rank and the values differ.
func (f *eventMixed) solvable() bool {
	if !(f.scale > 0) {
		return false
	}
	columns := make([][]float64, f.p)
	var y []float64
	for _, e := range f.events {
		for _, c := range e {
			for j, x := range c.X {
				columns[j] = append(columns[j], x)
			}
			y = append(y, c.Mean)
		}
	}
	m, ok := fitLinear(columns, y)
	return ok && spread(math.Sqrt(f.scale), math.Sqrt(m.rss/float64(len(y))))
}

// unbounded reports whether nothing scatters within events: columns and events give
// every mean, with values to spare.
func (f *eventMixed) unbounded() bool {
	const rounding = 1e-20 // of squares
	if f.within.SS > rounding*f.scale {
		return false
	}
	var x, y []float64
	spare := 0
	for _, e := range f.events {
		if len(e) == 0 {
			continue
		}
		spare += len(e) - 1
		middle, mean := make([]float64, f.p), 0.0
		for _, c := range e {
			mean += c.Mean / float64(len(e))
			for j := range middle {
				middle[j] += c.X[j] / float64(len(e))
			}
		}
		for _, c := range e {
			y = append(y, c.Mean-mean)
			for j := range middle {
				x = append(x, c.X[j]-middle[j])
			}
		}
	}
	about, values := mat.NewDense(len(y), f.p, x), mat.NewVecDense(len(y), y)
	var svd mat.SVD
	if !svd.Factorize(about, mat.SVDThin) {
		return false
	}
	rank := svd.Rank(1e-10)
	if rank > 0 {
		var b, given mat.VecDense
		svd.SolveVecTo(&b, values, rank)
		given.MulVec(about, &b)
		values.SubVec(values, &given)
	}
	return spare > rank && mat.Dot(values, values) <= rounding*f.scale*float64(len(y))
}
