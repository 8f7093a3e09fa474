package page

import (
	"fmt"
	"strings"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/api/report/figure"
	"sheetwash/api/report/words"
)

// headlines are the metrics that the report draws.
var headlines = []result.Metric{
	result.RunoffCoefficient, result.TimeToRunoff, result.SteadyInfiltrationRate, result.SedimentConcentration, result.SoilLoss,
}

// treatmentRows returns the headline rows of a metric in a scope, in table order.
func (s *Site) treatmentRows(scope string, m result.Metric) []*result.TreatmentRow {
	var out []*result.TreatmentRow
	for i := range s.in.Analysis.Treatments {
		if t := &s.in.Analysis.Treatments[i]; t.Scope == scope && t.Metric == m && t.Headline {
			out = append(out, t)
		}
	}
	return out
}

// treatmentsSection shows what the treatments differ in: sentences, a chart per
// metric, one table of all, and the means of each field day.
func (s *Site) treatmentsSection(flags flagsOf) (section, error) {
	scope := s.widest()
	sec := section{ID: "treatments", Heading: "Treatments", Pair: true}
	if scope == "" {
		sec.Intro = []phrase{say("There are no treatment results.")}
		return sec, nil
	}
	sec.Sentences = s.sentences(scope)
	sec.Intro = []phrase{fact("Means over " + scopeName(scope) + "."), fact(likely(s.level(scope)) + " Treatments that share a letter are not shown to differ; where no letters stand, the analysis compared none.")}
	for _, m := range headlines {
		rows := s.treatmentRows(scope, m)
		for from := 0; from < len(rows); from += mostRows {
			c, err := s.meansChart(m, rows[from:min(from+mostRows, len(rows))], from/mostRows, (len(rows)+mostRows-1)/mostRows, flags)
			if err != nil {
				return sec, err
			}
			sec.Charts = append(sec.Charts, c)
		}
	}
	for _, m := range headlines {
		if t := s.byEvent(m); len(t.Rows) > 0 {
			sec.Tables = append(sec.Tables, t)
		}
	}
	return sec, nil
}

// meansChart draws the means of one metric.
func (s *Site) meansChart(m result.Metric, rows []*result.TreatmentRow, part, parts int, flags flagsOf) (chart, error) {
	c := chart{ID: "means-" + strings.ReplaceAll(string(m), "_", "-"), Title: upper(metricName(m))}
	if parts > 1 {
		c.ID += fmt.Sprint("-", part+1)
		c.Title += fmt.Sprintf(" (%d of %d)", part+1, parts)
	}
	unit := s.scaleOf(m, rows[0].Unit)
	chartRows := figure.Rows{FromZero: true, XLabel: strings.Trim(metricName(m)+", "+unit.name(), ", ")}
	c.Table = table{ID: c.ID + "-table", Caption: upper(metricName(m)) + " in numbers", Folded: true,
		Head: []string{"Treatment", heading(m, unit), "Letters", "Statistic", "Plots (events)", "Without it", "Spread between plots", "Remarks"}}
	var most, least *result.TreatmentRow
	for _, t := range rows {
		row := figure.Row{Label: t.Treatment, Style: s.looks[t.Treatment]}
		value := s.treatmentValue(t)
		if !t.Value.OK || !finite(t.Value.V) {
			row.Text = value.String()
		} else {
			row.Dot = &figure.Dot{Value: unit.of(t.Value.V), Low: unit.optional(t.Low), High: unit.optional(t.High), AtLeast: atLeast(t), AtMost: t.Flags.Has("upper_bound")}
			row.Text = strings.TrimSpace(value.String() + "  " + t.Letters)
			if most == nil || t.Value.V > most.Value.V {
				most = t
			}
			if least == nil || t.Value.V < least.Value.V {
				least = t
			}
		}
		chartRows.Rows = append(chartRows.Rows, row)
		sd := say("–")
		if t.SDBetween.OK {
			sd = phrase{s.number(t.Key(), "sd_between", unit, t.SDBetween.V, quantity.None())}
		}
		c.Table.Rows = append(c.Table.Rows, []phrase{fact(t.Treatment), join(value, s.treatmentBounds(t)), say(t.Letters), fact(methodWord(t.Statistic) + " (" + methodWord(t.Method) + ")"),
			{{Text: fmt.Sprint(t.NPlots), Key: t.Key(), Col: "n_plots", Unit: "1"}, {Text: " ("}, {Text: fmt.Sprint(t.NEvents), Key: t.Key(), Col: "n_events", Unit: "1"}, {Text: ")"}},
			{{Text: fmt.Sprint(t.NCensored), Key: t.Key(), Col: "n_censored", Unit: "1"}}, sd, code(flags.add(t.Flags))})
	}
	c.Summary = say("No treatment has a value.")
	if most != nil {
		c.Summary = join(say("Highest for "), fact(most.Treatment), say(": "), s.treatmentValue(most), say(" "+unit.name()))
		if least != most {
			c.Summary = join(c.Summary, say("; lowest for "), fact(least.Treatment), say(": "), s.treatmentValue(least), say(" "+unit.name()))
		}
		c.Summary = join(c.Summary, say("."))
	}
	return c, c.draw(chartRows.Figure())
}

func upper(text string) string {
	if text == "" {
		return ""
	}
	return strings.ToUpper(text[:1]) + text[1:]
}

func atLeast(t *result.TreatmentRow) bool {
	return t.Flags.Has("lower_bound") || t.Flags.Has("not_reached")
}

// treatmentValue is the statistic of a treatment without its unit.
func (s *Site) treatmentValue(t *result.TreatmentRow) phrase {
	if !t.Value.OK {
		return say(absent(t.Flags))
	}
	p := phrase{s.number(t.Key(), "value", s.scaleOf(t.Metric, t.Unit), t.Value.V, words.UncertaintyOf(t))}
	switch {
	case atLeast(t):
		return join(say("at least "), p)
	case t.Flags.Has("upper_bound"):
		return join(say("at most "), p)
	}
	return p
}

// treatmentBounds is the interval of a treatment in a line of its own.
func (s *Site) treatmentBounds(t *result.TreatmentRow) phrase {
	if !t.Value.OK || t.Low == t.High {
		return nil
	}
	b := s.bounds(t.Key(), s.scaleOf(t.Metric, t.Unit), t.Low, t.High, words.UncertaintyOf(t))
	if b != nil {
		b[0].Line = true
	}
	return b
}

// byEvent is the table of one metric: a row per field day, a column per treatment.
func (s *Site) byEvent(m result.Metric) table {
	var names []string
	seen := map[string]bool{}
	cellsOf := map[string]map[string]*result.TreatmentRow{}
	for i := range s.events {
		scope := s.events[i].scope
		cellsOf[scope] = map[string]*result.TreatmentRow{}
		for _, t := range s.treatmentRows(scope, m) {
			cellsOf[scope][t.Treatment] = t
			if !seen[t.Treatment] {
				seen[t.Treatment] = true
				names = append(names, t.Treatment)
			}
		}
	}
	if len(names) == 0 || len(s.events) < 2 {
		return table{}
	}
	info, _ := m.Info()
	t := table{ID: "days-" + strings.ReplaceAll(string(m), "_", "-"), Caption: heading(m, s.scaleOf(m, info.SI)) + ": each field day", Folded: true, Wide: true, Head: []string{"Treatment"}}
	for i := range s.events {
		t.Head = append(t.Head, s.events[i].target.Event)
	}
	for _, n := range names {
		row := []phrase{fact(n)}
		for i := range s.events {
			if q := cellsOf[s.events[i].scope][n]; q != nil {
				row = append(row, join(s.treatmentValue(q), s.treatmentBounds(q)))
			} else {
				row = append(row, say("–"))
			}
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}
