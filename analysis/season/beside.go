package season

import (
	"math"
	"strings"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// beside appends the statements that stand beside the comparisons of a metric:
// hazard ratios of times with bounds; over events the trend of each effect against the reference, the same
// pairs by a mixed model, and how crews and simulators differ. Each kind is a
// family of its own for the adjustment of p.
func (m *family) beside(f frame, pairs []pair, all bool) {
	kinds := [][]result.ComparisonRow{m.hazards(f, pairs)}
	if !m.single {
		kinds = append(kinds, m.trends(f), m.mixed(f, pairs), m.parties(f, crews), m.parties(f, simulators))
	}
	for _, rows := range kinds {
		adjust(rows)
		for i := range rows {
			if r := &rows[i]; !all && !r.Flags.Has(FlagBetweenCrews) && !r.Flags.Has(FlagBetweenSimulators) {
				r.Flags.Add(FlagReferenceOnly)
			}
		}
		m.rows = append(m.rows, rows...)
	}
}

// both returns the cells of the events that have two treatments, and these events.
func both(x, y side) (a, b []*cell, at []int) {
	for e := range x.cells {
		if usableCell(x.cells[e]) && usableCell(y.cells[e]) {
			a, b, at = append(a, x.cells[e]), append(b, y.cells[e]), append(at, e)
		}
	}
	return a, b, at
}

// hazards states the ratio of hazards of each pair of which a time is a bound.
func (m *family) hazards(f frame, pairs []pair) []result.ComparisonRow {
	if m.info.Kind != result.TimeToEvent {
		return nil
	}
	var out []result.ComparisonRow
	for k, p := range pairs {
		x, y := m.sides[p.x], m.sides[p.y]
		a, b, _ := both(x, y)
		h := hazardsOf(a, b)
		if !h.bounded {
			continue
		}
		o := outcome{method: "cox_firth:" + h.strata}
		f.hazard(&o, h, len(a))
		if m.single {
			m.exact(&o, k)
		}
		r := m.row(f, x, y, o)
		r.Effect, r.Unit = hazardRatio, "1"
		out = append(out, r)
	}
	return out
}

// exact takes the p of a hazard ratio within one event from the comparison of the pair, where that is the exact
// permutation log-rank test: the likelihood ratio of two times three plots rejects 0.10 at 0.05.
func (m *family) exact(o *outcome, k int) {
	const test = "permutation_log_rank"
	o.p = quantity.None()
	if r := &m.rows[k]; o.value.OK && r.P.OK && strings.Contains(r.Method, test) {
		o.p = r.P
		o.method += ":" + test
	}
}

// hazardData are the times of two treatments, in strata.
type hazardData struct {
	time         []float64
	event, first []bool
	stratum      []string
	strata       string // by_run or by_event
	bounded      bool   // a time is a bound
	middle       bool   // a time stands at the middle of its interval
	together     bool   // bodies of soil that stood under both or in several events
}

// hazardsOf gathers them: strata are runs where each has both treatments, so that plots
// are compared under their own rain, else events.
func hazardsOf(xs, ys []*cell) hazardData {
	h := hazardData{strata: "by_run"}
	type key struct {
		event int
		run   runKey
	}
	type sides struct{ x, y bool }
	have := map[key]sides{}
	soils := map[string]bool{}
	each := func(do func(e int, u unit, isX bool)) {
		for e := range xs {
			for _, u := range xs[e].units {
				do(e, u, true)
			}
			for _, u := range ys[e].units {
				do(e, u, false)
			}
		}
	}
	each(func(e int, u unit, isX bool) {
		s := have[key{e, u.run}]
		have[key{e, u.run}] = sides{s.x || isX, s.y || !isX}
		h.bounded = h.bounded || u.censored == result.Right
		h.middle = h.middle || u.censored == result.Interval || u.censored == result.Left
		if u.soil != "" {
			h.together = h.together || soils[u.soil]
			soils[u.soil] = true
		}
	})
	for _, s := range have {
		if !s.x || !s.y {
			h.strata = "by_event"
		}
	}
	each(func(e int, u unit, isX bool) {
		stratum := string(rune(e))
		if h.strata == "by_run" {
			stratum += "\x00" + u.run.dataset + "\x00" + u.run.run
		}
		h.time, h.event = append(h.time, u.value), append(h.event, u.censored != result.Right)
		h.first, h.stratum = append(h.first, isX), append(h.stratum, stratum)
	})
	return h
}

// hazard takes the penalised partial likelihood. Over events it supposes one ratio in all of them.
func (f frame) hazard(o *outcome, h hazardData, events int) {
	if h.middle {
		o.flags.Add(FlagIntervalAsMiddle)
	}
	if events > 1 {
		o.flags.Add(FlagCommonEffect)
	}
	if h.together {
		o.flags.Add(FlagRepeatedMeasures, inference.FlagNotDefined)
		return
	}
	r, err := inference.FirthHazardRatio(h.time, h.event, h.first, h.stratum, f.level)
	if err != nil {
		o.flags.Add(inference.FlagNotDefined)
		return
	}
	o.value, o.low, o.high, o.p = r.Value, r.Low, r.High, r.P
	o.flags.Add(r.Flags...)
	if r.Monotone {
		o.flags.Add(FlagMonotone)
	}
}

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
	together := make([]*cell, len(a))
	for e := range a {
		together[e] = &cell{units: append(append([]unit{}, a[e].units...), b[e].units...)}
	}
	cluster := clusters(together)
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

func concat(a, b []*cell) []*cell { return append(append([]*cell{}, a...), b...) }

func allPositive(cells []*cell) bool {
	for _, c := range cells {
		if !c.positive() {
			return false
		}
	}
	return true
}

// mixed states the same pairs by a mixed model of all treatments of the scope; see family.model.
func (m *family) mixed(f frame, pairs []pair) []result.ComparisonRow {
	if len(m.sides) > mostAllPairs {
		return nil
	}
	d := m.model(nil)
	if len(d.in) < 2 || d.events < 2 {
		return nil
	}
	fit, err := inference.MixedEvents(d.cells, d.within)
	var out []result.ComparisonRow
	for _, p := range pairs {
		x, y := m.sides[p.x], m.sides[p.y]
		i, j := d.column(p.x), d.column(p.y)
		o := outcome{method: "mixed_reml_satterthwaite", ratio: d.logs}
		switch {
		case i < 0 || j < 0:
			d.saysLeftOut(&o)
			o.flags.Add(inference.FlagNotDefined)
		case err != nil:
			o.flags.Add(inference.FlagNotDefined)
		default:
			l := make([]float64, len(d.in))
			l[i], l[j] = 1, -1
			o.take(fit.Contrast(l, f.level))
			o.flags.Add(fit.Flags...)
		}
		r := m.row(f, x, y, o)
		r.Flags.Add(FlagSecondModel)
		out = append(out, r)
	}
	return out
}

// saysLeftOut flags why treatments are not in the model.
func (d *modelData) saysLeftOut(o *outcome) {
	if d.leftOut {
		o.flags.Add(FlagBoundsLeftOut)
	}
	if d.again {
		o.flags.Add(FlagRepeatedMeasures)
	}
}

// parties are those whose differences are stated: crews or simulators.
type parties struct {
	word string
	of   func(eventAbout) party
	flag string
}

var (
	crews      = parties{"crew", func(a eventAbout) party { return a.crew }, FlagBetweenCrews}
	simulators = parties{"simulator", func(a eventAbout) party { return a.simulator }, FlagBetweenSimulators}
)

// parties states how the plots of crews, or under simulators, differ at the same treatments: events are
// their replicates, so that places that differ are in the interval.
func (m *family) parties(f frame, of parties) []result.ComparisonRow {
	names := m.partyNames(of)
	if len(names) < 2 || len(names) > mostAllPairs {
		return nil
	}
	d := m.model(func(e int) string { return of.of(m.about[e]).known() })
	fit, err := inference.MixedEvents(d.cells, d.within)
	var out []result.ComparisonRow
	for i := range names {
		for j := range i {
			o := outcome{method: "mixed_reml_satterthwaite", ratio: d.logs}
			x, y := d.party(names[i]), d.party(names[j])
			switch {
			case err != nil:
				o.flags.Add(inference.FlagNotDefined)
			case fit.Flags.Has(inference.FlagNotDefined):
				o.flags.Add(inference.FlagNotDefined, FlagConfounded)
			case fit.Flags.Has(inference.FlagNSmall) || fit.Flags.Has(inference.FlagNotConverged) || x < -1 || y < -1:
				o.flags.Add(fit.Flags...)
				o.flags.Add(inference.FlagNSmall)
			default:
				l := make([]float64, d.columns)
				if x >= 0 {
					l[x] = 1
				}
				if y >= 0 {
					l[y] = -1
				}
				c := fit.Contrast(l, f.level)
				o.take(c)
				o.flags.Add(fit.Flags...)
				if c.DF.OK && c.DF.V < 3 {
					o.flags.Add(inference.FlagNSmall)
				}
			}
			d.saysLeftOut(&o)
			if of.word == "crew" && m.oneEach() {
				o.flags.Add(FlagConfounded)
			}
			r := m.row(f, side{label: of.word + ":" + names[i]}, side{label: of.word + ":" + names[j]}, o)
			r.Flags.Add(of.flag)
			out = append(out, r)
		}
	}
	return out
}

// partyNames lists the names in the order of their events.
func (m *family) partyNames(of parties) []string {
	var names []string
	seen := map[string]bool{"": true}
	for _, a := range m.about {
		if n := of.of(a).known(); !seen[n] {
			seen[n] = true
			names = append(names, n)
		}
	}
	return names
}

// oneEach reports whether every crew had a simulator of its own, so that the two
// cannot be told apart.
func (m *family) oneEach() bool {
	of, back := map[string]string{}, map[string]string{}
	for _, a := range m.about {
		c, s := a.crew.known(), a.simulator.known()
		if c == "" || s == "" {
			continue
		}
		if t, ok := of[c]; ok && t != s {
			return false
		}
		if t, ok := back[s]; ok && t != c {
			return false
		}
		of[c], back[s] = s, c
	}
	return len(of) > 1
}
