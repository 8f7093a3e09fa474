package analysis_test

import (
	"context"
	"math"
	"slices"
	"testing"

	"sheetwash/analysis"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// bottlesOf are bottles of 10 min with volumes, mL, and masses, g.
func bottlesOf(pairs ...[2]float64) []experiment.Sample {
	var out []experiment.Sample
	for i, p := range pairs {
		out = append(out, experiment.Sample{StartMin: float64(10 * i), EndMin: float64(10*i + 10), VolumeML: quantity.Some(p[0]), SedimentG: quantity.Some(p[1])})
	}
	return out
}

func analyseRuns(t *testing.T, plan analysis.Plan, runs ...experiment.Run) (*experiment.Dataset, map[string]result.PlotRow) {
	t.Helper()
	d, err := experiment.New(experiment.Parts{Name: "d", Errors: experiment.DefaultErrors(), Runs: runs})
	if err != nil {
		t.Fatal(err)
	}
	a, err := analysis.Analyze(context.Background(), []*experiment.Dataset{d}, plan)
	if err != nil {
		t.Fatal(err)
	}
	rows := map[string]result.PlotRow{}
	for _, r := range a.Plots {
		if r.Headline {
			rows[r.Run+"/"+r.Plot+" "+string(r.Metric)] = r
		}
	}
	return d, rows
}

// Losses of 40 g/m2 (bare, arable), 10 and 4 g/m2 (mulched, arable, cover 50 and 80 %), 2 g/m2 (meadow): the
// arable plots are set against the bare arable one, the meadow against it as well, said.
func TestSoilLossRatioWithinRun(t *testing.T) {
	some := quantity.Some
	plot := func(id, treatment, use string, cover, g float64) experiment.Plot {
		return experiment.Plot{ID: id, Treatment: treatment, LandUse: use, CoverPct: some(cover), AreaM2: 1,
			Samples: bottlesOf([2]float64{0, 0}, [2]float64{2000, g / 4}, [2]float64{4000, 3 * g / 4})}
	}
	run := experiment.Run{ID: "r", Event: "e", RainMin: 30, IntensityMMH: some(60), Plots: []experiment.Plot{
		plot("a", "ploughed", "arable", 0, 40), plot("b", "mulched", "arable", 50, 10), plot("c", "mulched", "arable", 80, 4), plot("d", "ley", "meadow", 95, 2)}}
	_, rows := analyseRuns(t, analysis.DefaultPlan(), run)
	for id, want := range map[string]float64{"b": 0.25, "c": 0.1, "d": 0.05} {
		if r := rows["r/"+id+" soil_loss_ratio"]; math.Abs(r.Value.V-want) > 1e-12 || r.Censored != result.Observed || r.Flags.Has("reference_other_land_use") != (id == "d") {
			t.Errorf("plot %s: %+v, want %v", id, r.Estimate, want)
		}
	}
	if r := rows["r/b cover_exponent"]; math.Abs(r.Value.V-math.Log(4)/50) > 1e-12 {
		t.Errorf("exponent %+v", r.Estimate)
	}
	if _, there := rows["r/a soil_loss_ratio"]; there {
		t.Error("the bare plot is set against itself")
	}
	plan := analysis.DefaultPlan()
	plan.Reference = "mulched"
	_, rows = analyseRuns(t, plan, run)
	if r := rows["r/a soil_loss_ratio"]; math.Abs(r.Value.V-40/7.0) > 1e-12 {
		t.Errorf("against the named treatment: %+v", r.Estimate)
	}
	run.Plots[0].Exclude = true
	if _, rows = analyseRuns(t, analysis.DefaultPlan(), run); len(rows) == 0 || rows["r/b soil_loss_ratio"].Value.OK {
		t.Error("a plot that was left out is a reference")
	}
}

// A gauge that reads a third of the rain makes all plots of its run impossible; a plot
// whose area is wrong only itself.
func TestFaultsWithinRun(t *testing.T) {
	some := quantity.Some
	plot := func(id string, ml float64) experiment.Plot {
		return experiment.Plot{ID: id, Treatment: "t", AreaM2: 1, Samples: bottlesOf([2]float64{ml, 1}, [2]float64{ml, 1}, [2]float64{ml, 1})}
	}
	_, rows := analyseRuns(t, analysis.DefaultPlan(),
		experiment.Run{ID: "gauge", Event: "e", RainMin: 30, IntensityMMH: some(20), Plots: []experiment.Plot{plot("a", 6000), plot("b", 5500)}},
		experiment.Run{ID: "one", Event: "e", RainMin: 30, IntensityMMH: some(60), Plots: []experiment.Plot{plot("a", 6000), plot("b", 14000)}})
	if f := rows["gauge/a balance_closure"].Flags; f.String() != "drainage_not_measured more_out_than_in suspect_gauge" {
		t.Errorf("all plots: %v", f)
	}
	if f := rows["one/b balance_closure"].Flags; f.String() != "drainage_not_measured more_out_than_in suspect_area suspect_funnel" {
		t.Errorf("one plot: %v", f)
	}
	if _, there := rows["one/a balance_closure"]; there {
		t.Error("a balance without anything to say has a row")
	}
}

// Every budget of a plot belongs to a row and makes its u, and every row that has a u from a model has one.
func TestBudgetsOfPlot(t *testing.T) {
	some := quantity.Some
	p := experiment.Plot{ID: "p", Treatment: "t", AreaM2: 0.5, Slope: some(0.04), CoverPct: some(60), Samples: bottlesOf([2]float64{500, 4}, [2]float64{3000, 20}, [2]float64{5000, 25}),
		Storage: &experiment.SoilWaterGain{SoilBeforeG: some(40000), SoilAfterG: some(45000)}}
	for i := range p.Samples {
		p.Samples[i].Analytes = []experiment.Analyte{{Name: "n", Value: float64(3 - i), Unit: "mg/L"}}
	}
	p.Samples = append(p.Samples, experiment.Sample{Stream: experiment.Drainage, EndMin: 40, VolumeML: some(400)})
	bare := experiment.Plot{ID: "b", Treatment: "bare", AreaM2: 0.5, CoverPct: some(3), Samples: bottlesOf([2]float64{2000, 40}, [2]float64{3000, 60}, [2]float64{6000, 90})}
	d, _ := analyseRuns(t, analysis.DefaultPlan(), experiment.Run{ID: "r", Event: "e", RainMin: 30, IntensityMMH: some(60), Plots: []experiment.Plot{bare, p}})
	a, err := analysis.Analyze(context.Background(), []*experiment.Dataset{d}, analysis.DefaultPlan())
	if err != nil {
		t.Fatal(err)
	}
	budgets, ok, err := analysis.Budgets(d, "r", "p", nil, analysis.DefaultPlan())
	if err != nil || !ok || len(budgets) < 22 {
		t.Fatalf("%d budgets, %v, %v", len(budgets), ok, err)
	}
	for _, b := range budgets {
		found := false
		for _, r := range a.Plots {
			if r.Plot == "p" && r.Metric == b.Metric && r.Method == b.Method {
				found = true
				if math.Abs(r.U.V-b.U) > 1e-6*r.U.V || !b.Simulated && math.Abs(b.InQuadrature()-r.U.V) > 2e-3*r.U.V || math.Abs(b.Value-r.Value.V) > 1e-9*math.Abs(r.Value.V) {
					t.Errorf("%s by %s: %v with u %v, lines make %v; row %v with %v", b.Metric, b.Method, b.Value, b.U, b.InQuadrature(), r.Value.V, r.U.V)
				}
			}
		}
		if !found {
			t.Errorf("no row of %s by %s", b.Metric, b.Method)
		}
	}
	e, err := analysis.NewExplainer(context.Background(), d, nil, analysis.DefaultPlan())
	if err != nil {
		t.Fatal(err)
	}
	for i := range a.Plots {
		r := &a.Plots[i]
		told := slices.IndexFunc(budgets, func(b result.Budget) bool { return r.Plot == "p" && b.Metric == r.Metric && b.Method == r.Method })
		if n, err := e.Explain(r.Key()); told >= 0 && (err != nil || n.Budget == nil || n.Budget.U != budgets[told].U || len(n.Budget.Lines) == 0 || len(n.Budget.Lines) > len(budgets[told].Lines)) {
			t.Errorf("%s: explain has the budget %+v, %v", r.Key(), n.Budget, err)
		}
	}
	without := map[result.Metric]bool{result.TimeToRunoff: true, result.SteadyInfiltrationRate: true, result.SedimentFluxExponent: true,
		result.KineticEnergy: true, result.Erosivity: true}
	for _, r := range a.Plots {
		told := slices.ContainsFunc(budgets, func(b result.Budget) bool { return b.Metric == r.Metric && b.Method == r.Method })
		if r.Plot == "p" && r.U.OK && r.Headline && !told && !without[r.Metric] {
			t.Errorf("%s by %s has a u and no budget", r.Metric, r.Method)
		}
	}
	if _, ok, _ := analysis.Budgets(d, "r", "q", nil, analysis.DefaultPlan()); ok {
		t.Error("budgets of a plot that does not exist")
	}
}
