package season_test

import (
	"math"
	"strings"
	"testing"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/analysis/season"
)

// on gives the rows of an event its day, crew and simulator.
func on(rows []result.PlotRow, day float64, crew, simulator string) []result.PlotRow {
	for i := range rows {
		s := *rows[i].Subject
		s.Day, s.Crew, s.Simulator = quantity.Some(day), crew, simulator
		rows[i].Subject = &s
	}
	return rows
}

// rowOf is the row of a scope that has a flag.
func rowOf(t *testing.T, rows []result.ComparisonRow, treatment, flag string) result.ComparisonRow {
	t.Helper()
	for _, r := range rows {
		if r.Scope == "all" && r.Treatment == treatment && r.Flags.Has(flag) {
			return r
		}
	}
	t.Fatalf("no row of %s with %s", treatment, flag)
	return result.ComparisonRow{}
}

// Differences 2, 3, 4, 5 at days 0, 30, 60, 90 of one plot of each: a line through them
// has the slope 1 in 30 days and no residuals, so no limits; with 2.1, 2.9, 4.1, 4.9 the slope is
// (3 (4.9 - 2.1) + (4.1 - 2.9))/10 = 0.96, residuals 0.04, -0.12, 0.12, -0.04, s² = 0.032/2, SE = sqrt(0.016/5) = 0.056569, t(2) = 4.302653.
func TestTrend(t *testing.T) {
	var exact, rows []result.PlotRow
	for e, d := range []float64{2.1, 2.9, 4.1, 4.9} {
		event, base := string(rune('a'+e)), 10+float64(e*e)
		rows = append(rows, on(append(of("bare", event, result.RunoffDepth, base), of("mulch", event, result.RunoffDepth, base+d)...), 30*float64(e), "amber", "t1")...)
		exact = append(exact, on(append(of("bare", event, result.RunoffDepth, base), of("mulch", event, result.RunoffDepth, base+float64(e)+2)...), 30*float64(e), "amber", "t1")...)
	}
	r := rowOf(t, compare(t, rows), "mulch", season.FlagTrend)
	if r.Method != "event_differences_line:per_30_days" || math.Abs(r.Value.V-0.96) > 1e-9 || math.Abs(r.High.V-r.Value.V-0.056569*4.302653) > 1e-5 || !r.Flags.Has("n_small") {
		t.Errorf("%+v", r)
	}
	if r := rowOf(t, compare(t, exact), "mulch", season.FlagTrend); math.Abs(r.Value.V-1) > 1e-9 || r.Low.OK && r.High.V-r.Low.V < 1e-12 {
		t.Errorf("width zero as knowledge: %+v", r)
	}
	for i := range rows {
		rows[i].Day = quantity.None()
	}
	if r := rowOf(t, compare(t, rows), "mulch", season.FlagTrend); r.Value.OK || !r.Flags.Has(season.FlagUndated) {
		t.Errorf("%+v", r)
	}
}

// Two crews with two events each, balanced: the difference of crews is that of the means of
// their events, 4, and its error that of events: means 11, 13 and 15, 17, pooled variance 2, SE = sqrt(2),
// two degrees of freedom where events differ more than their plots.
func TestCrews(t *testing.T) {
	var rows []result.PlotRow
	for e, mean := range []float64{11, 13, 15, 17} {
		event, crew := string(rune('a'+e)), "amber"
		if e > 1 {
			crew = "slate"
		}
		rows = append(rows, on(append(of("bare", event, result.RunoffDepth, mean-1.01, mean-0.99), of("mulch", event, result.RunoffDepth, mean+0.99, mean+1.01)...), float64(e), crew, "trailer of "+crew)...)
	}
	all := compare(t, rows)
	r := rowOf(t, all, "crew:slate", season.FlagBetweenCrews)
	if r.Reference != "crew:amber" || math.Abs(r.Value.V-4) > 1e-6 || math.Abs(r.High.V-4-4.302653*math.Sqrt2) > 2e-3 || !r.Flags.Has(season.FlagConfounded) {
		t.Errorf("%+v", r)
	}
	if r := rowOf(t, all, "simulator:trailer of slate", season.FlagBetweenSimulators); math.Abs(r.Value.V-4) > 1e-6 {
		t.Errorf("%+v", r)
	}
	// One event each: nothing to tell crews from events by.
	if r := rowOf(t, compare(t, rows[3:9]), "crew:slate", season.FlagBetweenCrews); r.Low.OK || len(r.Flags) < 2 {
		t.Errorf("%+v", r)
	}
}

// A pair of which all of one treatment ran off first, with a bound: flagged, finite, and no more sure than its p.
func TestHazardRatios(t *testing.T) {
	rows := append(of("bare", "e", result.TimeToRunoff, 3, 4, 5), of("mulch", "e", result.TimeToRunoff, 12, 20, 30)...)
	rows[5].Censored = result.Right
	found := false
	for _, r := range compare(t, rows) {
		if r.Effect != "hazard_ratio" || r.Scope != "all" {
			continue
		}
		found = true
		if !r.Flags.Has(season.FlagMonotone) || !(r.Value.V > 0 && r.Value.V < 1) || !(r.Low.V < r.Value.V) || !strings.HasPrefix(r.Method, "cox_firth:by_run") || !r.Beside() {
			t.Errorf("%+v", r)
		}
	}
	if !found {
		t.Error("no hazard ratio")
	}
	rows[5].Censored = result.Observed
	for _, r := range compare(t, rows) {
		if r.Effect == "hazard_ratio" {
			t.Errorf("of times without bounds: %+v", r)
		}
	}
}

// A named reference makes a family of many to one; one that analysis.yaml names may be missing.
func TestNamedReference(t *testing.T) {
	var rows []result.PlotRow
	for i, name := range []string{"bare", "ley", "mulch"} {
		rows = append(rows, of(name, "e", result.RunoffDepth, 10+float64(i), 12+float64(i), 13+float64(i))...)
	}
	for _, s := range []season.Settings{{Level: 0.95, Reference: "ley"}, {Level: 0.95, Preferred: "ley"}, {Level: 0.95, Reference: "ley", Preferred: "oak"}} {
		out, err := season.Comparisons(rows, s)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range out {
			if r.Reference != "ley" || !r.Flags.Has(season.FlagReferenceOnly) || r.Flags.Has(season.FlagReferenceDiffers) {
				t.Errorf("%+v", r)
			}
		}
	}
	out, err := season.Comparisons(rows, season.Settings{Level: 0.95, Preferred: "oak"})
	if err != nil || len(out) == 0 {
		t.Fatal(err)
	}
	for _, r := range out {
		if r.Reference != "bare" || !r.Flags.Has(season.FlagReferenceDiffers) {
			t.Errorf("%+v", r)
		}
	}
}
