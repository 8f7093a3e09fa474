package page

import (
	"fmt"

	"sheetwash/analysis/result"
	"sheetwash/api/report/figure"
)

// mostRows is how many plots a chart holds; more go into a second one, so that a
// chart fits a sheet.
const mostRows = 16

// eventCharts draws the three pictures of an event: where the rain went, when
// runoff began, how much sediment came with it.
func (s *Site) eventCharts(e *event) ([]chart, error) {
	var all []shown
	for _, n := range e.runs {
		for i := range s.runs[n].plots {
			all = append(all, shown{&s.runs[n], &s.runs[n].plots[i]})
		}
	}
	var out []chart
	for _, make := range []func([]shown) (chart, figure.Rows){s.waterChart, s.onsetChart, s.sedimentChart} {
		for from := 0; from < len(all); from += mostRows {
			c, rows := make(all[from:min(from+mostRows, len(all))])
			if len(all) > mostRows {
				part := from/mostRows + 1
				c.ID += fmt.Sprint("-", part)
				c.Title += fmt.Sprintf(" (%d of %d)", part, (len(all)+mostRows-1)/mostRows)
			}
			c.Table.ID = c.ID + "-table"
			c.Table.Folded = true
			if err := c.draw(rows.Figure()); err != nil {
				return nil, err
			}
			out = append(out, c)
		}
	}
	return out, nil
}

// shown is a plot on a chart.
type shown struct {
	*run
	*plot
}

// line begins the row of a plot.
func (s *Site) line(q shown) figure.Row {
	return figure.Row{Label: s.label(q.Subject) + " · " + s.plotName(q.run, q.plot), Style: s.looks[s.label(q.Subject)]}
}

// name is what a plot is called in a table.
func (s *Site) name(q shown) phrase {
	return fact(s.label(q.Subject) + ", " + s.plotName(q.run, q.plot))
}

// waterChart shows where the rain of each plot went. Where drainage was caught and
// storage is known these are parts of their own, else they are one.
func (s *Site) waterChart(plots []shown) (chart, figure.Rows) {
	c := chart{ID: "water", Title: "Where the rain went"}
	unit := s.scaleOf(result.RunoffDepth, "mm")
	rows := figure.Rows{FromZero: true, XLabel: "depth of water, " + unit.name(), Keys: []figure.Key{{Role: figure.Runoff, Text: "ran off"}}}
	apart := false
	for _, q := range plots {
		apart = apart || known(q.row(result.StorageDepth)) && known(q.row(result.DrainageDepth))
	}
	rest, restName := result.InfiltrationDepth, "soaked in or stayed on the plot"
	c.Table = table{Caption: "Where the rain went, in numbers", Head: []string{"Plot", "Rain, " + unit.name(), "Ran off, " + unit.name()}}
	if apart {
		rest, restName = result.StorageDepth, "stored in or on the plot"
		rows.Keys = append(rows.Keys, figure.Key{Role: figure.Drained, Text: "drained through"})
		c.Table.Head = append(c.Table.Head, "Drained through, "+unit.name())
	}
	rows.Keys = append(rows.Keys, figure.Key{Role: figure.Stored, Text: restName})
	c.Table.Head = append(c.Table.Head, "Rest: "+restName+", "+unit.name())
	var most, least shown
	for _, q := range plots {
		runoff, rain, drained, stored := q.row(result.RunoffDepth), q.row(result.RainDepth), q.row(result.DrainageDepth), q.row(rest)
		row, cells := s.line(q), []phrase{s.name(q), s.cell(rain), s.cell(runoff)}
		if apart {
			cells = append(cells, s.cell(drained))
		}
		if !known(runoff) {
			row.Text = "runoff: " + s.cell(runoff).String()
		} else {
			row.Bars = append(row.Bars, figure.Bar{Value: unit.of(runoff.Value.V), Role: figure.Runoff})
			if apart && known(drained) {
				row.Bars = append(row.Bars, figure.Bar{Value: unit.of(drained.Value.V), Role: figure.Drained})
			}
			if known(stored) {
				row.Bars = append(row.Bars, figure.Bar{Value: unit.of(stored.Value.V), Role: figure.Stored})
			}
			row.Text = s.value(runoff).String() + " " + unit.name() + " ran off"
			if most.plot == nil || runoff.Value.V > most.row(result.RunoffDepth).Value.V {
				most = q
			}
			if least.plot == nil || runoff.Value.V < least.row(result.RunoffDepth).Value.V {
				least = q
			}
		}
		rows.Rows = append(rows.Rows, row)
		c.Table.Rows = append(c.Table.Rows, append(cells, s.cell(stored)))
	}
	c.Summary = s.fromTo(most, least, result.RunoffDepth, "Most ran off ", "least ")
	return c, rows
}

func known(r *result.PlotRow) bool { return r != nil && r.Value.OK && finite(r.Value.V) }

// fromTo names the plots at both ends of a metric.
func (s *Site) fromTo(most, least shown, m result.Metric, mostWords, leastWords string) phrase {
	if most.plot == nil {
		return say("No plot has a value.")
	}
	one := func(q shown) phrase {
		r := q.row(m)
		return join(s.value(r), say(" "+s.scaleOf(m, r.Unit).name()))
	}
	if most.row(m).Value.V <= 0 && (m == result.SedimentMass || m == result.RunoffDepth) {
		return say("None came off where it was measured.")
	}
	out := join(say(mostWords+"from "), fact(s.label(most.Subject)+" ("+s.plotName(most.run, most.plot)+")"), say(": "), one(most))
	if most.plot == least.plot {
		return join(out, say("."))
	}
	return join(out, say("; "+leastWords+"from "), fact(s.label(least.Subject)+" ("+s.plotName(least.run, least.plot)+")"), say(": "), one(least), say("."))
}

// onsetChart shows after how long runoff began.
func (s *Site) onsetChart(plots []shown) (chart, figure.Rows) {
	c := chart{ID: "onset", Title: "When runoff began"}
	unit := s.scaleOf(result.TimeToRunoff, "min")
	rows := figure.Rows{FromZero: true, XLabel: "time since the start of rain, " + unit.name()}
	c.Table = table{Caption: "When runoff began, in numbers", Head: []string{"Plot", "Time to runoff, " + unit.name(), "Noted how"}}
	began, never := 0, 0
	for _, q := range plots {
		t := q.row(result.TimeToRunoff)
		row := s.line(q)
		switch {
		case !known(t):
			row.Text = s.cell(t).String()
		default:
			d := &figure.Dot{Value: unit.of(t.Value.V), AtLeast: t.Censored == result.Right, AtMost: t.Censored == result.Left}
			if !d.AtLeast && !d.AtMost {
				d.Low, d.High = unit.optional(t.Low), unit.optional(t.High)
			}
			row.Dot, row.Text = d, s.value(t).String()+" "+unit.name()
			if d.AtLeast {
				never++
			} else {
				began++
			}
		}
		how := phrase(say("–"))
		if t != nil {
			how = fact(methodWord(t.Method))
		}
		rows.Rows = append(rows.Rows, row)
		c.Table.Rows = append(c.Table.Rows, []phrase{s.name(q), s.cell(t), how})
	}
	c.Summary = fact(fmt.Sprintf("Of %s %d ran off; %d did not while it rained (arrow).", count(began+never, "plot"), began, never))
	if never == 0 {
		c.Summary = fact("All of " + count(began, "plot") + " ran off. A bar is the interval of the time.")
	}
	return c, rows
}

// sedimentChart shows how much sediment was caught.
func (s *Site) sedimentChart(plots []shown) (chart, figure.Rows) {
	c := chart{ID: "sediment", Title: "Sediment in the runoff"}
	unit := s.scaleOf(result.SedimentMass, "g")
	if len(plots) > 0 {
		if r := plots[0].row(result.SedimentMass); r != nil {
			unit = s.scaleOf(result.SedimentMass, r.Unit)
		}
	}
	rows := figure.Rows{FromZero: true, XLabel: "dry sediment off the plot, " + unit.name()}
	c.Table = table{Caption: "Sediment in the runoff, in numbers", Head: []string{"Plot", "Sediment, " + unit.name()}}
	var most, least shown
	pending := 0
	for _, q := range plots {
		m := q.row(result.SedimentMass)
		row := s.line(q)
		switch {
		case !known(m):
			row.Text = s.cell(m).String()
			if m != nil && m.Flags.Has("pending") {
				pending++
			}
		case m.Value.V <= 0:
			row.Text = "none"
		default:
			row.Bars = []figure.Bar{{Value: unit.of(m.Value.V), Role: figure.Sediment}}
			row.Text = s.value(m).String() + " " + unit.name()
		}
		if known(m) {
			if most.plot == nil || m.Value.V > most.row(result.SedimentMass).Value.V {
				most = q
			}
			if least.plot == nil || m.Value.V < least.row(result.SedimentMass).Value.V {
				least = q
			}
		}
		rows.Rows = append(rows.Rows, row)
		c.Table.Rows = append(c.Table.Rows, []phrase{s.name(q), s.cell(m)})
	}
	c.Summary = s.fromTo(most, least, result.SedimentMass, "Most came ", "least ")
	if pending > 0 {
		c.Summary = join(fact("The sediment of "+count(pending, "plot")+" is being dried. "), c.Summary)
	}
	if most.plot == nil && pending > 0 {
		c.Summary = fact("The sediment of all " + count(pending, "plot") + " is being dried.")
	}
	return c, rows
}

// methodWord spells a method's identifier with blanks.
func methodWord(m string) string {
	out := []rune(m)
	for i, r := range out {
		if r == '_' {
			out[i] = ' '
		}
	}
	return string(out)
}
