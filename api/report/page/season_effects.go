package page

import (
	"fmt"
	"slices"
	"strings"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/api/report/figure"
)

// mostEffects is how many pairs are drawn of a metric: those that meet on most field
// days.
const mostEffects = 4

// contrast is a pair of treatments compared in a metric, by one effect.
type contrast struct {
	metric                       result.Metric
	treatment, reference, effect string
}

// effectsSection shows what comparisons there are: an effect per field day and the
// pooled one.
func (s *Site) effectsSection(flags flagsOf) (section, error) {
	if len(s.in.Analysis.Comparisons) == 0 {
		return section{}, nil
	}
	sec := section{ID: "effects", Heading: "Effects", Pair: true,
		Intro: []phrase{say("A difference or a ratio of two treatments, per field day and over all of them (diamond). Where a dashed line stands, the effect on a further field day would likely fall within it. Drawn are the pairs that met on most field days; the table holds all pairs of these quantities over " + scopeName(s.widest()) + ", the result table comparisons the others.")}}
	t := table{ID: "effects-table", Caption: "Every pair over " + scopeName(s.widest()), Folded: true, Wide: true,
		Head: []string{"Where", "Quantity", "Treatment", "Against", "Effect", "Value", "Interval", "Unit", "p, adjusted", "Method", "Remarks"}}
	groups := map[contrast][]*result.ComparisonRow{}
	var order []contrast
	for i := range s.in.Analysis.Comparisons {
		r := &s.in.Analysis.Comparisons[i]
		if r.Scope == s.widest() && slices.Contains(headlines, r.Metric) {
			t.Rows = append(t.Rows, s.comparisonRow(r, flags))
		}
		if r.Beside() && !ofNew(r) {
			continue
		}
		k := contrast{r.Metric, r.Treatment, r.Reference, r.Effect}
		if groups[k] == nil {
			order = append(order, k)
		}
		groups[k] = append(groups[k], r)
	}
	for _, m := range headlines {
		for _, k := range drawn(m, order, groups) {
			c, err := s.effectChart(k, groups[k], len(sec.Charts))
			if err != nil {
				return sec, err
			}
			sec.Charts = append(sec.Charts, c)
		}
	}
	sec.Tables = []table{t}
	return sec, nil
}

// drawn picks the pairs of a metric that were compared over field days and on most of
// them.
func drawn(m result.Metric, order []contrast, groups map[contrast][]*result.ComparisonRow) []contrast {
	var pairs []contrast
	days := map[contrast]int{}
	for _, k := range order {
		if k.metric != m || !pooled(groups[k]) {
			continue
		}
		for _, r := range groups[k] {
			if rankOf(r.Scope) == 0 && r.Value.OK {
				days[k]++
			}
		}
		if days[k] > 1 {
			pairs = append(pairs, k)
		}
	}
	slices.SortStableFunc(pairs, func(a, b contrast) int { return days[b] - days[a] })
	return pairs[:min(mostEffects, len(pairs))]
}

// pooled reports whether a pair was compared over events.
func pooled(rows []*result.ComparisonRow) bool {
	for _, r := range rows {
		if rankOf(r.Scope) > 0 && r.Value.OK {
			return true
		}
	}
	return false
}

// ofNew reports whether the interval of the row is that of a further field day.
func ofNew(r *result.ComparisonRow) bool { return r.Flags.Has("prediction") }

// effectChart draws the effect of each field day and the pooled one of the widest
// scope.
func (s *Site) effectChart(k contrast, rows []*result.ComparisonRow, n int) (chart, error) {
	unit := s.scaleOf(k.metric, rows[0].Unit)
	if k.effect != "difference" {
		unit = s.scaleOf("", rows[0].Unit)
	}
	c := chart{ID: fmt.Sprint("effect-", n+1), Title: upper(metricName(k.metric)) + ": " + k.treatment + " against " + k.reference}
	f := figure.Rows{Reference: quantity.Some(1)}
	name := unit.name()
	switch {
	case k.effect != "difference":
		f.Log = true
	case name == "%":
		name = "percentage points"
		fallthrough
	default:
		f.Reference = quantity.Some(0)
	}
	f.XLabel = strings.TrimSuffix(methodWord(k.effect)+", "+name, ", ")
	c.Table = table{ID: c.ID + "-table", Caption: "The effects in numbers", Folded: true, Head: []string{"Where", upper(methodWord(k.effect)), "Interval", "p, adjusted"}}
	var total *result.ComparisonRow
	var fresh *result.ComparisonRow
	for _, r := range rows {
		switch {
		case ofNew(r):
			if fresh == nil || rankOf(r.Scope) >= rankOf(fresh.Scope) {
				fresh = r
			}
			continue
		case rankOf(r.Scope) > 0:
			if r.Value.OK && (total == nil || rankOf(r.Scope) > rankOf(total.Scope)) {
				total = r
			}
		case r.Value.OK && finite(r.Value.V):
			f.Rows = append(f.Rows, figure.Row{Plain: true, Label: scopeName(r.Scope), Text: s.effectValue(r).String(), Dot: &figure.Dot{Value: unit.of(r.Value.V), Low: unit.optional(r.Low), High: unit.optional(r.High)}})
		}
		c.Table.Rows = append(c.Table.Rows, []phrase{fact(scopeName(r.Scope)), s.effectValue(r), s.effectBounds(r), s.adjusted(r)})
	}
	c.Summary = say("No pooled effect is known.")
	if total != nil {
		d := &figure.Dot{Value: unit.of(total.Value.V), Low: unit.optional(total.Low), High: unit.optional(total.High)}
		if fresh != nil {
			d.LowNew, d.HighNew = unit.optional(fresh.Low), unit.optional(fresh.High)
		}
		f.Rows = append(f.Rows, figure.Row{Plain: true, Total: true, Label: scopeName(total.Scope), Text: s.effectValue(total).String(), Dot: d})
		c.Summary = join(fact(upper(scopeName(total.Scope))+": "+methodWord(k.effect)+" "), s.effectValue(total), say(strings.TrimRight(" "+name, " ")))
		if b := s.effectBounds(total); b.String() != "–" {
			c.Summary = join(c.Summary, say(", likely "), b)
		}
		c.Summary = join(c.Summary, say("."))
	}
	if fresh != nil {
		c.Table.Rows = append(c.Table.Rows, []phrase{say("a further field day"), say("–"), s.effectBounds(fresh), say("–")})
	}
	return c, c.draw(f.Figure())
}

// comparisonScale is the scale of a comparison: a difference is in the unit of its
// metric, a ratio is a plain number.
func (s *Site) comparisonScale(r *result.ComparisonRow) scale {
	if r.Effect == "difference" {
		return s.scaleOf(r.Metric, r.Unit)
	}
	return s.scaleOf("", r.Unit)
}

func (s *Site) effectValue(r *result.ComparisonRow) phrase {
	if !r.Value.OK {
		return say(absent(r.Flags))
	}
	return phrase{s.number(r.Key(), "value", s.comparisonScale(r), r.Value.V, quarter(r.Low, r.High))}
}

func (s *Site) effectBounds(r *result.ComparisonRow) phrase {
	if b := s.bounds(r.Key(), s.comparisonScale(r), r.Low, r.High, quarter(r.Low, r.High)); b != nil {
		return b
	}
	return say("–")
}

// adjusted is the adjusted p, else the plain one.
func (s *Site) adjusted(r *result.ComparisonRow) phrase {
	p, col := r.PAdjusted, "p_adjusted"
	if !p.OK {
		p, col = r.P, "p"
	}
	switch {
	case !p.OK:
		return say("–")
	case p.V < 0.001:
		return fact("below 0.001")
	}
	return phrase{{Text: fmt.Sprintf("%.3f", p.V), Key: r.Key(), Col: col, Unit: "1"}}
}

func (s *Site) comparisonRow(r *result.ComparisonRow, flags flagsOf) []phrase {
	return []phrase{fact(scopeName(r.Scope)), say(metricName(r.Metric)), fact(r.Treatment), fact(r.Reference), say(methodWord(r.Effect)), s.effectValue(r), s.effectBounds(r),
		fact(s.comparisonScale(r).name()), s.adjusted(r), fact(methodWord(strings.Trim(r.Method+", "+r.Adjustment, ", "))), code(flags.add(r.Flags))}
}
