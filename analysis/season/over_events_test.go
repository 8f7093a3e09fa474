package season_test

import (
	"math"
	"testing"

	"sheetwash/analysis/result"
	"sheetwash/analysis/season"
)

// Wanted: the t interval of three event means in closed form, 12 ± t(2) s/sqrt 3.
func TestMeanOfEventMeans(t *testing.T) {
	rows := plots("a", result.RunoffDepth, 8, 12)                      // 10
	rows = append(rows, plots("b", result.RunoffDepth, 12)...)         // 12
	rows = append(rows, plots("c", result.RunoffDepth, 12, 14, 16)...) // 14
	out := treatments(t, rows)
	for _, scope := range []string{"season:2025", "all"} {
		r := find(t, out, scope, "bare", "mean")
		near(t, "mean", r.Value, 12, 1e-12)
		near(t, "high", r.High, 12+4.302652729911275*2/math.Sqrt(3), 1e-9)
		near(t, "sd", r.SDBetween, 2, 1e-12)
		if r.NPlots != 6 || r.NEvents != 3 || r.Method != "mean_of_events_t" {
			t.Errorf("row %+v", r)
		}
	}
}

func TestOneEventIsStatedAsSuch(t *testing.T) {
	out := treatments(t, plots("a", result.RunoffDepth, 41.2, 18.6, 27.9, 63.4))
	within, over := find(t, out, "event:a", "bare", "mean"), find(t, out, "all", "bare", "mean")
	flagged(t, over, season.FlagOneEvent)
	if within.Flags.Has(season.FlagOneEvent) || within.Low != over.Low || within.Value != over.Value {
		t.Errorf("within %+v\nover %+v", within, over)
	}
}

// Where one of several events has a value, the statement within it stands with the
// method that made it: a mean of skewed plots keeps value and limits together.
func TestOneEventWithValues(t *testing.T) {
	rows := append(plots("a", result.SedimentConcentration, 41.2, 18.6, 27.9, 63.4),
		plot("b", "r1", "p1", result.SedimentConcentration, 0, missing("no_runoff")))
	out := treatments(t, rows)
	for _, statistic := range []string{"geometric_mean", "mean"} {
		within, over := find(t, out, "event:a", "bare", statistic), find(t, out, "all", "bare", statistic)
		if within.Value != over.Value || within.Low != over.Low || within.High != over.High || within.Method != over.Method {
			t.Errorf("within %+v\nover %+v", within, over)
		}
	}
}

// A season without a name has no scope of its own.
func TestNamelessSeason(t *testing.T) {
	rows := plots("a", result.RunoffDepth, 1, 2)
	for i := range rows {
		rows[i].Season = ""
	}
	for _, r := range treatments(t, rows) {
		if r.Scope != "event:a" && r.Scope != "all" {
			t.Errorf("scope %s", r.Scope)
		}
	}
}

// Events that share a body of soil are repeated measures of it.
func TestSoilInSeveralEvents(t *testing.T) {
	var rows []result.PlotRow
	for e, name := range []string{"a", "b", "c"} {
		rows = append(rows, plot(name, "r", "p1", result.RunoffDepth, float64(10+e), soil("A")),
			plot(name, "r", "p2", result.RunoffDepth, float64(20+e), soil("B")))
	}
	r := find(t, treatments(t, rows), "all", "bare", "mean")
	near(t, "mean", r.Value, 16, 1e-12)
	near(t, "sd between soils", r.SDBetween, 10/math.Sqrt2, 1e-12) // of 11 and 21
	flagged(t, r, season.FlagRepeatedMeasures)
	if r.NPlots != 2 || r.NEvents != 3 {
		t.Errorf("n %d plots, %d events", r.NPlots, r.NEvents)
	}

	// One more event on other soil: two clusters, of means 16 and 30.
	rows = append(rows, plot("d", "r", "p1", result.RunoffDepth, 30, soil("C")))
	r = find(t, treatments(t, rows), "all", "bare", "mean")
	near(t, "mean", r.Value, 23, 1e-12)
	near(t, "sd", r.SDBetween, 14/math.Sqrt2, 1e-12)
	flagged(t, r, season.FlagRepeatedMeasures, "n_small")
}

// Censored steady rates: never averaged as observed, a bound where nothing else is known.
func TestSteadyRateWithPlotsThatNeverRanOff(t *testing.T) {
	rows := plots("e", result.SteadyInfiltrationRate, 20, 25, 30, 60)
	rows[3].Censored = result.Right
	r := find(t, treatments(t, rows), "event:e", "bare", "mean")
	if !(r.Value.V > 33.75) { // the mean with 60 as if observed
		t.Errorf("mean %v is not above that with the bound taken for a value", r.Value.V)
	}
	if r.NCensored != 1 || r.Method != "censored_normal" || !(r.Low.V < r.Value.V && r.Value.V < r.High.V) {
		t.Errorf("row %+v", r)
	}

	for i := range rows {
		rows[i].Value.V, rows[i].Censored = 60, result.Right
	}
	for _, scope := range []string{"event:e", "all"} {
		r = find(t, treatments(t, rows), scope, "bare", "mean")
		near(t, "bound", r.Value, 60, 0)
		none(t, "low", r.Low)
		none(t, "high", r.High)
		flagged(t, r, season.FlagLowerBound, "all_censored")
	}
	one := find(t, treatments(t, rows[:1]), "event:e", "bare", "mean")
	flagged(t, one, season.FlagLowerBound, season.FlagOnePlot)

	rows[0].Censored, rows[0].Value.V = result.Observed, 20
	r = find(t, treatments(t, rows), "event:e", "bare", "mean")
	near(t, "bound of the mean of 20, 60, 60, 60", r.Value, 50, 0)
	flagged(t, r, season.FlagLowerBound, "few_observed")
	none(t, "low", r.Low)

	for i := range rows {
		rows[i].Censored = result.Left
	}
	r = find(t, treatments(t, rows), "event:e", "bare", "mean")
	flagged(t, r, season.FlagUpperBound)
	rows[1].Censored = result.Right
	r = find(t, treatments(t, rows), "event:e", "bare", "mean")
	none(t, "value", r.Value)
	flagged(t, r, "not_defined")
}

// An event that only bounds its mean is a censored value among events.
func TestBoundedEventAmongEvents(t *testing.T) {
	rows := append(plots("a", result.SteadyInfiltrationRate, 20, 24), plots("b", result.SteadyInfiltrationRate, 30, 34)...)
	dry := plots("c", result.SteadyInfiltrationRate, 60, 60)
	for i := range dry {
		dry[i].Censored = result.Right
	}
	r := find(t, treatments(t, append(rows, dry...)), "all", "bare", "mean")
	if !(r.Value.V > (22+32+60)/3.0) || !(r.High.V > 60) || r.Method != "censored_mean_of_events" {
		t.Errorf("row %+v", r)
	}
	if r.NCensored != 2 || r.NEvents != 3 {
		t.Errorf("%d censored in %d events", r.NCensored, r.NEvents)
	}
}
