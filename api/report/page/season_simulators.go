package page

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/result"
	"sheetwash/api/report"
	"sheetwash/api/report/figure"
	"sheetwash/api/report/words"
)

// mostMaps is how many calibrations are drawn as maps; the table holds all.
const mostMaps = 12

// simulatorsSection shows the rain: its drift over the season, and how evenly it fell
// into catch cans.
func (s *Site) simulatorsSection(flags flagsOf) (section, error) {
	sec := section{ID: "simulators", Heading: "The rain", Pair: true}
	drift, ok := s.driftChart(flags)
	if ok {
		if err := drift.chart.draw(drift.course.Figure()); err != nil {
			return sec, err
		}
		sec.Charts = append(sec.Charts, drift.chart)
	}
	maps, err := s.canMaps()
	if err != nil {
		return sec, err
	}
	sec.Charts = append(sec.Charts, maps...)
	t := s.calibrations("Calibrations with catch cans", func(*result.CalibrationRow) bool { return true })
	t.ID = "calibrations"
	if len(t.Rows) == 0 {
		sec.Intro = []phrase{say("No catch cans were read. The intensity is that which was stated for each run.")}
		return sec, nil
	}
	sec.Tables = []table{t}
	return sec, nil
}

type drifting struct {
	chart  chart
	course figure.Course
}

// driftChart draws the measured intensity of each simulator over the season, with
// centre and limits of its control chart. It takes two dated calibrations.
func (s *Site) driftChart(flags flagsOf) (drifting, bool) {
	type point struct {
		day   time.Time
		row   *result.CalibrationRow
		chart *result.CalibrationRow // where it stands in the control chart; nil: nowhere
	}
	charts := map[[2]string]*result.CalibrationRow{}
	for i := range s.in.Analysis.Calibrations {
		if r := &s.in.Analysis.Calibrations[i]; r.Metric == result.IntensityDrift && r.Value.OK && r.Low.OK && r.High.OK {
			charts[[2]string{r.Dataset, r.Calibration}] = r
		}
	}
	by := map[string][]point{}
	var simulators []string
	n := 0
	for i := range s.in.Analysis.Calibrations {
		r := &s.in.Analysis.Calibrations[i]
		day, err := time.Parse(time.DateOnly, r.Date)
		if r.Metric != result.Intensity || !r.Value.OK || err != nil {
			continue
		}
		if by[r.Simulator] == nil {
			simulators = append(simulators, r.Simulator)
		}
		by[r.Simulator] = append(by[r.Simulator], point{day, r, charts[[2]string{r.Dataset, r.Calibration}]})
		n++
	}
	if n < 2 {
		return drifting{}, false
	}
	slices.Sort(simulators)
	unit := s.scaleOf(result.Intensity, "mm/h")
	d := drifting{chart: chart{ID: "drift", Title: "Drift of the simulators"}, course: figure.Course{XLabel: "date of the calibration", YLabel: "intensity, " + unit.name()}}
	var days []time.Time
	for _, sim := range simulators {
		for _, q := range by[sim] {
			days = append(days, q.day)
		}
	}
	first := slices.MinFunc(days, time.Time.Compare)
	last := slices.MaxFunc(days, time.Time.Compare)
	at := func(t time.Time) float64 { return t.Sub(first).Hours() / 24 }
	span := at(last)
	for i := range 4 {
		t := first.AddDate(0, 0, int(span*float64(i)/3+0.5))
		if i == 0 || span >= 3 {
			d.course.Ticks = append(d.course.Ticks, figure.Tick{X: at(t), Text: t.Format("2 Jan 2006")})
		}
	}
	d.chart.Table = table{ID: "drift-table", Caption: "The intensities in numbers", Folded: true, Head: []string{"Simulator", "Calibration", "Date", heading(result.Intensity, unit), "From the centre, " + unit.name(), "Limits from the centre", "Remarks"}}
	var out []string
	limits := 0
	for i, sim := range simulators {
		look := figure.Style(i)
		slices.SortStableFunc(by[sim], func(a, b point) int { return a.day.Compare(b.day) })
		line := figure.Line{Name: sim, Style: &look, Points: true, Parts: [][]figure.Point{nil}}
		centre := figure.Line{Name: sim + ": centre and limits", Role: figure.Fitted, Thin: true, Parts: [][]figure.Point{nil}}
		for _, q := range by[sim] {
			line.Parts[0] = append(line.Parts[0], figure.Point{X: at(q.day), Y: unit.of(q.row.Value.V), Low: unit.optional(q.row.Low), High: unit.optional(q.row.High)})
			row := append(cells(sim, q.row.Calibration, q.row.Date), s.calibrated(q.row))
			if q.chart == nil {
				d.chart.Table.Rows = append(d.chart.Table.Rows, append(row, say("–"), say("–"), say("–")))
				continue
			}
			c := q.row.Value.V - q.chart.Value.V
			centre.Parts[0] = append(centre.Parts[0], figure.Point{X: at(q.day), Y: unit.of(c)})
			centre.Band = append(centre.Band, figure.Range{X: at(q.day), Low: unit.of(c + q.chart.Low.V), High: unit.of(c + q.chart.High.V)})
			u := quarter(q.chart.Low, q.chart.High)
			d.chart.Table.Rows = append(d.chart.Table.Rows, append(row, phrase{s.number(q.chart.Key(), "value", unit, q.chart.Value.V, u)},
				s.bounds(q.chart.Key(), unit, q.chart.Low, q.chart.High, u), code(flags.add(q.chart.Flags))))
			if q.chart.Flags.Has("out_of_control") || q.chart.Flags.Has("shifted") {
				out = append(out, q.row.Calibration)
			}
		}
		if len(centre.Parts[0]) > 1 {
			limits++
			d.course.Lines = append(d.course.Lines, centre)
		}
		d.course.Lines = append(d.course.Lines, line)
	}
	told := fmt.Sprintf("The measured intensity in %s of %s, with its intervals.", count(n, "calibration"), count(len(simulators), "simulator"))
	switch {
	case limits == 0:
	case len(out) == 0:
		told += " Band: limits of the control chart, within which a steady simulator stays; no calibration is beyond them or shows a shift."
	default:
		told += " Band: limits of the control chart, within which a steady simulator stays. Beyond them or shifted: " + strings.Join(out, ", ") + "."
	}
	d.chart.Summary = fact(told)
	return d, true
}

// canMaps draws the catch of each calibration whose cans have places.
func (s *Site) canMaps() ([]chart, error) {
	var out []chart
	for i := range s.in.Datasets {
		var names []string
		by := map[string][]experiment.Can{}
		for _, c := range s.in.Datasets[i].Cans {
			if !c.XCM.OK || !c.YCM.OK || !(c.DurationMin > 0) {
				continue
			}
			if by[c.Calibration] == nil {
				names = append(names, c.Calibration)
			}
			by[c.Calibration] = append(by[c.Calibration], c)
		}
		for _, n := range names {
			if len(out) >= mostMaps {
				return out, nil
			}
			c, plan := s.canMap(n, by[n])
			c.ID = fmt.Sprint("cans-", len(out)+1)
			c.Table.ID = c.ID + "-table"
			if err := c.draw(plan.Figure()); err != nil {
				return nil, err
			}
			out = append(out, c)
		}
	}
	return out, nil
}

// canMap draws the cans of one calibration: the depth that each caught.
func (s *Site) canMap(name string, cans []experiment.Can) (chart, figure.Plan) {
	depth := s.scaleOf("", "mm")
	length, times := "cm", 1.0
	if s.in.Units == report.US {
		length, times = "in", 1/2.54
	}
	c := chart{Title: "Where the rain fell: " + name}
	plan := figure.Plan{XLabel: "across, " + length, YLabel: "along, " + length}
	c.Table = table{Caption: "The catch in numbers", Folded: true, Head: []string{"Position", "Across, " + length, "Along, " + length, "Caught, " + depth.name()}}
	mean, least, most := 0.0, cans[0].DepthMM, cans[0].DepthMM
	for _, k := range cans {
		mean += k.DepthMM / float64(len(cans))
		least, most = min(least, k.DepthMM), max(most, k.DepthMM)
	}
	for _, k := range cans {
		text := words.Significant(depth.of(k.DepthMM), 3)
		share := 1.0
		if mean > 0 {
			share = k.DepthMM / mean
		}
		plan.Cans = append(plan.Cans, figure.Can{X: k.XCM.V * times, Y: k.YCM.V * times, Share: share, Text: text})
		c.Table.Rows = append(c.Table.Rows, cells(k.Position, noted(k.XCM.V*times), noted(k.YCM.V*times), text))
	}
	c.Summary = fact(fmt.Sprintf("%s caught between %s and %s %s; pale: within a tenth of the mean, white: less, blue: more.",
		upper(count(len(cans), "can")), words.Significant(depth.of(least), 3), words.Significant(depth.of(most), 3), depth.name()))
	return c, plan
}
