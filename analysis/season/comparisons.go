package season

import (
	"cmp"
	"maps"
	"slices"
	"sync"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// mostAllPairs is how many treatments a scope may have for all its pairs to be
// compared; above, each is compared with the reference only, and there are no letters.
const mostAllPairs = 12

// The effects of the results contract.
const (
	difference  = "difference"
	ratio       = "ratio"
	hazardRatio = "hazard_ratio"
)

// side is what one treatment brings to the comparisons of one metric.
type side struct {
	label  string
	cells  []*cell // by event of the scope; nil where it was not run
	others bool    // it has values by other methods as well
}

// family is all comparisons of one metric within a scope. Their p values are
// adjusted together.
type family struct {
	scope     string
	single    bool
	info      result.MetricInfo
	method    string // of the plots, where methods define the quantity
	sides     []side
	about     []eventAbout // of the events of the scope
	reference int
	differs   bool // the reference is not that of the season
	rows      []result.ComparisonRow
	letters   map[string]string
}

// compare returns the comparisons of the scope by metric and puts letters into its
// treatment rows.
func (s scope) compare(treatments [][]result.TreatmentRow, f frame, ranking []string, workers int) [][]result.ComparisonRow {
	families := s.families(ranking)
	tasks := make(chan *family)
	var wait sync.WaitGroup
	for range max(1, workers) {
		wait.Go(func() {
			for m := range tasks {
				m.run(f)
			}
		})
	}
	for _, m := range families {
		tasks <- m
	}
	close(tasks)
	wait.Wait()
	letters := map[result.Metric]map[string]string{}
	out := make([][]result.ComparisonRow, len(families))
	for i, m := range families {
		out[i], letters[m.info.ID] = m.rows, m.letters
	}
	for _, rows := range treatments {
		for i := range rows {
			if r := &rows[i]; r.Headline {
				r.Letters = letters[r.Metric][r.Treatment]
			}
		}
	}
	return out
}

// families gathers the sides of each metric that two treatments or more have.
func (s scope) families(ranking []string) []*family {
	byMetric := map[result.Metric]*family{}
	var out []*family
	for _, metric := range s.catalogue {
		m := &family{scope: s.name, single: s.single, info: metric, about: s.about}
		byMetric[metric.ID] = m
		out = append(out, m)
	}
	for _, sr := range s.series {
		d := side{label: sr.label, cells: make([]*cell, len(s.events))}
		for i, c := range sr.cells {
			d.cells[sr.at[i]] = c
		}
		m := byMetric[sr.info.ID]
		m.sides = append(m.sides, d)
	}
	out = slices.DeleteFunc(out, func(m *family) bool { return len(m.sides) < 2 })
	for _, m := range out {
		m.oneMethod()
		for k, label := range ranking {
			if i := slices.IndexFunc(m.sides, func(d side) bool { return d.label == label }); i >= 0 {
				m.reference, m.differs = i, k > 0
				break
			}
		}
	}
	return out
}

// oneMethod keeps the values by the commonest method where methods define the
// quantity, so that a comparison never mixes methods. A right-censored value stands with any.
func (m *family) oneMethod() {
	if !definesMethod[m.info.ID] {
		return
	}
	count := map[string]int{}
	for _, d := range m.sides {
		for _, c := range d.cells {
			if c == nil {
				continue
			}
			for _, u := range c.units {
				if u.censored != result.Right {
					count[u.method]++
				}
			}
		}
	}
	if len(count) == 0 {
		return
	}
	m.method = slices.SortedFunc(maps.Keys(count), func(a, b string) int {
		return cmp.Or(cmp.Compare(count[b], count[a]), cmp.Compare(a, b))
	})[0]
	if len(count) == 1 {
		return
	}
	for i := range m.sides {
		for e, c := range m.sides[i].cells {
			if c == nil {
				continue
			}
			kept := c.with(func(u unit) bool { return u.method == m.method || u.censored == result.Right })
			m.sides[i].others = m.sides[i].others || len(kept.units) < len(c.units)
			m.sides[i].cells[e] = kept
		}
	}
}

// run makes the rows of the family.
func (m *family) run(f frame) {
	all := len(m.sides) <= mostAllPairs && !f.named
	pairs := m.pairs(all)
	notices := m.assumptions()
	kinds := 1 // of rows for a pair
	if m.info.Kind == result.TimeToEvent {
		kinds++
	}
	if !m.single {
		kinds += 2
	}
	m.rows = make([]result.ComparisonRow, 0, kinds*len(pairs))
	var further []result.ComparisonRow // intervals for one further event
	for _, p := range pairs {
		x, y := m.sides[p.x], m.sides[p.y]
		var o outcome
		if m.single {
			o = f.pairWithin(m.info, x.cells[0], y.cells[0])
		} else {
			o = f.pairOver(m.info, x.cells, y.cells, all)
		}
		r := m.row(f, x, y, o)
		if !all {
			r.Flags.Add(FlagReferenceOnly)
		}
		if m.differs && p.y == m.reference {
			r.Flags.Add(FlagReferenceDiffers)
		}
		if r.Value.OK {
			r.Flags.Add(notices...)
		}
		m.rows = append(m.rows, r)
		if o.predictLow.OK && o.predictHigh.OK {
			n := r
			n.Low, n.High, n.P = o.predictLow, o.predictHigh, quantity.None()
			n.Method += ":further_event"
			n.Flags = append(slices.Clone(r.Flags), FlagPrediction)
			further = append(further, n)
		}
	}
	adjust(m.rows)
	if all {
		m.letter(1 - f.level)
	}
	m.rows = append(m.rows, further...)
	m.beside(f, pairs, all)
}

// pair is a treatment and what it is compared with, by their places among the sides.
type pair struct{ x, y int }

// pairs lists those with the reference and, where all are wanted, the others.
func (m *family) pairs(all bool) []pair {
	var pairs []pair
	for i := range m.sides {
		if i != m.reference {
			pairs = append(pairs, pair{i, m.reference})
		}
	}
	if !all {
		return pairs
	}
	for i := range m.sides {
		for j := i + 1; j < len(m.sides); j++ {
			if i != m.reference && j != m.reference {
				pairs = append(pairs, pair{j, i})
			}
		}
	}
	return pairs
}

// row writes an outcome.
func (m *family) row(f frame, x, y side, o outcome) result.ComparisonRow {
	r := result.ComparisonRow{
		Scope: m.scope, Metric: m.info.ID, Treatment: x.label, Reference: y.label, Effect: difference,
		Value: o.value, Unit: m.info.SI, Low: o.low, High: o.high, Level: f.level, P: o.p, Method: o.method, Flags: o.flags,
	}
	if o.ratio {
		r.Effect, r.Unit = ratio, "1"
	}
	if m.method != "" {
		r.Method += ":" + m.method
	}
	if x.others || y.others {
		r.Flags.Add(FlagMethodsDiffer)
	}
	return r
}

// adjust fills p_adjusted by Holm's method over rows of one kind, which holds whatever
// mixture of tests they have and however they depend on each other.
func adjust(rows []result.ComparisonRow) {
	var p []float64
	var at []int
	for i, r := range rows {
		if r.P.OK {
			p, at = append(p, r.P.V), append(at, i)
		}
	}
	adjusted, err := inference.Adjust(p, inference.Holm)
	if err != nil {
		return
	}
	for k, i := range at {
		rows[i].PAdjusted, rows[i].Adjustment = quantity.Some(adjusted[k]), string(inference.Holm)
	}
}
