package season

import (
	"slices"
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
		if !slices.ContainsFunc(a, hasBound) && !slices.ContainsFunc(b, hasBound) {
			continue
		}
		h := hazardsOf(a, b)
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

// hasBound reports whether a plot had not run off when its run ended.
func hasBound(c *cell) bool {
	return slices.ContainsFunc(c.units, func(u unit) bool { return u.censored == result.Right })
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
