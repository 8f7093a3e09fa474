package report_test

import (
	"fmt"
	"math"
	"math/rand/v2"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

// sample is an analysis with a row of every kind that matters to a writer: text
// that needs quotes or a guard, missing numbers, censored values, every unit.
func sample() *result.Analysis {
	some := quantity.Some
	return &result.Analysis{
		Findings: []result.Finding{
			{Dataset: "pell-farm", Code: "cell.not_a_number", Severity: "error", File: "samples.csv", Table: "samples", Row: 7, Column: "volume [mL]", Value: "=12", Message: "not a number, \"=12\": write digits"},
			{Dataset: "pell-farm", Code: "unit.assumed", Severity: "note", Message: "minutes were assumed"},
		},
		Hydrograph: []result.Course{{Dataset: "pell-farm", Run: "PF-1", Plot: "1", Stream: "runoff", Steps: []result.Step{
			{StartMin: 0, EndMin: 5.5, VolumeML: 740, RateMMH: 16.145454545454545, URateMMH: 0.1, CumulativeMM: 1.48, IntensityMMH: 76.2, InfiltrationMMH: some(60.05), ConcentrationGL: some(2.5)},
			{StartMin: 5.5, EndMin: 10, VolumeML: math.NaN(), RateMMH: math.NaN(), URateMMH: math.NaN(), CumulativeMM: math.Inf(1), IntensityMMH: 76.2, Flag: result.Flags{"gap", "interpolated"}},
		}}},
		Plots: []result.PlotRow{
			{Subject: &result.Subject{Dataset: "pell-farm", Season: "2031", Event: "Pell Farm", Run: "PF-1", Plot: "1", Treatment: "potato ridges, bare"}, Metric: result.TimeToRunoff, Method: "observed", Headline: true, Unit: "min", Level: 0.95, Estimate: result.Estimate{Value: some(5.25), U: some(5.0 / 60), Low: some(5.1), High: some(5.4), N: 1}},
			{Subject: &result.Subject{Dataset: "pell-farm", Season: "2031", Event: "Pell Farm", Run: "PF-1", Plot: "1", Treatment: "potato ridges, bare"}, Metric: result.SteadyInfiltrationRate, Method: "horton", Headline: true, Unit: "mm/h", Level: 0.95, Estimate: result.Estimate{Value: some(25.4), U: some(2.54), Low: some(20.32), High: some(30.48), N: 8}},
			{Subject: &result.Subject{Dataset: "pell-farm", Event: "Pell Farm", Run: "PF-1", Plot: "2", Treatment: "-ley", Block: "B1"}, Metric: result.SteadyInfiltrationRate, Method: "bound", Unit: "mm/h", Level: 0.95, Estimate: result.Estimate{Value: some(76.2), Censored: result.Right, Flags: result.Flags{"lower_bound"}}},
			{Subject: &result.Subject{Dataset: "pell-farm", Event: "Pell Farm", Run: "PF-1", Plot: "2", Treatment: "-ley"}, Metric: result.SoilLoss, Method: "sum", Unit: "g/m2", Level: 0.95, Estimate: result.Estimate{Flags: result.Flags{"pending"}}},
			{Subject: &result.Subject{Dataset: "pell-farm", Event: "Pell Farm", Run: "PF-1", Plot: "3", Treatment: "oak-wood litter"}, Metric: result.SoilLoss, Method: "sum", Unit: "g/m2", Level: 0.95, Estimate: result.Estimate{Value: some(224.17023), U: some(1e-7), N: 4}},
		},
		Fits: []result.FitRow{
			{Dataset: "pell-farm", Run: "PF-1", Plot: "1", Model: "horton", Parameter: "fc", Value: some(25.4), Unit: "mm/h", U: some(0.254), RSS: some(4.5), N: 8, AICc: some(-3.25), Weight: some(1), Converged: true},
			{Dataset: "pell-farm", Run: "PF-1", Plot: "1", Model: "horton", Parameter: "k", Value: some(9), Unit: "/h", RSS: some(4.5), N: 8, Converged: true},
		},
		Treatments: []result.TreatmentRow{
			{Scope: "all", Treatment: "potato ridges, bare", Metric: result.RainDepth, Statistic: "mean", Headline: true, Value: some(50.8), Unit: "mm", Low: some(50), High: some(51.6), Level: 0.95, Method: "t", NPlots: 3, NEvents: 2, SDBetween: some(2.54), UMeasurement: some(0.254)},
			{Scope: "all", Treatment: "potato ridges, bare", Metric: result.SoilLoss, Statistic: "geometric_mean", Headline: true, Value: some(224.17023), Unit: "g/m2", Level: 0.95, Method: "lognormal", NPlots: 3, NEvents: 2, SDBetween: some(0.5), UMeasurement: some(0.01)},
		},
		Comparisons: []result.ComparisonRow{
			{Scope: "all", Metric: result.RunoffDepth, Treatment: "a", Reference: "b", Effect: "difference", Value: some(-12.7), Unit: "mm", Level: 0.95, P: some(0.0001), Method: "t"},
			{Scope: "all", Metric: result.RunoffDepth, Treatment: "a", Reference: "b", Effect: "ratio", Value: some(0.5), Unit: "1", Level: 0.95, Method: "t"},
		},
		Calibrations: []result.CalibrationRow{
			{Dataset: "pell-farm", Calibration: "C-1", Simulator: "trailer-1", Date: "2031-05-13", Metric: result.Intensity, Value: some(76.2), Unit: "mm/h", Level: 0.95, N: 15},
		},
	}
}

// many is an analysis with n intervals and as many plot rows, with numbers of
// full precision.
func many(n int) *result.Analysis {
	random := rand.New(rand.NewPCG(1, 2))
	number := func() quantity.Optional {
		if random.IntN(10) == 0 {
			return quantity.None()
		}
		return quantity.Some(100 * random.NormFloat64())
	}
	plain := func() float64 {
		if o := number(); o.OK {
			return o.V
		}
		return math.NaN()
	}
	a := &result.Analysis{}
	catalogue := result.Catalogue()
	for i := range n {
		plot := fmt.Sprint(i / 30)
		if i%30 == 0 {
			a.Hydrograph = append(a.Hydrograph, result.Course{Dataset: "day", Run: "R-1", Plot: plot, Stream: "runoff"})
		}
		course := &a.Hydrograph[len(a.Hydrograph)-1]
		course.Steps = append(course.Steps, result.Step{StartMin: float64(i % 30), EndMin: float64(i%30 + 1),
			VolumeML: plain(), RateMMH: plain(), URateMMH: plain(), CumulativeMM: plain(), IntensityMMH: 70, InfiltrationMMH: number(), ConcentrationGL: number()})
		m := catalogue[i%len(catalogue)]
		a.Plots = append(a.Plots, result.PlotRow{Subject: &result.Subject{Dataset: "day", Season: "2031", Event: "Pell Farm", Run: "R-1", Plot: plot, Treatment: "meadow fescue ley"}, Metric: m.ID, Method: "sum", Unit: m.SI, Level: 0.95,
			Estimate: result.Estimate{Value: number(), U: number(), Low: number(), High: number(), N: i % 12}})
	}
	return a
}
