package season

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// ErrPlanning is returned for a question that cannot be planned for.
var ErrPlanning = errors.New("planning")

// Past is what past events tell of the scatter that a further season will have.
// Deviations are of logarithms where the metric is compared by ratios, else in its unit.
type Past struct {
	Metric                    result.MetricInfo
	Ratio                     bool // compared by ratios
	Plots                     float64
	PlotsDF                   float64 // degrees of freedom that Plots rests on
	PlotsCareful              float64 // its upper limit, one-sided at 0.80
	Effects                   float64 // of the effect of a treatment between events, of one treatment: sqrt 2 times it for a difference
	EffectsKnown              bool    // there were events enough to tell Effects
	Treatments, Events, Cells int
	Flags                     result.Flags // why treatments were left out
}

// carefulShare is the confidence of the upper limit of the scatter: four of five
// seasons planned with it have the plots that they need.
const carefulShare = 0.80

// Scatter learns from the rows of past plots how far plots of one treatment and
// event lie apart, and how far effects differ between events: the variances of the
// mixed model of all treatments (inference.MixedEvents); from one event the first alone.
// Errors: ErrPlanning for a metric that the rows do not have, or without plots
// repeated within treatment and event.
func Scatter(rows []result.PlotRow, metric result.Metric) (Past, error) {
	var p Past
	d := gather(rows)
	at := slices.IndexFunc(d.catalogue, func(m result.MetricInfo) bool { return m.ID == metric && m.Of == "plot" })
	if at < 0 {
		return p, fmt.Errorf("%w: there is no metric %q of plots", ErrPlanning, metric)
	}
	p.Metric = d.catalogue[at]
	scopes := d.scopes()
	if len(scopes) == 0 {
		return p, fmt.Errorf("%w: there are no plots", ErrPlanning)
	}
	all := scopes[len(scopes)-1]
	m := &family{info: p.Metric, about: all.about}
	for _, s := range all.series {
		if s.info.ID != metric {
			continue
		}
		x := side{label: s.label, cells: make([]*cell, len(all.events))}
		for i, c := range s.cells {
			x.cells[s.at[i]] = c
		}
		m.sides = append(m.sides, x)
	}
	if definesMethod[metric] {
		m.oneMethod()
	}
	model := m.model(nil)
	p.Ratio, p.Treatments, p.Events, p.Cells = model.logs, len(model.in), model.events, len(model.cells)
	if model.leftOut {
		p.Flags.Add(FlagBoundsLeftOut)
	}
	if model.again {
		p.Flags.Add(FlagRepeatedMeasures)
	}
	if !(model.within.DF > 0) || !(model.within.SS > 0) {
		return p, fmt.Errorf("%w: no treatment has two unlike plots of %s with a known value in one event", ErrPlanning, metric)
	}
	p.PlotsDF = model.within.DF
	p.Plots = math.Sqrt(model.within.SS / model.within.DF)
	if fit, err := inference.MixedEvents(model.cells, model.within); err == nil && len(fit.Coefficients) > 0 && model.events > 1 && len(model.in) > 1 {
		p.Plots, p.Effects, p.EffectsKnown = math.Sqrt(fit.Plots), math.Sqrt(fit.Interaction), true
	}
	q, err := inference.ChiSquaredQuantile(1-carefulShare, p.PlotsDF)
	if err != nil {
		return p, fmt.Errorf("%w: %w", ErrPlanning, err)
	}
	p.PlotsCareful = p.Plots * math.Sqrt(p.PlotsDF/q)
	return p, nil
}

// Question is what a further season is to tell of two treatments.
type Question struct {
	Effect float64 // to be found with Power: a ratio above 1, or a difference; 0: Width is asked for
	Width  float64 // of the interval: its half in the unit, or for ratios the factor from the ratio to its limit
	Power  float64
	Level  float64
}

// Need is how many plots per treatment and event answer a question.
type Need struct {
	Events         int
	Plots, Careful quantity.Optional // by the scatter found, and by its upper limit; missing: not with MostPlots
	Reached        quantity.Optional // power, or half width on the scale of the analysis, with Plots
}

// MostPlots is how many plots per treatment and event are tried.
const MostPlots = 200

// Plan returns the plots per treatment and event that a question needs, for one
// event and for each number of events.
//
//	variance of the effect: 2 (omega² + s²/n)/E over E events, t with E-1;  within one event 2 s²/n, t with 2(n-1)
//	power = P(|T'| > t(1-alpha/2)),  T' noncentral with effect/SE;  half width t SE
//
// That of one event is of a statement about that event alone. The careful number takes the upper limit of s at 0.80. Source: Raudenbush & Liu (2000),
// Psychological Methods 5:199-213, for events as sites; Cohen (1988) for one; Browne (1995), Statistics in Medicine 14:1933-1940, for planning
// with an upper limit. Errors: ErrPlanning for numbers out of range.
func (p Past) Plan(q Question, events []int) ([]Need, error) {
	goal := q.Effect
	switch {
	case q.Effect == 0 && q.Width == 0, q.Effect != 0 && q.Width != 0:
		return nil, fmt.Errorf("%w: ask for an effect or for a width", ErrPlanning)
	case q.Width != 0:
		goal = q.Width
	case !(q.Power > 0 && q.Power < 1):
		return nil, fmt.Errorf("%w: power %v is not between 0 and 1", ErrPlanning, q.Power)
	}
	if p.Ratio {
		if !(goal > 0) || goal == 1 {
			return nil, fmt.Errorf("%w: a ratio of %v", ErrPlanning, goal)
		}
		goal = math.Abs(math.Log(goal))
	}
	goal = math.Abs(goal)
	if !(q.Level > 0 && q.Level < 1) || !(goal > 0) || math.IsInf(goal, 1) {
		return nil, fmt.Errorf("%w: %v at level %v", ErrPlanning, goal, q.Level)
	}
	var out []Need
	for _, e := range events {
		if e < 1 {
			return nil, fmt.Errorf("%w: %d events", ErrPlanning, e)
		}
		n := Need{Events: e}
		n.Plots, n.Reached = p.least(q, goal, e, p.Plots)
		n.Careful, _ = p.least(q, goal, e, p.PlotsCareful)
		out = append(out, n)
	}
	return out, nil
}

// least returns the smallest number of plots that does, with what it reaches.
func (p Past) least(q Question, goal float64, events int, plots float64) (n, reached quantity.Optional) {
	low, high := 1, MostPlots+1
	for high-low > 1 { // more plots never tell less
		if m := (low + high) / 2; p.does(q, goal, events, m, plots) {
			high = m
		} else {
			low = m
		}
	}
	if high > MostPlots {
		return quantity.None(), quantity.None()
	}
	v, _ := p.reach(q, goal, events, high, plots)
	return quantity.Some(float64(high)), quantity.Some(v)
}

func (p Past) does(q Question, goal float64, events, n int, plots float64) bool {
	v, ok := p.reach(q, goal, events, n, plots)
	if q.Width != 0 {
		return ok && v <= goal
	}
	return ok && v >= q.Power
}

// reach is the power, or the half width, of a design.
func (p Past) reach(q Question, goal float64, events, n int, plots float64) (float64, bool) {
	df, variance := 2*float64(n-1), 2*plots*plots/float64(n)
	if events > 1 {
		df, variance = float64(events-1), 2*(p.Effects*p.Effects+plots*plots/float64(n))/float64(events)
	}
	se := math.Sqrt(variance)
	t, err := inference.TQuantile(1-(1-q.Level)/2, df)
	if err != nil || !(se > 0) {
		return 0, false
	}
	if q.Width != 0 {
		return t * se, true
	}
	upper, err := inference.NoncentralTCDF(t, df, goal/se)
	if err != nil {
		return 0, false
	}
	lower, err := inference.NoncentralTCDF(-t, df, goal/se)
	return 1 - upper + lower, err == nil
}
