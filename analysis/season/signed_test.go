package season_test

import (
	"testing"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/analysis/season"
)

// The closure of a water balance may be on either side of zero; a depth of runoff may not.
func TestIntervalBelowZero(t *testing.T) {
	var rows []result.PlotRow
	for _, m := range []result.Metric{result.BalanceClosure, result.RunoffDepth} {
		for i, v := range []float64{-0.4, 0.3, 0.5} {
			rows = append(rows, result.PlotRow{Subject: &result.Subject{Dataset: "d", Event: "e", Run: "r", Plot: string(rune('a' + i)), Treatment: "t"}, Metric: m,
				Method: "m", Headline: true, Unit: "mm", Level: 0.95,
				Estimate: result.Estimate{Value: quantity.Some(v), U: quantity.Some(0.5), UShared: quantity.Some(0.4), Censored: result.Observed}})
		}
	}
	out, err := season.Treatments(rows, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range out {
		if want := r.Metric == result.RunoffDepth; r.Flags.Has("interval_below_zero") != want {
			t.Errorf("%s of %s: flags %v", r.Metric, r.Scope, r.Flags)
		}
	}
}
