package page

import (
	"fmt"
	"slices"
	"strings"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/api/report/figure"
)

// mostCurves is how many treatments share a chart of survival curves.
const mostCurves = 7

// followed are the times to runoff of the plots of a treatment.
type followed struct {
	label string
	times []float64
	began []bool
}

// survivalSection draws which share of the plots has not run off yet.
func (s *Site) survivalSection(flagsOf) (section, error) {
	groups, left := s.followed()
	sec := section{ID: "survival", Heading: "How long the plots held the rain", Pair: true}
	if len(groups) == 0 {
		sec.Intro = []phrase{say("No time to runoff is known.")}
		return sec, nil
	}
	intro := "Each curve steps down when a plot begins to run off. A short upright stroke marks plots that were rained on until then and never ran off (right-censored)."
	if left > 0 {
		intro += " " + count(left, "plot") + " whose onset was determined in another way than that of most plots of the treatment is not in its curve."
	}
	sec.Intro = []phrase{fact(intro)}
	for from := 0; from < len(groups); from += mostCurves {
		c, err := s.survivalChart(groups[from:min(from+mostCurves, len(groups))], from/mostCurves)
		if err != nil {
			return sec, err
		}
		sec.Charts = append(sec.Charts, c)
	}
	return sec, nil
}

// followed gathers the headline times by treatment. Times by unlike methods never
// stand in one curve: of each treatment the method of most of its plots is kept, and
// left counts the others.
func (s *Site) followed() (groups []followed, left int) {
	byLabel := map[string]map[string]*followed{}
	var labels []string
	for i := range s.runs {
		for j := range s.runs[i].plots {
			p := &s.runs[i].plots[j]
			r := p.row(result.TimeToRunoff)
			if !known(r) || p.Excluded || r.Value.V < 0 {
				continue
			}
			l := s.label(p.Subject)
			if byLabel[l] == nil {
				byLabel[l] = map[string]*followed{}
				labels = append(labels, l)
			}
			f := byLabel[l][r.Method]
			if f == nil {
				f = &followed{label: l}
				byLabel[l][r.Method] = f
			}
			f.times = append(f.times, r.Value.V)
			f.began = append(f.began, r.Censored != result.Right)
		}
	}
	slices.Sort(labels)
	for _, l := range labels {
		var methods []string
		for m := range byLabel[l] {
			methods = append(methods, m)
		}
		slices.Sort(methods)
		best := byLabel[l][methods[0]]
		for _, m := range methods[1:] {
			if f := byLabel[l][m]; len(f.times) > len(best.times) {
				best = f
			}
		}
		for _, m := range methods {
			left += len(byLabel[l][m].times)
		}
		left -= len(best.times)
		groups = append(groups, *best)
	}
	return groups, left
}

// survivalChart draws the curves of some treatments.
func (s *Site) survivalChart(groups []followed, n int) (chart, error) {
	c := chart{ID: fmt.Sprint("survival-", n+1), Title: "Share of the plots that had not run off yet"}
	k := figure.Course{FromZero: true, XLabel: "time since the start of rain, min", YLabel: "share of plots, %", YMax: quantity.Some(100), XMin: quantity.Some(0)}
	c.Table = table{ID: c.ID + "-table", Caption: "Plots and times to runoff in numbers", Folded: true, Head: []string{"Treatment", "Plots", "Ran off", "Never ran off", "Median, min", "Mean within the rain, min"}}
	var told []string
	for _, g := range groups {
		curve, err := inference.KaplanMeier(g.times, g.began, s.level(s.widest()))
		if err != nil {
			return c, fmt.Errorf("survival of %q: %w", g.label, err)
		}
		look := s.looks[g.label]
		line := figure.Line{Name: g.label, Style: &look, Parts: [][]figure.Point{{{X: 0, Y: 100}}}}
		share := 100.0
		for _, st := range curve.Steps {
			line.Parts[0] = append(line.Parts[0], figure.Point{X: st.Time, Y: share}, figure.Point{X: st.Time, Y: 100 * st.Share})
			share = 100 * st.Share
		}
		for i, t := range g.times {
			if !g.began[i] {
				line.Ends = append(line.Ends, figure.Point{X: t, Y: 100 * curve.At(t).Share})
			}
		}
		k.Lines = append(k.Lines, line)
		c.Table.Rows = append(c.Table.Rows, s.survivalRow(g, curve))
		told = append(told, fmt.Sprintf("%s: %d of %d ran off", g.label, curve.Events, curve.N))
	}
	c.Summary = fact(strings.Join(told, "; ") + ".")
	return c, c.draw(k.Figure())
}

// survivalRow is the row of a treatment below its curve.
func (s *Site) survivalRow(g followed, curve inference.Survival) []phrase {
	median, mean := say("–"), say("–")
	for i := range s.in.Analysis.Treatments {
		t := &s.in.Analysis.Treatments[i]
		if t.Scope != s.widest() || t.Treatment != g.label || t.Metric != result.TimeToRunoff {
			continue
		}
		switch {
		case t.Statistic == "median":
			median = join(s.treatmentValue(t), s.treatmentBounds(t))
		case t.Headline:
			mean = join(s.treatmentValue(t), s.treatmentBounds(t))
		}
	}
	return append(cells(g.label, fmt.Sprint(curve.N), fmt.Sprint(curve.Events), fmt.Sprint(curve.N-curve.Events)), median, mean)
}
