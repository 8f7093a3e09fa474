package season_test

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"testing"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/analysis/season"
)

// plot makes a headline row; change it with the functions.
func plot(event, run, id string, m result.Metric, value float64, change ...func(*result.PlotRow)) result.PlotRow {
	r := result.PlotRow{
		Subject: &result.Subject{Dataset: "d", Season: "2025", Event: event, Run: run, Plot: id, Treatment: "bare"}, Metric: m, Method: "observed", Headline: true,
		Estimate: result.Estimate{Value: quantity.Some(value), Censored: result.Observed},
	}
	for _, f := range change {
		f(&r)
	}
	return r
}

func right(r *result.PlotRow) { r.Censored = result.Right }

func missing(words ...string) func(*result.PlotRow) {
	return func(r *result.PlotRow) { r.Value, r.Flags = quantity.None(), words }
}

func errorsOf(u, shared float64) func(*result.PlotRow) {
	return func(r *result.PlotRow) { r.U, r.UShared = quantity.Some(u), quantity.Some(shared) }
}

func soil(name string) func(*result.PlotRow) {
	return func(r *result.PlotRow) { r.ExperimentalUnit = name }
}

func sequence(s string) func(*result.PlotRow) { return func(r *result.PlotRow) { r.Sequence = s } }

func method(s string) func(*result.PlotRow) { return func(r *result.PlotRow) { r.Method = s } }

// plots makes a row per value, plots p1, p2, ... of one run of one event.
func plots(event string, m result.Metric, values ...float64) []result.PlotRow {
	var rows []result.PlotRow
	for i, v := range values {
		rows = append(rows, plot(event, "r1", fmt.Sprint("p", i+1), m, v))
	}
	return rows
}

func treatments(t *testing.T, rows []result.PlotRow) []result.TreatmentRow {
	t.Helper()
	out, err := season.Treatments(rows, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// find returns the row of a scope, treatment and statistic, the headline row of an empty statistic.
func find(t *testing.T, rows []result.TreatmentRow, scope, treatment, statistic string) result.TreatmentRow {
	t.Helper()
	for _, r := range rows {
		if r.Scope == scope && r.Treatment == treatment && (r.Statistic == statistic || statistic == "" && r.Headline) {
			return r
		}
	}
	t.Fatalf("no row %s %s %s in %d rows", scope, treatment, statistic, len(rows))
	return result.TreatmentRow{}
}

func near(t *testing.T, name string, got quantity.Optional, want, tolerance float64) {
	t.Helper()
	if !got.OK || math.Abs(got.V-want) > tolerance {
		t.Errorf("%s = %v, want %v ± %g", name, got, want, tolerance)
	}
}

func none(t *testing.T, name string, got quantity.Optional) {
	t.Helper()
	if got.OK {
		t.Errorf("%s = %v, want none", name, got.V)
	}
}

func flagged(t *testing.T, r result.TreatmentRow, words ...string) {
	t.Helper()
	for _, w := range words {
		if !r.Flags.Has(w) {
			t.Errorf("%s %s %s %s: flags %q lack %q", r.Scope, r.Treatment, r.Metric, r.Statistic, r.Flags, w)
		}
	}
}

// Wanted: R 4.2.2 t.test(c(41.2, 18.6, 27.9, 63.4)).
func TestMeanWithinEvent(t *testing.T) {
	out := treatments(t, plots("e1", result.RunoffDepth, 41.2, 18.6, 27.9, 63.4))
	r := find(t, out, "event:e1", "bare", "mean")
	near(t, "mean", r.Value, 37.775, 1e-12)
	near(t, "low", r.Low, 6.843986191715301, 1e-10)
	near(t, "high", r.High, 68.7060138082847, 1e-10)
	near(t, "sd", r.SDBetween, math.Sqrt(1133.5675/3), 1e-12)
	if r.NPlots != 4 || r.NEvents != 1 || r.NCensored != 0 || !r.Headline || r.Unit != "mm" || r.Method != "mean_t" || r.Level != 0.95 {
		t.Errorf("row %+v", r)
	}
}

// Rows stand by scope (events, seasons, all), treatment, metric in catalogue order.
func TestRowOrder(t *testing.T) {
	var rows []result.PlotRow
	for _, e := range []string{"b", "a"} {
		for _, tr := range []string{"mulch", "bare"} {
			for _, m := range []result.Metric{result.RunoffCoefficient, result.TimeToRunoff} {
				rows = append(rows, plot(e, "r", "p", m, 0.5, func(r *result.PlotRow) { r.Treatment = tr }))
			}
		}
	}
	var got []string
	for _, r := range treatments(t, rows) {
		if r.Headline {
			got = append(got, r.Scope+" "+r.Treatment+" "+string(r.Metric))
		}
	}
	var want []string
	for _, s := range []string{"event:a", "event:b", "season:2025", "all"} {
		for _, tr := range []string{"bare", "mulch"} {
			want = append(want, s+" "+tr+" time_to_runoff", s+" "+tr+" runoff_coefficient")
		}
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("order\n%q\nwant\n%q", got, want)
	}
}

func TestEventOfTwoSeasonsIsTwoEvents(t *testing.T) {
	rows := plots("field day", result.RunoffDepth, 1, 2)
	rows = append(rows, plot("field day", "r9", "p1", result.RunoffDepth, 7, func(r *result.PlotRow) { r.Season = "2024" }))
	out := treatments(t, rows)
	near(t, "2024", find(t, out, "event:2024/field day", "bare", "").Value, 7, 0)
	near(t, "2025", find(t, out, "event:2025/field day", "bare", "").Value, 1.5, 0)
	if r := find(t, out, "all", "bare", ""); r.NEvents != 2 {
		t.Errorf("%d events, want 2", r.NEvents)
	}
}

func TestOnlyHeadlineRowsOfIncludedPlotsCount(t *testing.T) {
	rows := plots("e1", result.RunoffDepth, 1, 2, 3)
	rows = append(rows,
		plot("e1", "r1", "p1", result.RunoffDepth, 99, func(r *result.PlotRow) { r.Headline, r.Method = false, "readings" }),
		plot("e1", "r1", "p4", result.RunoffDepth, 99, func(r *result.PlotRow) { r.Excluded = true }),
		plot("e1", "r1", "p5", result.Intensity, 99),
		plot("e1", "r1", "p6", "no_such_metric", 99))
	out := treatments(t, rows)
	r := find(t, out, "event:e1", "bare", "mean")
	near(t, "mean", r.Value, 2, 0)
	if r.NPlots != 3 || len(out) != 3 {
		t.Errorf("%d plots, %d rows", r.NPlots, len(out))
	}
}

func TestFewPlots(t *testing.T) {
	one := find(t, treatments(t, []result.PlotRow{plot("e", "r", "p", result.RunoffDepth, 3, errorsOf(0.2, 0.1))}), "event:e", "bare", "mean")
	near(t, "value", one.Value, 3, 0)
	near(t, "u", one.UMeasurement, 0.2, 1e-15)
	none(t, "low", one.Low)
	none(t, "sd", one.SDBetween)
	flagged(t, one, season.FlagOnePlot)

	two := find(t, treatments(t, plots("e", result.RunoffDepth, 3.4, 8.8)), "event:e", "bare", "mean")
	near(t, "low", two.Low, -28.206752787671675, 1e-9) // R 4.2.2 t.test(c(3.4, 8.8))
	near(t, "high", two.High, 40.40675278767168, 1e-9)
	flagged(t, two, "n_small", season.FlagBelowZero)

	rows := append(plots("e", result.RunoffDepth, 3), plot("e", "r1", "p2", result.RunoffDepth, 0, missing("no_volume")))
	part := find(t, treatments(t, rows), "event:e", "bare", "mean")
	flagged(t, part, season.FlagOnePlot, season.FlagSomeMissing)

	nothing := find(t, treatments(t, []result.PlotRow{plot("e", "r", "p", result.RunoffDepth, 0, missing("no_volume", "share=0.3"))}), "event:e", "bare", "mean")
	none(t, "value", nothing.Value)
	flagged(t, nothing, "no_data", "no_volume")
	if nothing.NPlots != 0 || nothing.Flags.Has("share=0.3") {
		t.Errorf("row %+v", nothing)
	}
}

// Equal replicates bound nothing; what the measurement says is said as such.
func TestEqualReplicates(t *testing.T) {
	bare := find(t, treatments(t, plots("e", result.RainDepth, 30, 30, 30)), "event:e", "bare", "mean")
	none(t, "low", bare.Low)
	flagged(t, bare, "no_spread")

	var rows []result.PlotRow
	for _, p := range []string{"p1", "p2", "p3", "p4"} {
		rows = append(rows, plot("e", "r1", p, result.RainDepth, 30, errorsOf(0.5, 0.3)))
	}
	r := find(t, treatments(t, rows), "event:e", "bare", "mean")
	// u² = (0.5² - 0.3²)/4 + 0.3² = 0.13
	near(t, "u", r.UMeasurement, math.Sqrt(0.13), 1e-14)
	near(t, "low", r.Low, 30-1.959963984540054*math.Sqrt(0.13), 1e-12)
	flagged(t, r, "no_spread", season.FlagMeasurementOnly)
}

// The error that plots share is added where they stood under one run, and is
// part of their scatter where each stood under its own.
func TestSharedErrorWidens(t *testing.T) {
	values := []float64{41.2, 18.6, 27.9, 63.4}
	var together, apart []result.PlotRow
	for i, v := range values {
		p := fmt.Sprint("p", i)
		together = append(together, plot("e", "r1", p, result.RunoffDepth, v, errorsOf(5, 4)))
		apart = append(apart, plot("e", fmt.Sprint("r", i), p, result.RunoffDepth, v, errorsOf(5, 4)))
	}
	const half = 37.775 - 6.843986191715301 // R's t.test
	r := find(t, treatments(t, together), "event:e", "bare", "mean")
	near(t, "half width", quantity.Some(r.High.V-r.Value.V), math.Hypot(half, 1.959963984540054*4), 1e-9)
	near(t, "u", r.UMeasurement, math.Sqrt(9.0/4+16), 1e-12)
	r = find(t, treatments(t, apart), "event:e", "bare", "mean")
	near(t, "half width", quantity.Some(r.High.V-r.Value.V), half, 1e-9)
	near(t, "u", r.UMeasurement, math.Sqrt(9.0/4+16.0/4), 1e-12)
}

func TestRepeatedRunsAreNotReplicates(t *testing.T) {
	rows := []result.PlotRow{
		plot("e", "r1", "p1", result.RunoffDepth, 10, soil("A")),
		plot("e", "r2", "p1", result.RunoffDepth, 14, soil("A")),
		plot("e", "r1", "p2", result.RunoffDepth, 20, soil("B")),
		plot("e", "r2", "p2", result.RunoffDepth, 24, soil("B")),
	}
	r := find(t, treatments(t, rows), "event:e", "bare", "mean")
	near(t, "mean", r.Value, 17, 0)
	near(t, "sd", r.SDBetween, 10/math.Sqrt2, 1e-12) // of 12 and 22
	if r.NPlots != 2 {
		t.Errorf("n = %d, want 2", r.NPlots)
	}
	flagged(t, r, season.FlagRepeatedMeasures)

	// One plot identifier in two runs of one event is one soil as well.
	for i := range rows {
		rows[i].ExperimentalUnit = ""
	}
	if r := find(t, treatments(t, rows), "event:e", "bare", "mean"); r.NPlots != 2 {
		t.Errorf("n = %d, want 2", r.NPlots)
	}

	// A censored value has no place in a mean of runs: the first run stands.
	rows[1].Censored = result.Right
	rows[0].Metric, rows[1].Metric = result.SteadyInfiltrationRate, result.SteadyInfiltrationRate
	r = find(t, treatments(t, rows[:2]), "event:e", "bare", "mean")
	near(t, "first run", r.Value, 10, 0)
}

func TestUnlikeSequencesAreTwoTreatments(t *testing.T) {
	var rows []result.PlotRow
	for i, v := range []float64{10, 12, 14} {
		p := fmt.Sprint("p", i)
		rows = append(rows, plot("e", "r1", p, result.RunoffDepth, v, sequence("dry"), soil(p)),
			plot("e", "r2", p, result.RunoffDepth, v+10, sequence("wet"), soil(p)))
	}
	out := treatments(t, rows)
	dry, wet := find(t, out, "all", "bare (dry)", ""), find(t, out, "all", "bare (wet)", "")
	near(t, "dry", dry.Value, 12, 0)
	near(t, "wet", wet.Value, 22, 0)
	flagged(t, dry, season.FlagSequencesDiffer)
	if dry.NPlots != 3 || dry.Flags.Has(season.FlagRepeatedMeasures) {
		t.Errorf("dry %+v", dry)
	}
}

// Where some runs have no sequence noted, first runs stand with them.
func TestFirstRunsStandWithRunsWithoutSequence(t *testing.T) {
	rows := []result.PlotRow{
		plot("a", "r1", "p1", result.RunoffDepth, 10),
		plot("b", "r1", "p1", result.RunoffDepth, 20, sequence("dry")),
		plot("b", "r2", "p1", result.RunoffDepth, 50, sequence("wet")),
	}
	out := treatments(t, rows)
	first, wet := find(t, out, "all", "bare", ""), find(t, out, "all", "bare (wet)", "")
	near(t, "first runs", first.Value, 15, 0)
	near(t, "wet", wet.Value, 50, 0)
	flagged(t, first, season.FlagSequencesDiffer)
	flagged(t, wet, season.FlagSequencesDiffer, season.FlagOneEvent)
}

func TestLevel(t *testing.T) {
	for _, level := range []float64{0, 1, -1, 95, math.NaN()} {
		if _, err := season.Treatments(nil, level); !errors.Is(err, season.ErrLevel) {
			t.Errorf("level %v: %v", level, err)
		}
	}
	if out := treatments(t, nil); len(out) != 0 {
		t.Errorf("%d rows of nothing", len(out))
	}
}
