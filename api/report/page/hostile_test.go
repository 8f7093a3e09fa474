package page_test

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/api/report"
	"sheetwash/api/report/figure"
	"sheetwash/api/report/page"
	"sheetwash/api/report/page/pagetest"
)

// cruel are names that a file may hold: markup, attributes, templates, other
// directions of writing, letters without width, and very long ones.
var cruel = []string{
	`<script>alert(1)</script>`, `"><img src=x onerror=alert(2)>`, `{{.}} ${x} </style><style>*{display:none}`, `javascript:alert(3)`,
	"\u202eright to left\u202c אבג", "مرج الفستوكا", "kôń 🌧️ plot", "a\u0000b\x07c\ufffd", strings.Repeat("W", 200), strings.Repeat("long name ", 20), " ", "'; DROP TABLE plots; --",
}

// hostile is one event with 40 treatments of cruel names, one plot each, all of which
// never ran off.
func hostile() page.Input {
	a := &result.Analysis{}
	r := experiment.Run{ID: cruel[0], Event: cruel[1], Season: cruel[2], Site: cruel[4], Crew: cruel[8], Simulator: cruel[5], Note: cruel[1], RainMin: 30, Started: time.Date(2031, 5, 1, 10, 0, 0, 0, time.UTC)}
	for i := range 40 {
		name := fmt.Sprint(cruel[i%len(cruel)], i/len(cruel))
		s := &result.Subject{Dataset: cruel[7], Season: r.Season, Event: r.Event, Run: r.ID, Plot: fmt.Sprint(cruel[(i+3)%len(cruel)], i), Treatment: name}
		r.Plots = append(r.Plots, experiment.Plot{ID: s.Plot, Treatment: name, AreaM2: 0.5, CoverKind: cruel[i%len(cruel)]})
		row := func(m result.Metric, unit string, v float64, censored result.Censored) {
			a.Plots = append(a.Plots, result.PlotRow{Subject: s, Metric: m, Method: cruel[1], Headline: true, Unit: unit, Level: 0.95,
				Estimate: result.Estimate{Value: quantity.Some(v), Censored: censored, Flags: result.Flags{"no_runoff", cruel[0]}}})
			a.Treatments = append(a.Treatments, result.TreatmentRow{Scope: "event:" + r.Event, Treatment: name, Metric: m, Statistic: "mean", Headline: true, Value: quantity.Some(v),
				Unit: unit, Level: 0.95, Method: cruel[2], NPlots: 1, NEvents: 1, NCensored: 1, Flags: result.Flags{"lower_bound"}})
		}
		row(result.RainDepth, "mm", 35, result.Observed)
		row(result.RunoffDepth, "mm", 0, result.Observed)
		row(result.InfiltrationDepth, "mm", 35, result.Observed)
		row(result.TimeToRunoff, "min", 30, result.Right)
		row(result.SedimentMass, "g", 0, result.Observed)
		a.Hydrograph = append(a.Hydrograph, result.Course{Dataset: s.Dataset, Run: s.Run, Plot: s.Plot, Stream: "runoff", Steps: []result.Step{
			{EndMin: 30, IntensityMMH: 70, InfiltrationMMH: quantity.Some(70)}, {StartMin: 30, EndMin: 32, RateMMH: math.NaN(), URateMMH: math.Inf(1), Flag: result.Flags{cruel[0]}}}})
	}
	a.Findings = []result.Finding{{Dataset: cruel[7], Code: cruel[0], Severity: cruel[1], File: cruel[4], Message: cruel[2], Value: cruel[3]}}
	a.Comparisons = []result.ComparisonRow{{Scope: "event:" + r.Event, Metric: result.TimeToRunoff, Treatment: cruel[0] + "0", Reference: cruel[4] + "0", Effect: cruel[1], Unit: "1", Value: quantity.Some(1)},
		{Scope: "all", Metric: result.TimeToRunoff, Treatment: cruel[0] + "0", Reference: cruel[4] + "0", Effect: cruel[1], Unit: "1", Value: quantity.Some(1), Low: quantity.Some(0.5), High: quantity.Some(2)}}
	a.Calibrations = []result.CalibrationRow{{Dataset: cruel[7], Calibration: cruel[0], Simulator: cruel[5], Date: cruel[3], Metric: result.Intensity, Unit: "mm/h", Value: quantity.Some(70)}}
	cans := []experiment.Can{{Calibration: cruel[0], Position: cruel[1], XCM: quantity.Some(0), YCM: quantity.Some(0), DurationMin: 10}}
	return page.Input{Analysis: a, Datasets: []page.Dataset{{Name: cruel[7], SHA256: "00", Runs: []experiment.Run{r}, Cans: cans}}, Link: fileName, Command: cruel[0],
		Program: page.Program{Name: "sheetwash", Version: "0.0.0"}}
}

// Text of the data makes no element and no attribute, and every chart of it can be
// drawn in every form.
func TestHostileTextIsText(t *testing.T) {
	site := page.New(hostile())
	for _, target := range targets(site) {
		data := render(t, site, target)
		pagetest.Harmless(t, data)
		if strings.Contains(string(data), "\u202e") && target.Kind == page.EventPage && !strings.Contains(string(data), "<bdi>") {
			t.Error("text that turns the direction stands without isolation")
		}
		charts, err := site.Charts(target)
		if err != nil {
			t.Fatal(err)
		}
		for i, c := range charts {
			for _, f := range []figure.Format{figure.SVG, figure.PNG, figure.PDF} {
				if i > 2 && f != figure.SVG {
					continue
				}
				if err := c.Figure.Write(&bytes.Buffer{}, f); err != nil {
					t.Errorf("%s as %s: %v", c.Name, f, err)
				}
			}
		}
	}
}

// One plot alone, and no plot at all, make pages too.
func TestSmallest(t *testing.T) {
	one := hostile()
	one.Analysis.Plots = one.Analysis.Plots[:2]
	one.Analysis.Treatments, one.Analysis.Hydrograph, one.Datasets = nil, nil, nil
	for name, in := range map[string]page.Input{"one": one, "none": {}, "only findings": {Analysis: &result.Analysis{Findings: one.Analysis.Findings}, Datasets: []page.Dataset{{Name: "x", Refused: true}}}} {
		site := page.New(in)
		for _, target := range targets(site) {
			if data := render(t, site, target); !bytes.Contains(data, []byte("</html>")) {
				t.Errorf("%s: %v is not whole", name, target.Kind)
			}
		}
	}
	if err := page.New(page.Input{}).Write(&bytes.Buffer{}, page.Target{Kind: page.EventPage}); err == nil {
		t.Error("a page of no event was written")
	}
}

// The limits of the contract: 300 KiB for the page of an event, 2 MiB for the report
// of a season of twelve events with twenty plots each.
func TestSizes(t *testing.T) {
	site := demoSites[report.US](t)
	for _, target := range site.Events() {
		if n := len(render(t, site, target)); n >= 300<<10 {
			t.Errorf("%v has %d bytes", target, n)
		}
	}
	big := page.New(season(12, 20))
	if n := len(render(t, big, page.Target{Kind: page.SeasonPage})); n >= 2<<20 {
		t.Errorf("the report of 12 events with 20 plots has %d bytes", n)
	}
}

// season is an invented season of as many events, with plots of seven treatments,
// three calibrations an event, and comparisons of all pairs.
func season(events, plots int) page.Input {
	names := []string{"barley stubble disked in", "barley stubble left standing", "meadow fescue ley", "oak-wood litter", "potato ridges, bare", "vineyard alley with straw mulch", "vineyard alley, bare"}
	metrics := []struct {
		m    result.Metric
		unit string
	}{{result.TimeToRunoff, "min"}, {result.SteadyInfiltrationRate, "mm/h"}, {result.RainDepth, "mm"}, {result.RunoffDepth, "mm"}, {result.InfiltrationDepth, "mm"},
		{result.RunoffCoefficient, "1"}, {result.SedimentConcentration, "g/L"}, {result.SedimentMass, "g"}, {result.SoilLoss, "g/m2"}}
	a := &result.Analysis{}
	in := page.Input{Analysis: a, Link: fileName, Program: page.Program{Name: "sheetwash", Version: "0.0.0"}}
	scopes := []string{"season:2031", "all"}
	for e := range events {
		event := fmt.Sprintf("Event %02d", e+1)
		scopes = append(scopes, "event:"+event)
		run := experiment.Run{ID: "R-1", Event: event, Season: "2031", Crew: "amber", RainMin: 30, Started: time.Date(2031, 4, 1+7*e, 9, 0, 0, 0, time.UTC)}
		for p := range plots {
			s := &result.Subject{Dataset: event, Season: "2031", Event: event, Run: run.ID, Plot: fmt.Sprint(p + 1), Treatment: names[p%len(names)]}
			run.Plots = append(run.Plots, experiment.Plot{ID: s.Plot, Treatment: s.Treatment, AreaM2: 0.5})
			for k, m := range metrics {
				v := 1 + float64((e*31+p*7+k*3)%29)
				a.Plots = append(a.Plots, result.PlotRow{Subject: s, Metric: m.m, Method: "observed", Headline: true, Unit: m.unit, Level: 0.95,
					Estimate: result.Estimate{Value: quantity.Some(v), U: quantity.Some(0.03 * v), Low: quantity.Some(0.9 * v), High: quantity.Some(1.1 * v), N: 11}})
			}
		}
		in.Datasets = append(in.Datasets, page.Dataset{Name: event, SHA256: strings.Repeat("0f", 32), Runs: []experiment.Run{run}})
		for c := range 3 {
			a.Calibrations = append(a.Calibrations, result.CalibrationRow{Dataset: event, Calibration: fmt.Sprint("cans ", c), Simulator: fmt.Sprint("trailer-", c+1), Date: run.Started.Format(time.DateOnly),
				Metric: result.Intensity, Unit: "mm/h", Value: quantity.Some(68 + float64((e+c)%5)), Low: quantity.Some(66), High: quantity.Some(74), N: 12})
		}
		for f := range 40 {
			a.Findings = append(a.Findings, result.Finding{Dataset: event, Code: "unit.default", Severity: "note", File: "samples.csv", Row: int64(f), Column: "volume", Message: "no unit is stated; numbers are taken to be in mL"})
		}
	}
	for _, scope := range scopes {
		for i, n := range names {
			for k, m := range metrics {
				v := 1 + float64((i*5+k)%17)
				a.Treatments = append(a.Treatments, result.TreatmentRow{Scope: scope, Treatment: n, Metric: m.m, Statistic: "mean", Headline: true, Value: quantity.Some(v), Unit: m.unit,
					Low: quantity.Some(0.7 * v), High: quantity.Some(1.4 * v), Level: 0.95, Method: "mean_t", NPlots: 3, NEvents: 1, SDBetween: quantity.Some(0.2 * v), Letters: "ab"})
				for _, other := range names[:i] {
					if m.m == result.RunoffCoefficient || m.m == result.SoilLoss {
						a.Comparisons = append(a.Comparisons, result.ComparisonRow{Scope: scope, Metric: m.m, Treatment: n, Reference: other, Effect: "ratio", Value: quantity.Some(v), Unit: "1",
							Low: quantity.Some(0.7 * v), High: quantity.Some(1.4 * v), Level: 0.95, P: quantity.Some(0.02), PAdjusted: quantity.Some(0.04), Method: "t"})
					}
				}
			}
		}
	}
	return in
}

func BenchmarkSeason12x20(b *testing.B) {
	in := season(12, 20)
	b.ReportAllocs()
	size := 0
	for b.Loop() {
		size = len(render(b, page.New(in), page.Target{Kind: page.SeasonPage}))
	}
	b.ReportMetric(float64(size), "bytes")
}
