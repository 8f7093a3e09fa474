package page

import (
	"math"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/api/report/figure"
)

// plotCharts draws the courses of a plot: rates with rain and onset marks,
// infiltration with the fitted curve, the water balance as sums, and sediment.
func (s *Site) plotCharts(r *run, p *plot, id string) ([]chart, error) {
	c := p.course("runoff")
	if c == nil || len(c.Steps) == 0 {
		return nil, nil
	}
	var out []chart
	for _, make := range []func(*run, *plot, *result.Course, string) (chart, figure.Course, bool){s.rateChart, s.infiltrationChart, s.balanceChart, s.concentrationChart} {
		ch, k, ok := make(r, p, c, id)
		if !ok {
			continue
		}
		if err := ch.draw(k.Figure()); err != nil {
			return nil, err
		}
		out = append(out, ch)
	}
	return out, nil
}

const timeLabel = "time since the start of rain, min"

// stairs are steps as connected points; intervals that do not touch are parts of
// their own.
func stairs(steps []result.Step, value func(*result.Step) (float64, bool)) [][]figure.Point {
	var parts [][]figure.Point
	end := math.NaN()
	for i := range steps {
		st := &steps[i]
		v, ok := value(st)
		if !ok || !finite(v) || !finite(st.StartMin) || !finite(st.EndMin) {
			end = math.NaN()
			continue
		}
		if st.StartMin != end {
			parts = append(parts, nil)
		}
		last := len(parts) - 1
		parts[last] = append(parts[last], figure.Point{X: st.StartMin, Y: v}, figure.Point{X: st.EndMin, Y: v})
		end = st.EndMin
	}
	return parts
}

// rateChart is the hydrograph.
func (s *Site) rateChart(_ *run, p *plot, c *result.Course, id string) (chart, figure.Course, bool) {
	unit := s.scaleOf("", "mm/h")
	ch := chart{ID: id + "-rates", Title: "Rain and runoff, plot " + p.Plot}
	runoff := figure.Line{Name: "runoff, with its standard uncertainty", Role: figure.Runoff,
		Parts: stairs(c.Steps, func(st *result.Step) (float64, bool) { return unit.of(st.RateMMH), true })}
	for i := range c.Steps {
		if st := &c.Steps[i]; finite(st.RateMMH) && finite(st.URateMMH) {
			low, high := unit.of(max(min(0, st.RateMMH), st.RateMMH-st.URateMMH)), unit.of(st.RateMMH+st.URateMMH)
			runoff.Band = append(runoff.Band, figure.Range{X: st.StartMin, Low: low, High: high}, figure.Range{X: st.EndMin, Low: low, High: high})
		}
	}
	rain := figure.Line{Name: "rain", Role: figure.Rain, Thin: true, Parts: stairs(c.Steps, func(st *result.Step) (float64, bool) { return unit.of(st.IntensityMMH), true })}
	k := figure.Course{FromZero: true, XLabel: timeLabel, YLabel: "rate, " + unit.name(), Lines: []figure.Line{rain, runoff}, Marks: s.onsetMarks(p)}
	ch.Summary = say("Nothing ran off.")
	if peak := p.row(result.PeakRunoffRate); known(peak) && peak.Value.V > 0 {
		ch.Summary = join(say("Runoff rose to "), s.value(peak), say(" "+unit.name()))
		if final := p.row(result.FinalRunoffRate); known(final) {
			ch.Summary = join(ch.Summary, say(" and ended at "), s.value(final), say(" "+unit.name()))
		}
		ch.Summary = join(ch.Summary, say("."))
	}
	ch.Table = s.onsetTable(p, ch.ID)
	return ch, k, true
}

// onsetMarks are the times at which runoff began, by each definition.
func (s *Site) onsetMarks(p *plot) []figure.Mark {
	var out []figure.Mark
	for i := range p.rows {
		if r := &p.rows[i]; r.Metric == result.TimeToRunoff && known(r) && r.Censored != result.Right {
			out = append(out, figure.Mark{X: r.Value.V, Text: methodWord(r.Method) + " " + s.value(r).String() + " min"})
		}
	}
	return out
}

func (s *Site) onsetTable(p *plot, id string) table {
	t := table{ID: id + "-table", Caption: "The times to runoff by each definition; the rates stand bottle by bottle below", Folded: true, Head: []string{"Definition", "Time, min"}}
	for i := range p.rows {
		if r := &p.rows[i]; r.Metric == result.TimeToRunoff {
			t.Rows = append(t.Rows, []phrase{fact(methodWord(r.Method)), s.cell(r)})
		}
	}
	return t
}

// infiltrationChart is what the plot took in, with the curve that was fitted.
func (s *Site) infiltrationChart(_ *run, p *plot, c *result.Course, id string) (chart, figure.Course, bool) {
	unit := s.scaleOf("", "mm/h")
	ch := chart{ID: id + "-infiltration", Title: "Infiltration, plot " + p.Plot}
	lines := []figure.Line{{Name: "infiltration: rain minus runoff", Role: figure.Infiltrated, Parts: stairs(c.Steps, func(st *result.Step) (float64, bool) {
		return unit.of(st.InfiltrationMMH.V), st.InfiltrationMMH.OK
	})}}
	if len(lines[0].Parts) == 0 {
		return ch, figure.Course{}, false
	}
	end := 0.0
	for i := range c.Steps {
		if c.Steps[i].IntensityMMH > 0 {
			end = max(end, c.Steps[i].EndMin)
		}
	}
	steady := p.row(result.SteadyInfiltrationRate)
	if curve, ok := p.hortonCurve(end, unit); ok {
		lines = append(lines, curve)
	}
	if known(steady) && steady.Censored != result.Right && steady.Censored != result.Left {
		lines = append(lines, figure.Line{Name: "capacity at the end of rain, with its interval", Role: figure.Fitted, Points: true, Parts: [][]figure.Point{{
			{X: end, Y: unit.of(steady.Value.V), Low: unit.optional(steady.Low), High: unit.optional(steady.High)},
		}}})
	}
	ch.Summary = say("The capacity at the end of rain is not known.")
	ch.Table = table{ID: ch.ID + "-table", Caption: "The capacity at the end of rain in numbers", Folded: true, Head: []string{"Method", "Capacity, " + unit.name()}}
	if known(steady) {
		ch.Summary = join(say("At the end of rain the soil took in "), s.value(steady), say(" "+unit.name()+verdict(steady.Flags)+"."))
	}
	for i := range p.rows {
		if r := &p.rows[i]; r.Metric == result.SteadyInfiltrationRate {
			ch.Table.Rows = append(ch.Table.Rows, []phrase{fact(methodWord(r.Method)), s.cell(r)})
		}
	}
	return ch, figure.Course{FromZero: true, XLabel: timeLabel, YLabel: "rate, " + unit.name(), Lines: lines}, true
}

// verdict says whether the rate has settled.
func verdict(f result.Flags) string {
	if f.Has("not_steady") {
		return ", and the rate may still have been falling"
	}
	return ""
}

// balanceChart is the cumulative water balance.
func (s *Site) balanceChart(_ *run, p *plot, c *result.Course, id string) (chart, figure.Course, bool) {
	unit := s.scaleOf("", "mm")
	ch := chart{ID: id + "-balance", Title: "Sums of water, plot " + p.Plot}
	sum := func(c *result.Course) [][]figure.Point {
		line := []figure.Point{{}}
		for i := range c.Steps {
			if st := &c.Steps[i]; finite(st.CumulativeMM) && finite(st.EndMin) {
				line = append(line, figure.Point{X: st.EndMin, Y: unit.of(st.CumulativeMM)})
			}
		}
		return [][]figure.Point{line}
	}
	k := figure.Course{FromZero: true, XLabel: timeLabel, YLabel: "depth, " + unit.name()}
	if rain := p.row(result.RainDepth); known(rain) {
		end := 0.0
		for i := range c.Steps {
			if c.Steps[i].IntensityMMH > 0 {
				end = max(end, c.Steps[i].EndMin)
			}
		}
		if end > 0 {
			k.Lines = append(k.Lines, figure.Line{Name: "rain", Role: figure.Rain, Thin: true, Parts: [][]figure.Point{rainSum(c.Steps, unit)}})
		}
	}
	k.Lines = append(k.Lines, figure.Line{Name: "runoff", Role: figure.Runoff, Parts: sum(c)})
	if d := p.course("drainage"); d != nil {
		k.Lines = append(k.Lines, figure.Line{Name: "drainage", Role: figure.Drained, Parts: sum(d)})
	}
	ch.Table = table{ID: ch.ID + "-table", Caption: "The sums in numbers", Folded: true, Head: []string{"Quantity", "Depth, " + unit.name()}}
	for _, m := range []result.Metric{result.RainDepth, result.RunoffDepth, result.DrainageDepth, result.InfiltrationDepth, result.StorageDepth} {
		if r := p.row(m); r != nil {
			name := string(m)
			if info, ok := m.Info(); ok {
				name = info.Name
			}
			ch.Table.Rows = append(ch.Table.Rows, []phrase{say(name), s.cell(r)})
		}
	}
	ch.Summary = s.plotSentence(p)
	return ch, k, true
}

// rainSum is the rain fallen by the end of each interval.
func rainSum(steps []result.Step, unit scale) []figure.Point {
	line := []figure.Point{{}}
	at, sum := 0.0, 0.0
	for i := range steps {
		st := &steps[i]
		if !finite(st.EndMin) || !finite(st.IntensityMMH) || st.EndMin <= at {
			continue
		}
		sum += st.IntensityMMH * (st.EndMin - at) / 60
		at = st.EndMin
		line = append(line, figure.Point{X: at, Y: unit.of(sum)})
	}
	return line
}

// concentrationChart is the sediment in the runoff.
func (s *Site) concentrationChart(_ *run, p *plot, c *result.Course, id string) (chart, figure.Course, bool) {
	unit := s.scaleOf("", "g/L")
	ch := chart{ID: id + "-concentration", Title: "Sediment in the runoff, plot " + p.Plot}
	parts := stairs(c.Steps, func(st *result.Step) (float64, bool) { return unit.of(st.ConcentrationGL.V), st.ConcentrationGL.OK })
	if len(parts) == 0 {
		return ch, figure.Course{}, false
	}
	mean := p.row(result.SedimentConcentration)
	ch.Summary = say("A flow-weighted mean is not known.")
	ch.Table = table{ID: ch.ID + "-table", Caption: "The concentration in numbers", Folded: true, Head: []string{"Mean", "Concentration"}}
	if known(mean) {
		ch.Summary = join(say("All runoff together held "), s.value(mean), say(" g/L."))
	}
	for i := range p.rows {
		if r := &p.rows[i]; r.Metric == result.SedimentConcentration {
			ch.Table.Rows = append(ch.Table.Rows, []phrase{fact(methodWord(r.Method) + ", " + r.Unit), s.cell(r)})
		}
	}
	k := figure.Course{FromZero: true, XLabel: timeLabel, YLabel: "sediment, " + unit.name(), XMin: quantity.Some(0), XMax: quantity.Some(c.Steps[len(c.Steps)-1].EndMin),
		Lines: []figure.Line{{Name: "sediment in each bottle", Role: figure.Sediment, Parts: parts}}}
	return ch, k, true
}
