package erosion_test

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis/analysistest"
	"sheetwash/analysis/erosion"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/analysis/water"
)

func TestWorkedExamples(t *testing.T) {
	for quantity, f := range map[string]func(slope float64) float64{
		"interrill_slope_factor": erosion.InterrillSlopeFactor, "slope_steepness": erosion.SlopeSteepness, "slope_steepness_short": erosion.SlopeSteepnessShort,
	} {
		for _, e := range analysistest.Examples(t, quantity) {
			e.Check(t, f(e.Number(t, "slope_pct")/100), nil)
		}
	}
	for _, e := range analysistest.Examples(t, "cover_ratio") {
		e.Check(t, erosion.CoverRatio(e.Number(t, "b_per_pct"), e.Number(t, "cover_pct")), nil)
	}
	for _, e := range analysistest.Examples(t, "ki_from_intensity") {
		k, ok := erosion.ErodibilityOfRain(e.Number(t, "d_kg_m2_s"), e.Number(t, "i_mm_h"), e.Number(t, "slope_pct")/100)
		if !ok {
			t.Error("no value")
		}
		e.Check(t, k, nil)
	}
	for _, e := range analysistest.Examples(t, "suspension_concentration_g_L") {
		rho, err := water.Density(20)
		c, _ := water.Suspension{WaterG: e.Number(t, "water_g"), SedimentG: e.Number(t, "dry_sediment_g"), WaterKgM3: rho}.PerLSuspension()
		e.Check(t, c, err)
	}
	if _, ok := erosion.ErodibilityOfRain(1, 0, 0.05); ok {
		t.Error("an erodibility without rain")
	}
	if _, ok := erosion.ErodibilityOfFlow(1, 60, 0, 0.05); ok {
		t.Error("an erodibility by flow without flow")
	}
}

// late is the last 10 min of a run of 30 min at 60 mm/h, 3 % of them shared.
func late(in *erosion.Input) {
	in.Late = erosion.Late{StartMin: 20, EndMin: 30, IntensityMMH: 60, UShared: 1.8}
	in.Plot.Slope, in.Plot.CoverPct = quantity.Some(0.05), quantity.Some(0)
}

// 45 g in 3 L in the last 10 min on 2 m2: D = 45 / 1000 / 2 / 600 = 3.75e-5 kg/(m2 s); I = 1/60000 m/s; Sf =
// 0.353905: Ki = 3.75e-5 x 3.6e9 / 0.353905 = 381458; by flow q = 9 mm/h, 60/9 times as much.
// u(ln Ki)^2 of the first form: sediment (0.01/45)^2, twice 3 % of rain, slope 0.0025 x 4 x 0.85 x 0.818935
// x 0.996 / 0.353905 = 0.019595, 1 s twice in 10 min and 0.5 % of area: 0.0636.
func TestErodibility(t *testing.T) {
	three := []erosion.Flow{flow(0, 10, 1000), flow(10, 20, 2000), flow(20, 30, 3000)}
	in := input(three, dry(0, 10, 5), dry(10, 20, 20), dry(20, 30, 45))
	late(&in)
	s := erosion.Of(in)
	near(t, "Ki", s.ErodibilityOfRain.Value.V, 381458, 2)
	near(t, "Ki by flow", s.ErodibilityOfFlow.Value.V, 381458*60/9.0, 10)
	near(t, "relative u", s.ErodibilityOfRain.U.V/s.ErodibilityOfRain.Value.V, math.Sqrt(0.0036+0.019595*0.019595+math.Pow(math.Sqrt2/600, 2)+0.005*0.005), 3e-4)
	near(t, "relative u by flow", s.ErodibilityOfFlow.U.V/s.ErodibilityOfFlow.Value.V, math.Sqrt(0.0009+0.019595*0.019595+0.005*0.005), 3e-4)
	near(t, "shared", s.ErodibilityOfRain.UShared.V/s.ErodibilityOfRain.Value.V, 0.06, 1e-3)
	if len(s.ErodibilityOfRain.Flags) > 0 {
		t.Errorf("flags %v", s.ErodibilityOfRain.Flags)
	}
	rows := s.AppendRows(nil, result.PlotRow{Level: 0.95})
	if len(rows) != 9 || rows[7].Method != erosion.MethodRainSquared || !rows[7].Headline || rows[8].Headline {
		t.Errorf("rows %+v", rows[6:])
	}
	pooled := input(three, dry(0, 30, 60))
	late(&pooled)
	pooled.Plot.CoverPct = quantity.Some(40)
	s = erosion.Of(pooled)
	if f := s.ErodibilityOfRain.Flags; !slices.Equal(f, result.Flags{"cover_factor_included", "pool_wider_than_window"}) {
		t.Errorf("flags %v", f)
	}
	near(t, "Ki of a pool", s.ErodibilityOfRain.Value.V, 381458*30/45.0, 2)
	none := input([]erosion.Flow{flow(0, 30, 0)})
	none.NoRunoff = true
	late(&none)
	none.Plot.CoverPct = quantity.None()
	s = erosion.Of(none)
	if e := s.ErodibilityOfRain; !e.Value.OK || e.Value.V != 0 || !e.Flags.Has("cover_not_noted") || s.ErodibilityOfFlow.Value.OK {
		t.Errorf("a plot that never ran off: %+v", e)
	}
	early := input([]erosion.Flow{flow(0, 10, 1000)}, dry(0, 10, 5))
	late(&early)
	if s := erosion.Of(early); !s.ErodibilityOfRain.Flags.Has("no_interval_by_rain_end") {
		t.Errorf("nothing late: %+v", s.ErodibilityOfRain)
	}
}

func estimateOf(v, u float64) result.Estimate {
	return result.Estimate{Value: quantity.Some(v), U: quantity.Some(u), Censored: result.Observed}
}

// 5 over the mean of 40 and 60 g/m2: 0.1. u(ln) = sqrt((0.1/5)^2 + (sqrt(0.8^2 + 0.6^2)/2/50)^2) = sqrt(0.0004 + 0.0001) =
// 0.0223607; b = -ln 0.1 / 80 = 0.0287823 per percent.
func TestSoilLossRatio(t *testing.T) {
	bare := []result.Estimate{estimateOf(40, 0.8), estimateOf(60, 0.6), {}}
	e := erosion.SoilLossRatio(estimateOf(5, 0.1), bare, 0.95)
	near(t, "ratio", e.Value.V, 0.1, 1e-12)
	near(t, "u", e.U.V, 0.00223607, 1e-6)
	near(t, "shared", e.UShared.V, 0.001, 1e-6)
	near(t, "low", e.Low.V, 0.1*math.Exp(-1.959964*0.0223607), 1e-6)
	near(t, "high", e.High.V, 0.1*math.Exp(1.959964*0.0223607), 1e-6)
	b := erosion.CoverExponent(e, 80, 0, 100, 0.95)
	near(t, "b", b.Value.V, 0.0287823, 1e-7)
	// 80 % counted at 100 points has u = 4 %; none is exact.
	near(t, "u(b)", b.U.V, math.Hypot(0.0223607/80, 0.0287823*4/80), 1e-7)
	for name, tt := range map[string]struct {
		loss result.Estimate
		bare []result.Estimate
		flag string
	}{
		"no bare plot":          {estimateOf(5, 0.1), nil, "reference_missing"},
		"bare plot near zero":   {estimateOf(5, 0.1), []result.Estimate{estimateOf(0.1, 0.09)}, "reference_near_zero"},
		"loss not yet known":    {result.Estimate{Flags: result.Flags{"pending"}}, bare, "pending"},
		"overflow on both ends": {bound(5), []result.Estimate{bound(50)}, "not_defined"},
	} {
		if e := erosion.SoilLossRatio(tt.loss, tt.bare, 0.95); e.Value.OK || !e.Flags.Has(tt.flag) {
			t.Errorf("%s: %+v", name, e)
		}
	}
	if e := erosion.SoilLossRatio(bound(5), bare, 0.95); e.Censored != result.Right || e.High.OK {
		t.Errorf("a jar ran over: %+v", e)
	}
	up := erosion.SoilLossRatio(estimateOf(5, 0.1), []result.Estimate{bound(50)}, 0.95)
	if up.Censored != result.Left || up.Low.OK {
		t.Errorf("the bare plot's jar ran over: %+v", up)
	}
	if b := erosion.CoverExponent(up, 80, 0, 100, 0.95); b.Censored != result.Right || b.High.OK {
		t.Errorf("an exponent of an upper bound: %+v", b)
	}
	zero := estimateOf(0, 0)
	zero.Flags = result.Flags{"no_runoff"}
	if e := erosion.SoilLossRatio(zero, bare, 0.95); e.Value.V != 0 || e.Low.V != 0 || !e.Flags.Has("no_runoff") {
		t.Errorf("nothing ran off: %+v", e)
	} else if b := erosion.CoverExponent(e, 80, 0, 100, 0.95); b.Value.OK || !b.Flags.Has("not_defined") {
		t.Errorf("an exponent of zero: %+v", b)
	}
	if e := erosion.SoilLossRatio(estimateOf(0.02, 0.05), bare, 0.95); e.Low.V != 0 || !(e.High.V > 0.0015) {
		t.Errorf("a non-detect: %+v", e)
	}
	if b := erosion.CoverExponent(e, 5, 0, 100, 0.95); b.Value.OK || !b.Flags.Has("no_cover_contrast") {
		t.Errorf("like covers: %+v", b)
	}
}

func bound(v float64) result.Estimate {
	e := estimateOf(v, 0.1)
	e.Censored = result.Right
	return e
}

// ratingPairs lie on C = 0.01 T^1.1 with residuals +-0.1 in the logarithm, whose signs
// neither shift nor turn the line: +, -, -, + about equal steps of ln T, twice.
func ratingPairs() []erosion.Pair {
	var out []erosion.Pair
	for i, sign := range []float64{1, -1, -1, 1, 1, -1, -1, 1} {
		ntu := 100 * math.Pow(2, float64(i))
		out = append(out, erosion.Pair{NTU: ntu, GL: 0.01 * math.Pow(ntu, 1.1) * math.Exp(0.1*sign)})
	}
	return out
}

// The residuals of +, -, -, +, +, -, -, + are orthogonal to a straight line over equal steps (sum of sign x step
// = 0), so that b = 1.1 exactly, SD = sqrt(8 x 0.01 / 6) = 0.115470, and the smearing factor is cosh 0.1 = 1.0050042.
func TestRating(t *testing.T) {
	r := erosion.FitRating(ratingPairs())
	near(t, "b", r.B, 1.1, 1e-12)
	near(t, "SD", r.SD, 0.1154701, 1e-6)
	near(t, "smear", r.Smear, 1.0050042, 1e-7)
	c, low, high, flag := r.Concentration(1000, 0.95)
	near(t, "C(1000)", c, math.Cosh(0.1)*0.01*math.Pow(1000, 1.1), 1e-9)
	// m = ln(100) + 3.5 ln 2, Sxx = 42 (ln 2)^2 = 20.1789, t(6) = 2.446912.
	d := math.Log(1000) - math.Log(100) - 3.5*math.Ln2
	near(t, "high", math.Log(high/c), 2.446912*0.1154701*math.Sqrt(1.125+d*d/20.1789), 1e-5)
	near(t, "symmetric in the logarithm", low*high, c*c, 1e-6)
	if flag != "" {
		t.Error(flag)
	}
	for name, tt := range map[string]struct {
		r    *erosion.Rating
		ntu  float64
		flag string
	}{
		"no rating": {nil, 500, "rating_too_few"}, "five pairs": {erosion.FitRating(ratingPairs()[:5]), 500, "rating_too_few"},
		"below": {r, 99, "rating_out_of_range"}, "above": {r, 1e6, "rating_out_of_range"},
		"one turbidity": {erosion.FitRating(slices.Repeat([]erosion.Pair{{NTU: 100, GL: 1}}, 8)), 100, "rating_not_rising"},
	} {
		if _, _, _, flag := tt.r.Concentration(tt.ntu, 0.95); flag != tt.flag {
			t.Errorf("%s: %q, want %q", name, flag, tt.flag)
		}
	}
}

func turbid(start, end, ntu float64) experiment.Sample {
	return experiment.Sample{StartMin: start, EndMin: end, TurbidityNTU: quantity.Some(ntu)}
}

// Two bottles weighed, one rated: 5 + 45 g and C(1000) x 2 L. Its u is 11.5 % of the
// rated mass for itself, and the rating's own.
func TestRatedBottles(t *testing.T) {
	three := []erosion.Flow{flow(0, 10, 1000), flow(10, 20, 2000), flow(20, 30, 3000)}
	in := input(three, dry(0, 10, 5), turbid(10, 20, 1000), dry(20, 30, 45))
	in.Rating = erosion.FitRating(ratingPairs())
	c, _, _, _ := in.Rating.Concentration(1000, 0.95)
	s := erosion.Of(in)
	near(t, "mass", s.Mass.Value.V, 50+2*c, 1e-9)
	if !s.Mass.Flags.Has("turbidity_rating") {
		t.Errorf("flags %v", s.Mass.Flags)
	}
	d := math.Log(1000) - in.Rating.MeanLnNTU
	own := 2 * c * in.Rating.SD
	parameters := 2 * c * in.Rating.SD * math.Sqrt(1.0/8+d*d/in.Rating.Sxx)
	near(t, "u", s.Mass.U.V, math.Sqrt(own*own+parameters*parameters+math.Pow(0.01*c, 2)+2e-4), 1e-6)
	in.Plot.Samples[1] = turbid(10, 20, 1e7)
	if s := erosion.Of(in); !s.Mass.Flags.Has("rating_out_of_range") || !s.Mass.Flags.Has("interpolated") {
		t.Errorf("out of range: %v", s.Mass.Flags)
	}
	// All bottles rated: the parameters' error does not average out.
	all := input(three, turbid(0, 10, 1000), turbid(10, 20, 1000), turbid(20, 30, 1000))
	all.Rating = in.Rating
	s = erosion.Of(all)
	common := 6 * c * in.Rating.SD * math.Sqrt(1.0/8+d*d/in.Rating.Sxx)
	if s.Mass.U.V < common {
		t.Errorf("u(M) = %v, the parameters alone make %v", s.Mass.U.V, common)
	}
	series := experiment.Series{Channel: experiment.Turbidity, BinMin: 1}
	for i := range 30 {
		series.Bins = append(series.Bins, experiment.Bin{Index: int32(i), N: 1, SumV: 1000})
	}
	logged := input(three)
	logged.Rating, logged.Plot.Series = in.Rating, []experiment.Series{series}
	s = erosion.Of(logged)
	near(t, "logged turbidity", s.Mass.Value.V, 6*c, 1e-9)
	if !s.Mass.Flags.Has("logged") || !s.Mass.Flags.Has("turbidity_rating") {
		t.Errorf("flags %v", s.Mass.Flags)
	}
}

func TestPairs(t *testing.T) {
	some := quantity.Some
	water, weighed, stated := dry(0, 1, 2), dry(0, 1, 2), experiment.Sample{EndMin: 1, ConcentrationGL: some(7), TurbidityNTU: some(70)}
	water.VolumeML, water.TurbidityNTU = some(1000), some(20)
	weighed.GrossG, weighed.TareG, weighed.TurbidityNTU = some(700), some(200), some(40)
	lone, aside, clear := turbid(0, 1, 5), water, water
	aside.Exclude, clear.TurbidityNTU = true, some(0)
	got := erosion.Pairs([]experiment.Run{{Plots: []experiment.Plot{{Samples: []experiment.Sample{water, weighed, stated, lone, aside, clear}}}}})
	if want := []erosion.Pair{{NTU: 20, GL: 2}, {NTU: 40, GL: 4}, {NTU: 70, GL: 7}}; !slices.EqualFunc(got, want, func(a, b erosion.Pair) bool { return a.NTU == b.NTU && a.GL == b.GL }) {
		t.Errorf("pairs %v, want %v", got, want)
	}
}

// 0.4 g/L in 1000 and 3000 mL of suspension with 10.4 and 31.2 g in the dish: the water is 1000 -
// 10.4/2.65 = 996.0755 mL, so 0.398430 g of the first and three times as much of the second come off. u of that is
// 10 %, common: 0.159372 g.
func TestDissolvedSolids(t *testing.T) {
	in := input([]erosion.Flow{flow(0, 10, 1000), flow(10, 30, 3000)}, dry(0, 10, 10.4), dry(10, 30, 31.2))
	in.DissolvedGL = quantity.Some(0.4)
	s := erosion.Of(in)
	near(t, "mass", s.Mass.Value.V, 41.6-4*0.398430, 1e-5)
	near(t, "u", s.Mass.U.V, math.Hypot(math.Sqrt2*0.01, 0.159372), 1e-5)
	if !s.Mass.Flags.Has("dissolved_deducted") {
		t.Errorf("flags %v", s.Mass.Flags)
	}
	in.Plot.Samples = []experiment.Sample{dry(0, 10, 0.39), dry(10, 30, 0.1)}
	if s := erosion.Of(in); !s.Mass.Flags.Has("non_detect") || !s.Mass.Flags.Has("negative_mass") {
		t.Errorf("less than the water leaves: %v", s.Mass.Flags)
	}
}

// 2 mg/L in 1 L, 4 in 3 L: 14 mg, 3.5 mg/L, 7 mg/m2 on 2 m2. The laboratory's 5 % are common: 0.7 mg.
func TestAnalytes(t *testing.T) {
	with := func(s experiment.Sample, v float64, unit string) experiment.Sample {
		s.Analytes = []experiment.Analyte{{Name: "nitrate", Value: v, Unit: unit}}
		return s
	}
	a, b := experiment.Sample{EndMin: 10}, experiment.Sample{StartMin: 10, EndMin: 30}
	in := input([]erosion.Flow{flow(0, 10, 1000), flow(10, 30, 3000)}, with(a, 0.002, "g/L"), with(b, 0.004, "g/L"))
	kinds := erosion.Analytes([]experiment.Run{{Plots: []experiment.Plot{*in.Plot}}})
	if len(kinds) != 1 || kinds[0].Unit != "mg/L" || kinds[0].MassUnit != "mg" || kinds[0].LoadMetric() != "analyte_nitrate_load" {
		t.Fatalf("%+v", kinds)
	}
	rows := erosion.AppendAnalyteRows(nil, result.PlotRow{Level: 0.95}, kinds[0], in)
	if len(rows) != 3 {
		t.Fatal(rows)
	}
	near(t, "concentration", rows[0].Value.V, 3.5, 1e-12)
	near(t, "load over area", rows[1].Value.V, 7, 1e-12)
	near(t, "load", rows[2].Value.V, 14, 1e-12)
	near(t, "u(load)", rows[2].U.V, math.Sqrt(0.7*0.7+math.Pow(2*0.005, 2)+math.Pow(4*0.015, 2)), 1e-9)
	near(t, "u(concentration)", rows[0].U.V, math.Sqrt(math.Pow(0.7/4, 2)+math.Pow(1.5*0.005/4, 2)+math.Pow(0.5*0.015/4, 2)), 1e-9)
	if rows[1].Unit != "mg/m2" || !rows[2].Headline || !rows[2].Flags.Has("analyte_error_assumed") {
		t.Errorf("%+v", rows)
	}
	dryPlot := input([]erosion.Flow{flow(0, 30, 0)})
	dryPlot.NoRunoff = true
	rows = erosion.AppendAnalyteRows(nil, result.PlotRow{}, kinds[0], dryPlot)
	if rows[2].Value.V != 0 || !rows[2].Value.OK || rows[0].Value.OK {
		t.Errorf("a dry plot: %+v", rows)
	}
	rows = erosion.AppendAnalyteRows(nil, result.PlotRow{}, kinds[0], input(in.Flow, dry(0, 10, 1)))
	if rows[2].Value.OK || !rows[2].Flags.Has("no_data") {
		t.Errorf("not measured: %+v", rows)
	}
	other := erosion.Analytes([]experiment.Run{{Plots: []experiment.Plot{{Samples: []experiment.Sample{with(a, 3, "mmol/L")}}}}})
	if other[0].Unit != "mmol/L" || other[0].MassUnit != "(mmol/L).L" || other[0].Factor != 1 {
		t.Errorf("%+v", other)
	}
}

// Concentration as the square of flow: flux goes as its cube. Bottles of one rate tell
// nothing, nor do three.
func TestFluxExponent(t *testing.T) {
	var flows []erosion.Flow
	var rows []experiment.Sample
	for i := range 6 {
		v := 200 * float64(i+1)
		flows = append(flows, flow(float64(5*i), float64(5*i+5), v))
		rows = append(rows, dry(float64(5*i), float64(5*i+5), 1e-8*v*v*v))
	}
	in := input(flows, rows...)
	e := erosion.Of(in).FluxExponent
	near(t, "exponent", e.Value.V, 3, 1e-9)
	if e.N != 6 || !(e.U.V < 1e-6) {
		t.Errorf("%+v", e)
	}
	if e := erosion.Of(input(flows[:3], rows[:3]...)).FluxExponent; e.Value.OK || !e.Flags.Has("not_identifiable") {
		t.Errorf("three bottles: %+v", e)
	}
	for i := range flows {
		flows[i].VolumeML = 300
	}
	if e := erosion.Of(input(flows, rows...)).FluxExponent; e.Value.OK {
		t.Errorf("one rate: %+v", e)
	}
}

// Grams or kilograms, litres or millilitres: another unit changes numbers, never ratios.
func TestUnitInvariance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		loss, bare := rapid.Float64Range(0.1, 50).Draw(t, "loss"), rapid.Float64Range(1, 500).Draw(t, "bare")
		f := rapid.SampledFrom([]float64{0.01, 1, 1 / 224.17}).Draw(t, "unit")
		of := func(f float64) result.Estimate {
			return erosion.SoilLossRatio(estimateOf(f*loss, f*loss*0.02), []result.Estimate{estimateOf(f*bare, f*bare*0.03)}, 0.95)
		}
		a, b := of(1), of(f)
		for _, v := range [][2]float64{{a.Value.V, b.Value.V}, {a.U.V, b.U.V}, {a.Low.V, b.Low.V}, {a.High.V, b.High.V}} {
			if math.Abs(v[0]-v[1]) > 1e-9*(1+v[0]) {
				t.Fatalf("%+v, in another unit %+v", a, b)
			}
		}
		slope := rapid.Float64Range(0, 0.5).Draw(t, "slope")
		if k, ok := erosion.ErodibilityOfRain(1e-5, 60, slope); !ok || !(k > 0) {
			t.Fatalf("Ki %v", k)
		}
	})
}

// The lines of each budget make the u of the row, in quadrature.
func TestBudgetsMakeTheRows(t *testing.T) {
	three := []erosion.Flow{flow(0, 10, 1000), gap(10, 20, 2000), flow(20, 30, 3000)}
	in := input(three, dry(0, 10, 5), turbid(10, 20, 1000), dry(20, 30, 45))
	in.Rating = erosion.FitRating(ratingPairs())
	in.Run.SubtractBlank, in.Run.Blanks = true, []experiment.Sample{dry(0, 0, 0.02), dry(0, 0, 0.05)}
	in.UChangeRel, in.URunoffMin, in.DissolvedGL = 0.003, 0.1, quantity.Some(0.3)
	late(&in)
	s := erosion.Of(in)
	rows := map[string]result.PlotRow{}
	for _, r := range s.AppendRows(nil, result.PlotRow{Level: 0.95}) {
		rows[string(r.Metric)+"/"+r.Method] = r
	}
	budgets := erosion.Budgets(in)
	if len(budgets) != 6 {
		t.Fatalf("%d budgets", len(budgets))
	}
	for _, b := range budgets {
		r := rows[b.Quantity+"/"+b.Method]
		if math.Abs(b.Value-r.Value.V) > 1e-9*r.Value.V || math.Abs(b.InQuadrature()-r.U.V) > 2e-3*r.U.V || b.Unit != r.Unit {
			t.Errorf("%s: budget %v with u %v, row %v with %v", b.Quantity, b.Value, b.InQuadrature(), r.Value.V, r.U.V)
		}
	}
	in.NoRunoff = true
	if b := erosion.Budgets(in); b != nil {
		t.Errorf("budgets of a dry plot: %v", b)
	}
}
