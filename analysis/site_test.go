package analysis_test

import (
	"context"
	"testing"

	"sheetwash/analysis"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// Only a plot that was seen to stay dry has a lower bound of its steady rate. One
// of which nothing was read has no rate at all.
func TestSteadyRateOfUnreadPlots(t *testing.T) {
	some := quantity.Some
	dry := experiment.Sample{EndMin: 10, VolumeML: some(0)}
	lost := experiment.Sample{StartMin: 10, EndMin: 30, Flag: experiment.FlagLost}
	rest := experiment.Sample{StartMin: 10, EndMin: 30, VolumeML: some(0)}
	plots := []experiment.Plot{
		{ID: "dry", Treatment: "t", AreaM2: 1, Samples: []experiment.Sample{dry, rest}},
		{ID: "lost", Treatment: "t", AreaM2: 1, Samples: []experiment.Sample{dry, lost}},
		{ID: "nothing", Treatment: "t", AreaM2: 1},
		{ID: "seen", Treatment: "t", AreaM2: 1, Onset: experiment.OnsetNone},
	}
	d, err := experiment.New(experiment.Parts{Name: "d", Errors: experiment.DefaultErrors(), Runs: []experiment.Run{
		{ID: "r", Event: "e", RainMin: 30, IntensityMMH: some(60), Plots: plots}}})
	if err != nil {
		t.Fatal(err)
	}
	a, err := analysis.Analyze(context.Background(), []*experiment.Dataset{d}, analysis.DefaultPlan())
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]bool{"dry": true, "seen": true, "lost": false, "nothing": false}
	rows := 0
	for _, r := range a.Plots {
		if r.Metric != result.SteadyInfiltrationRate {
			continue
		}
		rows++
		if r.Value.OK != want[r.Plot] || r.Value.OK && (r.Value.V != 60 || r.Censored != result.Right) || !r.Value.OK && len(r.Flags) == 0 {
			t.Errorf("plot %s, %s: %+v", r.Plot, r.Method, r.Estimate)
		}
	}
	if rows != 8 {
		t.Errorf("%d rows, want two for each plot", rows)
	}
}
