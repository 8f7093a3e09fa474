package season

import (
	"math"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/result"
)

// perTrend is the time for which a trend states the change of an effect, days.
const perTrend = 30

// trends states how the effect of each treatment against the reference changes
// over the season, in 30 days; from three dated events on.
func (m *family) trends(f frame) []result.ComparisonRow {
	var out []result.ComparisonRow
	y := m.sides[m.reference]
	for i, x := range m.sides {
		if i == m.reference {
			continue
		}
		a, b, at := both(x, y)
		if len(a) < 3 {
			continue
		}
		t := m.trend(a, b, at)
		o := outcome{method: t.method, ratio: t.logs}
		if logarithmic(m.info) && !t.logs {
			o.flags.Add(FlagZerosIncluded)
		}
		f.trend(&o, t)
		r := m.row(f, x, y, o)
		r.Method = trendName(r.Method)
		r.Flags.Add(FlagTrend)
		out = append(out, r)
	}
	return out
}

func trendName(method string) string { return method + ":per_30_days" }

// trendData are effects of events with their dates, in units of 30 days from the first.
type trendData struct {
	y, v, x []float64
	days    []float64 // dates, since 1970
	logs    bool
	method  string
	why     result.Flags // there is none
}

func (m *family) trend(a, b []*cell, at []int) trendData {
	all := concat(a, b)
	t := trendData{logs: logarithmic(m.info) && allPositive(all), method: "random_effects_dl_hk"}
	for _, e := range at {
		if !m.about[e].day.OK {
			t.why.Add(FlagUndated)
			return t
		}
	}
	cluster := clusters(a, b)
	e := newEffects(a, b, cluster, t.logs)
	switch {
	case e.censored:
		t.why.Add(inference.FlagFewObserved)
		return t
	case len(e.d) < len(a):
		t.why.Add(FlagRepeatedMeasures)
		return t
	}
	for k := range e.d {
		t.days = append(t.days, m.about[at[k]].day.V)
		t.y, t.v = append(t.y, e.d[k].Low), append(t.v, e.variance*e.share[k])
	}
	first := t.days[0]
	for _, d := range t.days {
		first = math.Min(first, d)
	}
	for _, d := range t.days {
		t.x = append(t.x, (d-first)/perTrend)
	}
	if e.df < leastPooledDF || !(e.variance > 0) {
		t.method, t.v = "event_differences_line", nil
	}
	return t
}

// trend takes the slope of the effects.
func (f frame) trend(o *outcome, t trendData) {
	if t.why != nil {
		o.flags.Add(t.why...)
		return
	}
	if len(t.y) < 5 {
		o.flags.Add(inference.FlagNSmall)
	}
	var c inference.Coefficient
	if t.v == nil {
		l, err := inference.LinearRegression(t.x, t.y, f.level)
		if err != nil || l.Flags.Has(inference.FlagNotDefined) {
			o.flags.Add(inference.FlagNotDefined)
			return
		}
		c = l.Slope
	} else {
		p, err := inference.PoolTrend(t.y, t.v, t.x, true, f.level)
		if err != nil || p.Flags.Has(inference.FlagNotDefined) {
			o.flags.Add(inference.FlagNotDefined)
			return
		}
		c = p.Slope
	}
	d := inference.Difference{P: c.P}
	d.Value, d.Low, d.High = c.Value, c.Low, c.High
	if !c.Low.OK {
		d.Flags.Add(inference.FlagNoSpread)
	}
	o.take(d)
}
