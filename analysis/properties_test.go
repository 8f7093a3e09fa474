package analysis_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/analysis/simulate"
)

// partOf analyses one plot under one run of 30 min.
func partOf(t *rapid.T, intensityMMH float64, p experiment.Plot) analysis.Part {
	d, err := experiment.New(experiment.Parts{Name: "d", Errors: experiment.DefaultErrors(), Runs: []experiment.Run{
		{ID: "r", Event: "e", RainMin: 30, IntensityMMH: quantity.Some(intensityMMH), Plots: []experiment.Plot{p}}}})
	if err != nil {
		t.Fatal(err)
	}
	part, err := analysis.Dataset(t.Context(), d, nil, analysis.DefaultPlan())
	if err != nil {
		t.Fatal(err)
	}
	return part
}

func headline(t *rapid.T, part *analysis.Part, m result.Metric) *result.PlotRow {
	i := slices.IndexFunc(part.Plots, func(r result.PlotRow) bool { return r.Metric == m && r.Headline })
	if i < 0 {
		t.Fatalf("no row of %s", m)
	}
	return &part.Plots[i]
}

// Whatever is in the bottles, infiltration is rain minus runoff and keeps its sign: more water than
// fell makes it negative, with a flag, in the run and in every interval.
func TestInfiltrationKeepsItsSign(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := experiment.Plot{ID: "1", Treatment: "bare", AreaM2: rapid.Float64Range(0.2, 3).Draw(t, "area")}
		n := rapid.IntRange(1, 10).Draw(t, "bottles")
		for i := range n {
			p.Samples = append(p.Samples, experiment.Sample{StartMin: 30 * float64(i) / float64(n), EndMin: 30 * float64(i+1) / float64(n),
				VolumeML: quantity.Some(rapid.Float64Range(0, 60000/float64(n)).Draw(t, "mL"))})
		}
		part := partOf(t, 60, p)
		rain, q, f := headline(t, &part, result.RainDepth), headline(t, &part, result.RunoffDepth), headline(t, &part, result.InfiltrationDepth)
		if want := rain.Value.V - q.Value.V; math.Abs(f.Value.V-want) > 1e-9 {
			t.Fatalf("infiltration %v, rain minus runoff %v", f.Value.V, want)
		}
		if (f.Value.V < 0) != f.Flags.Has("negative") {
			t.Fatalf("infiltration %v with the flags %v", f.Value.V, f.Flags)
		}
		for _, s := range part.Hydrograph[0].Steps {
			if !s.InfiltrationMMH.OK || math.Abs(s.InfiltrationMMH.V-(s.IntensityMMH-s.RateMMH)) > 1e-9 {
				t.Fatalf("interval %+v", s)
			}
			if (s.InfiltrationMMH.V < 0) != s.Flag.Has("negative_infiltration") {
				t.Fatalf("infiltration %v with the flags %v", s.InfiltrationMMH.V, s.Flag)
			}
		}
	})
}

// Readings without noise make curves that never fall: runoff, and by the end of rain
// infiltration, of a soil whose capacity declines.
func TestNoiseFreeCurvesRise(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(t, name) }
		i := draw("intensity", 30, 120)
		var soil simulate.Capacity = simulate.Horton{F0: i * draw("f0", 0.5, 3), Fc: i * draw("fc", 0.05, 0.45), K: draw("k", 0.5, 30)}
		if rapid.Bool().Draw(t, "front") {
			soil = simulate.GreenAmpt{K: i * draw("K", 0.05, 0.8), PsiTheta: draw("psi", 2, 60)}
		}
		real := simulate.Plot{AreaM2: draw("area", 0.3, 2), Rain: simulate.ConstantRain(i, 30), Soil: soil, DepressionMM: draw("depression", 0, 3),
			ReservoirMin: draw("reservoir", 0, 1), RecessionMin: 5, ConcentrationGL: draw("c", 0, 40), ConcentrationEndGL: draw("end", 0, 40), DeclinePerH: draw("decline", 0, 8)}
		truth := real.Simulate()
		p := experiment.Plot{ID: "1", Treatment: "bare", AreaM2: real.AreaM2}
		for _, b := range truth.Collect(simulate.Schedule{N: rapid.IntRange(2, 20).Draw(t, "bottles"), RecessionMin: 5}, simulate.Instruments{}, rand.New(rand.NewPCG(1, 1))) {
			p.Samples = append(p.Samples, experiment.Sample{StartMin: b.StartMin, EndMin: b.EndMin, VolumeML: quantity.Some(b.VolumeML), SedimentG: quantity.Some(b.SedimentG)})
		}
		part := partOf(t, i, p)
		const rounding = 1e-9
		runoff := 0.0
		for _, s := range part.Hydrograph[0].Steps {
			if s.CumulativeMM < runoff-rounding || s.RateMMH < 0 {
				t.Fatalf("runoff falls from %v to %v mm at %v min", runoff, s.CumulativeMM, s.EndMin)
			}
			runoff = s.CumulativeMM
			if s.EndMin <= 30+rounding && s.InfiltrationMMH.V < -1e-6*i {
				t.Fatalf("infiltration falls by %v mm/h at %v min", s.InfiltrationMMH.V, s.EndMin)
			}
			if s.ConcentrationGL.OK && s.ConcentrationGL.V < 0 {
				t.Fatalf("concentration %v", s.ConcentrationGL.V)
			}
		}
		if q := headline(t, &part, result.RunoffDepth); math.Abs(q.Value.V-truth.RunoffMM) > 1e-6*(1+truth.RunoffMM) {
			t.Fatalf("runoff %v mm, in truth %v", q.Value.V, truth.RunoffMM)
		}
	})
}

// A plot of k times the area, with k times the water and sediment, has the same depths, rates,
// coefficients, concentrations and losses: none of them depends on the unit of area, volume or mass.
func TestValuesDoNotDependOnUnits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.SampledFrom([]float64{10.7639104, 1e-1, 4046.8564224 / 1000}).Draw(t, "unit")
		small := experiment.Plot{ID: "1", Treatment: "bare", AreaM2: 1, CoverPct: quantity.Some(0), Slope: quantity.Some(0.05)}
		large := small
		large.AreaM2 = k
		n := rapid.IntRange(2, 10).Draw(t, "bottles")
		for i := range n {
			s := experiment.Sample{StartMin: 30 * float64(i) / float64(n), EndMin: 30 * float64(i+1) / float64(n)}
			ml, g := rapid.Float64Range(50, 20000/float64(n)).Draw(t, "mL"), rapid.Float64Range(1, 40).Draw(t, "g")
			s.VolumeML, s.SedimentG = quantity.Some(ml), quantity.Some(g)
			small.Samples = append(small.Samples, s)
			s.VolumeML, s.SedimentG = quantity.Some(k*ml), quantity.Some(k*g)
			large.Samples = append(large.Samples, s)
		}
		a, b := partOf(t, 60, small), partOf(t, 60, large)
		for _, m := range []result.Metric{result.RunoffDepth, result.RunoffCoefficient, result.InfiltrationDepth, result.CurveNumber, result.FinalRunoffRate, result.PeakRunoffRate,
			result.SedimentConcentration, result.SoilLoss, result.SedimentRate, result.InterrillErodibility} {
			x, y := headline(t, &a, m), headline(t, &b, m)
			if x.Value.OK != y.Value.OK || math.Abs(x.Value.V-y.Value.V) > 1e-9*(1+math.Abs(x.Value.V)) {
				t.Fatalf("%s: %v and %v", m, x.Value, y.Value)
			}
		}
	})
}
