package analysis_test

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"sheetwash/analysis"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/rainfall"
	"sheetwash/analysis/result"
)

// Whatever bottles a crew has caught, weighed, lost, spilled or noted twice, and
// whatever a logger wrote, every row has a derivation that gives its value.
func TestExplainWhateverWasCaught(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		run := drawRun(t)
		d, err := experiment.New(experiment.Parts{Name: "d", Errors: experiment.DefaultErrors(), Runs: []experiment.Run{run}, Cans: drawCans(t)})
		if err != nil {
			t.Fatal(err)
		}
		explainAll(t, d)
	})
}

// explainAll explains every row of a dataset and of its season.
func explainAll(t interface {
	Fatal(...any)
	Errorf(string, ...any)
}, d *experiment.Dataset) {
	calibrations := rainfall.Calibrations("d", d.Cans())
	e, err := analysis.NewExplainer(context.Background(), d, calibrations, analysis.DefaultPlan())
	if err != nil {
		t.Fatal(err)
	}
	for i, key := range e.Part().Keys() {
		if strings.HasPrefix(key, result.TableHydrograph) && i%7 > 0 {
			continue // they are many and alike
		}
		if _, err := e.Explain(key); err != nil {
			t.Errorf("%v", err)
		}
	}
	f, err := analysis.NewFolded([]analysis.Part{*e.Part()}, analysis.DefaultPlan())
	if err != nil {
		t.Fatal(err)
	}
	for _, key := range f.Keys() {
		if _, err := f.Explain(key); err != nil {
			t.Errorf("%v", err)
		}
	}
}

func drawRun(t *rapid.T) experiment.Run {
	run := experiment.Run{
		ID: "r", Event: "e", RainMin: 20, Started: time.Date(2031, 5, 2, 9, 0, 0, 0, time.UTC),
		WaterTempC: maybe(t, "water", 5, 45), SubtractBlank: rapid.Bool().Draw(t, "blanks"), DissolvedGL: maybe(t, "dissolved", 0, 0.5),
		Blanks: []experiment.Sample{{Stream: experiment.Blank, SedimentG: quantity.Some(0.02)}, {Stream: experiment.Blank, SedimentGrossG: quantity.Some(1.03), SedimentTareG: quantity.Some(1)}},
		Place:  experiment.Place{File: "runs.csv", Row: 2},
	}
	if rapid.Bool().Draw(t, "stated") {
		run.IntensityMMH = quantity.Some(60)
	} else if rapid.Bool().Draw(t, "gauge") {
		run.Series = []experiment.Series{drawSeries(t, rapid.SampledFrom([]experiment.Channel{experiment.RainRate, experiment.RainDepth}).Draw(t, "rain"), 20)}
	}
	for _, id := range []string{"1", "2", "3"} {
		p := experiment.Plot{
			ID: id, Treatment: []string{"bare", "ley"}[len(run.Plots)%2], AreaM2: 0.5, Position: "P" + id, Slope: maybe(t, "slope", 0, 0.3), CoverPct: maybe(t, "cover", 0, 90),
			InitialWaterPct: maybe(t, "initial", 10, 30), PondingMin: maybe(t, "ponding", 1, 10), Place: experiment.Place{File: "plots.csv", Row: int64(len(run.Plots) + 2)},
		}
		switch rapid.IntRange(0, 2).Draw(t, "onset") {
		case 1:
			p.Onset, p.OnsetMin = experiment.OnsetNoted, rapid.Float64Range(0, 22).Draw(t, "at")
		case 2:
			p.Onset = experiment.OnsetNone
		}
		if rapid.Bool().Draw(t, "storage") {
			p.Storage = &experiment.SoilWaterGain{FinalWaterPct: quantity.Some(35), SoilDepthMM: quantity.Some(200), SoilBeforeG: quantity.Some(4e4), SoilAfterG: quantity.Some(4.4e4),
				GravimetricBeforePct: quantity.Some(12), GravimetricAfterPct: quantity.Some(19), BulkDensityGCM3: quantity.Some(1.3), EdgeLossML: quantity.Some(40)}
		}
		p.Samples = drawSamples(t)
		if rapid.IntRange(0, 2).Draw(t, "logger") == 0 {
			p.Series = append(p.Series, drawSeries(t, rapid.SampledFrom([]experiment.Channel{
				experiment.RunoffMass, experiment.RunoffVolume, experiment.RunoffRate, experiment.DrainageMass, experiment.Concentration, experiment.SoilWater,
			}).Draw(t, "channel"), 24))
		}
		run.Plots = append(run.Plots, p)
	}
	return run
}

// maybe is a number between two, or none.
func maybe(t *rapid.T, name string, low, high float64) quantity.Optional {
	if rapid.Bool().Draw(t, "no "+name) {
		return quantity.None()
	}
	return quantity.Some(rapid.Float64Range(low, high).Draw(t, name))
}

// drawSamples are bottles with gaps, overlaps, remarks and every kind of reading.
func drawSamples(t *rapid.T) []experiment.Sample {
	var out []experiment.Sample
	at := rapid.Float64Range(0, 4).Draw(t, "first")
	for i := range rapid.IntRange(0, 8).Draw(t, "bottles") {
		length := rapid.Float64Range(0.3, 6).Draw(t, "length")
		s := experiment.Sample{
			Stream:   rapid.SampledFrom([]experiment.Stream{experiment.Runoff, experiment.Runoff, experiment.Runoff, experiment.Drainage, experiment.Splash}).Draw(t, "stream"),
			Flag:     rapid.SampledFrom([]experiment.Flag{experiment.FlagOK, experiment.FlagOK, experiment.FlagOK, experiment.FlagOverflow, experiment.FlagLost, experiment.FlagTrace, experiment.FlagLeak}).Draw(t, "flag"),
			StartMin: at, EndMin: at + length, Exclude: rapid.IntRange(0, 9).Draw(t, "exclude") == 0, TurbidityNTU: maybe(t, "turbidity", 50, 900),
			Place: experiment.Place{File: "samples.csv", Row: int64(i + 2)},
		}
		ml := float64(rapid.IntRange(0, 9000).Draw(t, "tenths of ml")) / 10 // no cylinder reads less
		switch rapid.IntRange(0, 3).Draw(t, "water") {
		case 0, 1:
			s.VolumeML = quantity.Some(ml)
		case 2:
			s.GrossG, s.TareG = quantity.Some(60+ml), quantity.Some(60)
		}
		switch rapid.IntRange(0, 4).Draw(t, "sediment") {
		case 0, 1:
			s.SedimentG = quantity.Some(ml * 0.004)
		case 2:
			s.SedimentGrossG, s.SedimentTareG = quantity.Some(20+ml*0.003), quantity.Some(20)
		case 3:
			s.ConcentrationGL = quantity.Some(3)
		}
		if rapid.Bool().Draw(t, "nitrate") {
			s.Analytes = []experiment.Analyte{{Name: "nitrate", Value: 4, Unit: "ug/mL"}}
		}
		out = append(out, s)
		at += length + rapid.SampledFrom([]float64{0, 0, 0, 0.02, 1.5, -0.4}).Draw(t, "then")
		at = math.Max(at, 0)
	}
	return out
}

// drawSeries is a channel in bins of 5 or 60 s: a total or a rate with noise, gaps
// and a container that may be emptied.
func drawSeries(t *rapid.T, c experiment.Channel, last float64) experiment.Series {
	s := experiment.Series{Channel: c, BinMin: rapid.SampledFrom([]float64{1.0 / 12, 1}).Draw(t, "bin"), Place: experiment.Place{File: "readings.csv", Row: 2}}
	emptied := rapid.Float64Range(0, 2*last).Draw(t, "emptied")
	gap := rapid.Float64Range(0, 2*last).Draw(t, "gap")
	per := rapid.Float64Range(0, 300).Draw(t, "per minute")
	total := 0.0
	for i := range int32(last / s.BinMin) {
		at := float64(i) * s.BinMin
		total += per * s.BinMin * math.Min(1, at/8)
		if at < emptied && at+s.BinMin >= emptied {
			total = 0
		}
		if at > gap && at < gap+2.5 {
			continue
		}
		v := total
		if !c.Cumulative() {
			v = math.Min(60, per*math.Min(1, at/8))
		}
		const within = 0.4
		s.Bins = append(s.Bins, experiment.Bin{Index: i, N: 2, SumT: 2 * within * s.BinMin, SumV: 2 * v, SumTT: 2 * within * within * s.BinMin * s.BinMin, SumTV: 2 * v * within * s.BinMin})
		if s.N == 0 {
			s.FirstMin, s.First = at+within*s.BinMin, v
		}
		s.N, s.LastMin, s.Last = s.N+2, at+within*s.BinMin, v
	}
	return s
}

// drawCans is a calibration with or without positions and coordinates.
func drawCans(t *rapid.T) []experiment.Can {
	positions, places := rapid.Bool().Draw(t, "positions"), rapid.Bool().Draw(t, "coordinates")
	var out []experiment.Can
	for i := range rapid.IntRange(1, 9).Draw(t, "cans") {
		c := experiment.Can{Calibration: "c", Date: time.Date(2031, 5, 1, 0, 0, 0, 0, time.UTC), DepthMM: rapid.Float64Range(5, 30).Draw(t, "depth"), DurationMin: 15,
			PressureKPa: quantity.Some(48), Place: experiment.Place{File: "cans.csv", Row: int64(i + 2)}}
		if positions {
			c.Position = []string{"P1", "P2", "P3"}[i%3]
		}
		if places {
			c.XCM, c.YCM = quantity.Some(rapid.Float64Range(0, 200).Draw(t, "x")), quantity.Some(rapid.Float64Range(0, 100).Draw(t, "y"))
		}
		out = append(out, c)
	}
	return out
}

func TestExplainUnknownKey(t *testing.T) {
	d, _ := analyseRuns(t, analysis.DefaultPlan(), experiment.Run{ID: "r", Event: "e", RainMin: 20, IntensityMMH: quantity.Some(60),
		Plots: []experiment.Plot{{ID: "1", Treatment: "ley", AreaM2: 1, Samples: bottlesOf([2]float64{10, 1}, [2]float64{20, 1})}}})
	_, err := analysis.Explain(context.Background(), d, nil, analysis.DefaultPlan(), "plot_results/d/r/1/runof_depth/bottles")
	var unknown *analysis.Unknown
	if !errors.Is(err, analysis.ErrNoRow) || !errors.As(err, &unknown) || len(unknown.Nearest) == 0 || unknown.Nearest[0] != "plot_results/d/r/1/runoff_depth/bottles" {
		t.Errorf("an unknown key: %v, %+v", err, unknown)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := analysis.Explain(ctx, d, nil, analysis.DefaultPlan(), "plot_results/d/r/1/runoff_depth/bottles"); !errors.Is(err, context.Canceled) {
		t.Errorf("a context that is done: %v", err)
	}
}
