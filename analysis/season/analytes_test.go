package season_test

import (
	"math"
	"testing"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/analysis/season"
)

// Loads of 2, 8 and 0 mg in one event: the geometric mean of the two plots that ran off is 4 mg, the plain mean of all is
// 10/3 mg. A plot whose analyte has another unit leaves the statistics.
func TestAnalytesOfTreatments(t *testing.T) {
	row := func(plot string, v float64, unit string, words ...string) result.PlotRow {
		return result.PlotRow{Subject: &result.Subject{Dataset: "d", Event: "e", Run: "r", Plot: plot, Treatment: "bare"},
			Metric: result.AnalyteLoad("nitrate"), Method: "sum_of_bottles", Headline: true, Unit: unit, Level: 0.95,
			Estimate: result.Estimate{Value: quantity.Some(v), U: quantity.Some(0.1), UShared: quantity.Some(0), Censored: result.Observed, N: 1, Flags: words}}
	}
	rows := []result.PlotRow{row("1", 2, "mg"), row("2", 8, "mg"), row("3", 0, "mg", "no_runoff"), row("4", 700, "(ug/g).L")}
	out, err := season.Treatments(rows, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	found := map[string]float64{}
	for _, r := range out {
		if r.Scope == "event:e" {
			if r.Metric != result.AnalyteLoad("nitrate") || r.Unit != "mg" || r.Treatment != "bare" {
				t.Errorf("row %+v", r)
			}
			found[r.Statistic] = r.Value.V
		}
	}
	if math.Abs(found["geometric_mean"]-4) > 1e-12 || math.Abs(found["mean"]-10.0/3) > 1e-12 {
		t.Errorf("statistics %v", found)
	}
}
