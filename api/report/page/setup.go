package page

import (
	"slices"
	"strings"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/api/report"
)

// setUp shows with what rain and on which plots the numbers came about.
func (s *Site) setUp(e *event) section {
	sec := section{ID: "set-up", Heading: "How it was set up", Cautions: cautions()}
	runs := table{ID: "runs", Caption: "The rain of each run", Head: []string{"Run", "Start", "Intensity", "Rain", "Pressure", "Water", "Simulator and crew", "Note"}}
	plots := table{ID: "set-up-plots", Caption: "The plots", Head: []string{"Plot", "Treatment", "Position", "Area", "Slope", "Cover", "Land use and soil", "Left out because"}}
	for _, n := range e.runs {
		r := &s.runs[n]
		if r.facts == nil {
			continue
		}
		runs.Rows = append(runs.Rows, s.runFacts(r))
		for i := range r.plots {
			if p := &r.plots[i]; p.facts != nil {
				plots.Rows = append(plots.Rows, s.plotFacts(r, p))
			}
		}
	}
	if len(runs.Rows) == 0 {
		sec.Intro = []phrase{say("What was noted of runs and plots is not at hand.")}
	} else {
		sec.Tables = []table{runs, plots}
	}
	if t := s.calibrationTable(e); len(t.Rows) > 0 {
		sec.Tables = append(sec.Tables, t)
	}
	return sec
}

// runFacts is the row of a run.
func (s *Site) runFacts(r *run) []phrase {
	f := r.facts
	start := f.Started.Format("2 January 2006, 15:04")
	if f.Started.IsZero() {
		start = ""
	}
	who := nonempty(f.Simulator, f.Crew)
	return cells(
		f.ID+parenthesis(f.Sequence), start, s.noted(f.IntensityMMH, "mm/h", "[in_i]/h", "in/h", "mm/h"), noted(f.RainMin)+" min",
		s.noted(f.PressureKPa, "kPa", "[psi]", "psi", "kPa"), strings.Join(nonempty(s.noted(f.WaterTempC, "Cel", "[degF]", "°F", "°C"), f.WaterSource), ", "),
		strings.Join(who, ", "), f.Note)
}

// plotFacts is the row of a plot.
func (s *Site) plotFacts(r *run, p *plot) []phrase {
	f := p.facts
	area := noted(f.AreaM2) + " m²"
	if s.in.Units == report.US {
		area = inUnit(f.AreaM2, "m2", "[sft_i]", "ft²", "m²")
	}
	cover := f.CoverKind
	if f.CoverPct.OK {
		cover = strings.TrimSpace(noted(f.CoverPct.V) + " % " + f.CoverKind)
	}
	slope := ""
	if f.Slope.OK {
		slope = noted(100*f.Slope.V) + " %"
	}
	reason := f.ExcludeReason
	if f.Exclude && reason == "" {
		reason = "set aside in the data"
	}
	return cells(s.plotName(r, p), p.Treatment, f.Position, area, slope, cover, strings.Join(nonempty(f.LandUse, f.Soil), ", "), reason)
}

func parenthesis(text string) string {
	if text == "" {
		return ""
	}
	return " (" + text + ")"
}

func nonempty(texts ...string) []string {
	return slices.DeleteFunc(texts, func(t string) bool { return t == "" })
}

// cells makes a row of facts; what is not known is a dash.
func cells(texts ...string) []phrase {
	var out []phrase
	for _, t := range texts {
		if t == "" {
			t = "–"
		}
		out = append(out, fact(t))
	}
	return out
}

// noted writes a fact in the units of the reader; "" where it is not known.
func (s *Site) noted(v quantity.Optional, si, us, usWord, siWord string) string {
	switch {
	case !v.OK:
		return ""
	case s.in.Units == report.US:
		return inUnit(v.V, si, us, usWord, siWord)
	}
	return noted(v.V) + " " + siWord
}

// calibrationTable shows how even the rain of the event's simulators was.
func (s *Site) calibrationTable(e *event) table {
	var simulators []string
	datasets := e.datasets(s)
	for _, n := range e.runs {
		if f := s.runs[n].facts; f != nil && f.Simulator != "" {
			simulators = append(simulators, f.Simulator)
		}
	}
	return s.calibrations("The rain in catch cans: how strong and how even", func(r *result.CalibrationRow) bool {
		return slices.Contains(datasets, r.Dataset) || slices.Contains(simulators, r.Simulator)
	})
}

// calibrations lists calibrations, one a row, with intensity and uniformity.
func (s *Site) calibrations(caption string, which func(*result.CalibrationRow) bool) table {
	metrics := []result.Metric{result.Intensity, result.UniformityChristiansen, result.UniformityLowQuarter}
	t := table{Caption: caption, Head: []string{"Calibration", "Simulator", "Date", "Cans"}}
	for _, m := range metrics {
		info, _ := m.Info()
		t.Head = append(t.Head, heading(m, s.scaleOf(m, info.SI)))
	}
	at := map[[2]string]int{}
	for i := range s.in.Analysis.Calibrations {
		r := &s.in.Analysis.Calibrations[i]
		n := slices.Index(metrics, r.Metric)
		if n < 0 || !which(r) {
			continue
		}
		k := [2]string{r.Dataset, r.Calibration}
		if _, ok := at[k]; !ok {
			at[k] = len(t.Rows)
			t.Rows = append(t.Rows, append(cells(r.Calibration, r.Simulator, r.Date, count(r.N, "can")), say("–"), say("–"), say("–")))
		}
		t.Rows[at[k]][4+n] = s.calibrated(r)
	}
	return t
}

// calibrated is a value of a calibration with its interval.
func (s *Site) calibrated(r *result.CalibrationRow) phrase {
	if !r.Value.OK {
		return say(absent(r.Flags))
	}
	c, key := s.scaleOf(r.Metric, r.Unit), r.Key()
	u := quarter(r.Low, r.High)
	p := phrase{s.number(key, "value", c, r.Value.V, u)}
	if b := s.bounds(key, c, r.Low, r.High, u); b != nil {
		b[0].Line = true
		p = join(p, b)
	}
	return p
}

// quarter is the uncertainty that rounds a value with an interval.
func quarter(low, high quantity.Optional) quantity.Optional {
	if low.OK && high.OK && high.V > low.V {
		return quantity.Some((high.V - low.V) / 4)
	}
	return quantity.None()
}

// cautions stand wherever a set-up is shown.
func cautions() []phrase {
	return []phrase{
		say("Keep water and mains electricity apart. Use outlets with residual-current (ground-fault) protection; no vacuum and no extension lead stands in water."),
		say("A full tank weighs more than it looks, and a heavy table needs level ground."),
		say("Let the pressure off before a hose is opened."),
		say("Local codes and a licensed electrician have the last word. Results are for teaching and research, not for engineering design."),
	}
}
