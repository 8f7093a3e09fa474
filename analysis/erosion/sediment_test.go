package erosion_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis/erosion"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
)

var def = experiment.DefaultErrors()

// dry is a row with oven-dry sediment.
func dry(start, end, g float64) experiment.Sample {
	return experiment.Sample{StartMin: start, EndMin: end, SedimentG: quantity.Some(g)}
}

func stated(start, end, gl float64) experiment.Sample {
	return experiment.Sample{StartMin: start, EndMin: end, ConcentrationGL: quantity.Some(gl)}
}

// waiting is a bottle with water whose sediment is in the oven.
func waiting(start, end, ml float64) experiment.Sample {
	return experiment.Sample{StartMin: start, EndMin: end, VolumeML: quantity.Some(ml), SedimentPending: true}
}

func flow(start, end, ml float64) erosion.Flow {
	return erosion.Flow{StartMin: start, EndMin: end, VolumeML: ml, UVolumeML: 0.005 * ml, Collected: true}
}

func gap(start, end, ml float64) erosion.Flow {
	f := flow(start, end, ml)
	f.Collected, f.UVolumeML = false, 0.2*ml
	return f
}

func input(flows []erosion.Flow, samples ...experiment.Sample) erosion.Input {
	return erosion.Input{Run: &experiment.Run{RainMin: 30}, Plot: &experiment.Plot{AreaM2: 2, Samples: samples}, Flow: flows,
		RunoffMin: 30, Errors: def, Level: 0.95}
}

func near(t *testing.T, name string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.10g, want %.10g", name, got, want)
	}
}

// Loads worked by hand. Area 2 m2; concentrations in g/L over flows in mL.
func TestLoads(t *testing.T) {
	three := []erosion.Flow{flow(0, 10, 1000), flow(10, 20, 2000), flow(20, 30, 3000)}
	holed := []erosion.Flow{flow(0, 10, 1000), gap(10, 20, 2000), flow(20, 30, 3000)}
	ended := []erosion.Flow{flow(0, 10, 1000), flow(10, 20, 2000), gap(20, 30, 3000)}
	excluded := dry(10, 20, 99)
	excluded.Exclude = true
	leftover := experiment.Sample{Stream: experiment.Remainder, SedimentG: quantity.Some(50)}
	splash := experiment.Sample{Stream: experiment.Splash, EndMin: 30, SedimentG: quantity.Some(50)}
	lab := dry(0, 30, 0)
	lab.SedimentG, lab.SedimentGrossG, lab.SedimentTareG = quantity.None(), quantity.Some(54), quantity.Some(24)
	for _, tt := range []struct {
		name       string
		in         erosion.Input
		mass, conc float64
		flag       string
	}{
		{"bottle by bottle: 5 + 20 + 45 g in 6 L", input(three, dry(0, 10, 5), dry(10, 20, 20), dry(20, 30, 45)), 70, 70.0 / 6, ""},
		{"one pool over all", input(three, dry(0, 30, 30)), 30, 5, ""},
		{"gross and tare of a dish", input(three, lab), 30, 5, ""},
		{"as concentrations: 5 g/L x 1 L + 10 x 2 + 15 x 3", input(three, stated(0, 10, 5), stated(10, 20, 10), stated(20, 30, 15)), 70, 70.0 / 6, ""},
		// The pool's 24 g are in the 4 L caught, 6 g/L; 2 L more ran off.
		{"a pool over a gap", input(holed, dry(0, 30, 24)), 36, 6, "interpolated_share=0.333"},
		// 4 g/L with its middle at 0.5 L and 11 g/L at 4.5 L: at 2 L it is
		// 4 + 7 x 1.5/4 = 6.625 g/L, so 4 + 13.25 + 33 g.
		{"a gap between pools, on volume", input(holed, dry(0, 10, 4), dry(20, 30, 33)), 50.25, 50.25 / 6, "interpolated_share=0.264"},
		{"a bottle set aside", input(three, dry(0, 10, 4), excluded, dry(20, 30, 33)), 50.25, 50.25 / 6, "interpolated"},
		{"a bottle still in the oven", input(three, dry(0, 10, 4), waiting(10, 20, 2000), dry(20, 30, 33)), 50.25, 50.25 / 6, "pending"},
		// Beyond the last pool its 10 g/L hold: 5 + 20 + 30 g.
		{"after the last pool", input(ended, dry(0, 10, 5), dry(10, 20, 20)), 55, 55.0 / 6, "interpolated"},
		{"before the first pool", input(three, dry(10, 20, 20), dry(20, 30, 45)), 75, 12.5, "interpolated"},
		{"what is no runoff does not count", input(three, dry(0, 30, 30), leftover, splash), 30, 5, ""},
		{"a clean dry bottle", input([]erosion.Flow{flow(0, 10, 0), flow(10, 30, 2000)}, dry(0, 10, 0), dry(10, 30, 8)), 8, 4, ""},
		{"sediment whose water was not read", input([]erosion.Flow{flow(0, 10, 0), flow(10, 30, 2000)}, dry(0, 10, 2), dry(10, 30, 8)), 10, 4, "sediment_without_water"},
		// The bottle of 2 L gives 1 L to either pool: 10 g are in 2 L, 40 g in 4 L.
		{"pools that cut a bottle", input(three, dry(0, 15, 10), dry(15, 30, 40)), 50, 50.0 / 6, ""},
	} {
		s := erosion.Of(tt.in)
		near(t, tt.name+": mass", s.Mass.Value.V, tt.mass, 1e-9)
		near(t, tt.name+": concentration", s.Concentration.Value.V, tt.conc, 1e-9)
		near(t, tt.name+": soil loss", s.SoilLoss.Value.V, tt.mass/2, 1e-9)
		near(t, tt.name+": rate", s.Rate.Value.V, tt.mass, 1e-9)
		if tt.flag != "" && !s.Mass.Flags.Has(tt.flag) || tt.flag == "" && len(s.Mass.Flags) > 0 {
			t.Errorf("%s: flags %v, want %q", tt.name, s.Mass.Flags, tt.flag)
		}
		if len(s.ByFlow) != len(tt.in.Flow) {
			t.Errorf("%s: %d concentrations of %d intervals", tt.name, len(s.ByFlow), len(tt.in.Flow))
		}
	}
}

func TestConcentrationOfIntervals(t *testing.T) {
	s := erosion.Of(input([]erosion.Flow{flow(0, 10, 0), flow(10, 20, 2000), flow(20, 30, 3000)}, dry(10, 20, 20), dry(20, 30, 45)))
	if s.ByFlow[0].OK {
		t.Errorf("a bottle without runoff has the concentration %v", s.ByFlow[0])
	}
	near(t, "second", s.ByFlow[1].V, 10, 1e-12)
	near(t, "third", s.ByFlow[2].V, 15, 1e-12)
}

// A logger meters the flow, and a grab of 500 mL with 5 g stands for it: 10 g/L
// of 6 L are 60 g.
func TestMetered(t *testing.T) {
	grab := dry(14, 15, 5)
	grab.VolumeML = quantity.Some(500)
	in := input([]erosion.Flow{flow(0, 10, 1000), flow(10, 20, 2000), flow(20, 30, 3000)}, grab)
	in.Metered = true
	s := erosion.Of(in)
	near(t, "mass", s.Mass.Value.V, 60, 1e-9)
	near(t, "concentration", s.Concentration.Value.V, 10, 1e-9)
	if !(s.Concentration.U.V < 0.5 && s.Concentration.U.V > 0) {
		t.Errorf("u = %v", s.Concentration.U.V)
	}
	// A concentration channel: 2 g/L for 10 min, then 4, then 6: 2 + 8 + 18 g.
	series := experiment.Series{Channel: experiment.Concentration, BinMin: 1}
	for i := range 30 {
		series.Bins = append(series.Bins, experiment.Bin{Index: int32(i), N: 2, SumV: 2 * float64(2+2*(i/10))})
	}
	in = input(in.Flow)
	in.Metered, in.Plot.Series = true, []experiment.Series{series}
	s = erosion.Of(in)
	near(t, "logged mass", s.Mass.Value.V, 28, 1e-9)
	if !s.Mass.Flags.Has("logged") {
		t.Errorf("flags %v", s.Mass.Flags)
	}
}

func TestStates(t *testing.T) {
	water := []erosion.Flow{flow(0, 30, 3000)}
	none := input([]erosion.Flow{flow(0, 30, 0)})
	none.NoRunoff = true
	for _, tt := range []struct {
		name             string
		in               erosion.Input
		mass, conc, rate string // flags of missing values, "": there is a value
		value            float64
	}{
		{"never ran off", none, "", "no_runoff", "no_runoff", 0},
		{"not dried yet", input(water, waiting(0, 30, 3000)), "pending", "pending", "pending", 0},
		{"nothing weighed", input(water), "no_sediment_data", "no_sediment_data", "no_sediment_data", 0},
		{"no water measured", input(nil, dry(0, 10, 5), dry(10, 20, 7)), "", "no_volume", "", 12},
		{"no water measured, concentrations only", input(nil, stated(0, 10, 5)), "no_volume", "no_volume", "no_volume", 0},
	} {
		s := erosion.Of(tt.in)
		for name, c := range map[string]struct {
			e    result.Estimate
			flag string
		}{"mass": {s.Mass, tt.mass}, "concentration": {s.Concentration, tt.conc}, "rate": {s.Rate, tt.rate}, "loss": {s.SoilLoss, tt.mass}} {
			if c.e.Value.OK != (c.flag == "") || c.flag != "" && !c.e.Flags.Has(c.flag) {
				t.Errorf("%s: %s = %+v, want flag %q", tt.name, name, c.e, c.flag)
			}
		}
		near(t, tt.name+": mass", s.Mass.Value.V, tt.value, 1e-12)
	}
	s := erosion.Of(none)
	if !s.Mass.Flags.Has("no_runoff") || s.Mass.U.V != 0 || s.Mass.Censored != result.Observed {
		t.Errorf("a plot that never ran off: %+v", s.Mass)
	}
	in := input(water, dry(0, 30, 3))
	in.RunoffMin = 0
	if s := erosion.Of(in); s.Rate.Value.OK || !s.Rate.Flags.Has("no_runoff_time") || !s.SoilLoss.Value.OK {
		t.Errorf("without a duration: %+v", s.Rate)
	}
}

func TestLowerBound(t *testing.T) {
	f := flow(0, 30, 3000)
	f.LowerBound = true
	s := erosion.Of(input([]erosion.Flow{f}, dry(0, 30, 30)))
	for name, e := range map[string]result.Estimate{"mass": s.Mass, "loss": s.SoilLoss, "rate": s.Rate} {
		if e.Censored != result.Right || e.High.OK || !e.Flags.Has("lower_bound") {
			t.Errorf("%s of an overflowed bottle: %+v", name, e)
		}
	}
	if c := s.Concentration; c.Censored != result.Observed || !c.High.OK || c.Value.V != 10 {
		t.Errorf("concentration of an overflowed bottle: %+v", c)
	}
}

// Blanks of 0.02 and 0.04 g: 0.03 g off every dish, where the run asks for it.
func TestBlanks(t *testing.T) {
	in := input([]erosion.Flow{flow(0, 10, 1000), flow(10, 30, 2000)}, dry(0, 10, 1.03), dry(10, 30, 0.02))
	in.Run.Blanks = []experiment.Sample{{Stream: experiment.Blank, SedimentG: quantity.Some(0.02)}, {Stream: experiment.Blank, SedimentG: quantity.Some(0.04)}}
	near(t, "not asked for", erosion.Of(in).Mass.Value.V, 1.05, 1e-12)
	in.Run.SubtractBlank = true
	s := erosion.Of(in)
	near(t, "deducted", s.Mass.Value.V, 0.99, 1e-12)
	// Masses 0.01 g each in quadrature; the blank's 0.0141421/sqrt(2) twice over.
	near(t, "u", s.Mass.U.V, math.Sqrt(2*0.01*0.01+0.02*0.02), 1e-9)
	if !s.Mass.Flags.Has("blank_subtracted") || !s.Mass.Flags.Has("non_detect") {
		t.Errorf("flags %v", s.Mass.Flags)
	}
	in.Plot.Samples[1] = dry(10, 30, -0.5)
	if s := erosion.Of(in); !s.Mass.Flags.Has("negative_mass") || s.Mass.Value.V > 0.6 {
		t.Errorf("a mass of -0.53 g: %+v", s.Mass)
	}
	in.Run.Blanks = nil
	if s := erosion.Of(in); !s.Mass.Flags.Has("no_blank") {
		t.Errorf("no blanks: flags %v", s.Mass.Flags)
	}
}

// Two bottles of 1000 and 3000 mL (u 5 and 15 mL) with 10 and 30 g (u 0.01 g):
// u(M) = 0.0141421 g. C = 10 g/L: 1000 x 0.0141421/4000 = 0.00353553 of the masses and
// 10 x sqrt(5^2 + 15^2)/4000 = 0.0395285 of the volumes. L = 20 g/m2: 0.00707107 and 0.1 of
// the area. D over 30 +- 0.3 min: 40 g/(m2 h), 1 % of the time is 0.4.
func TestUncertainty(t *testing.T) {
	flows := []erosion.Flow{flow(0, 10, 1000), flow(10, 30, 3000)}
	in := input(flows, dry(0, 10, 10), dry(10, 30, 30))
	in.URunoffMin = 0.3
	s := erosion.Of(in)
	near(t, "u(M)", s.Mass.U.V, 0.0141421, 1e-7)
	near(t, "u(C)", s.Concentration.U.V, math.Hypot(0.00353553, 0.0395285), 1e-7)
	near(t, "u(L)", s.SoilLoss.U.V, math.Hypot(0.00707107, 0.1), 1e-7)
	near(t, "u(D)", s.Rate.U.V, math.Hypot(2*math.Hypot(0.00707107, 0.1), 0.4), 1e-7)
	near(t, "L low", s.SoilLoss.Low.V, 20-1.959964*math.Hypot(0.00707107, 0.1), 1e-5)
	// Water that runs past at bottle changes takes its sediment along.
	in.UChangeRel = 0.01
	near(t, "u(M) with changes", erosion.Of(in).Mass.U.V, math.Hypot(0.0141421, 0.4), 1e-6)
	near(t, "u(C) with changes", erosion.Of(in).Concentration.U.V, math.Hypot(0.00353553, 0.0395285), 1e-7)
	// Stated concentrations that are all alike do not feel the volumes; their mass does.
	c := erosion.Of(input(flows, stated(0, 10, 10), stated(10, 30, 10)))
	near(t, "u(C) of stated concentrations", c.Concentration.U.V, 0.00353553, 1e-7)
	near(t, "u(M) of stated concentrations", c.Mass.U.V, math.Sqrt(0.0141421*0.0141421+0.05*0.05+0.15*0.15), 1e-6)
}

// 100 g/L of suspension: 103.9216 g/L of water, 94.292 g/kg at 998.2 kg/m3 (see
// the bases of a suspension).
func TestBases(t *testing.T) {
	in := input([]erosion.Flow{flow(0, 30, 1000)}, dry(0, 30, 100))
	in.WaterKgM3 = 998.2
	s := erosion.Of(in)
	near(t, "water basis", s.WaterBasis.Value.V, 103.9216, 1e-4)
	near(t, "mass basis", s.MassBasis.Value.V, 94.2923, 1e-4)
	if !(s.WaterBasis.Low.V < 103.9216 && s.WaterBasis.High.V > 103.9216 && s.MassBasis.U.V > 0) {
		t.Errorf("bases %+v %+v", s.WaterBasis, s.MassBasis)
	}
	mud := erosion.Of(input([]erosion.Flow{flow(0, 30, 10)}, dry(0, 30, 30)))
	if mud.WaterBasis.Value.OK || !mud.WaterBasis.Flags.Has("no_water") {
		t.Errorf("more sediment than fits: %+v", mud.WaterBasis)
	}
	rows := s.AppendRows(nil, result.PlotRow{Subject: &result.Subject{Plot: "p"}, Level: 0.95})
	if len(rows) != 7 || !rows[0].Headline || rows[1].Headline || rows[1].Unit != "g/kg" || rows[0].Unit != "g/L" || rows[5].Metric != result.SedimentRate {
		t.Errorf("rows %+v", rows)
	}
}

// With every bottle weighed the mass is the sum of the masses, whatever the
// order of the rows; twice the masses are twice the load; pouring the sediment
// of two bottles into one dish changes neither.
func TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 10).Draw(t, "bottles")
		var flows []erosion.Flow
		var rows, doubled []experiment.Sample
		var sum, ml float64
		for i := range n {
			v := float64(rapid.IntRange(1, 4000).Draw(t, "mL"))
			g := rapid.Float64Range(0, 50).Draw(t, "g")
			from, to := float64(3*i), float64(3*i+3)
			flows = append(flows, flow(from, to, v))
			rows, doubled = append(rows, dry(from, to, g)), append(doubled, dry(from, to, 2*g))
			sum, ml = sum+g, ml+v
		}
		same := func(name string, got, want float64) {
			if math.Abs(got-want) > 1e-9*(1+math.Abs(want)) {
				t.Fatalf("%s: %v, want %v", name, got, want)
			}
		}
		s := erosion.Of(input(flows, rows...))
		same("mass", s.Mass.Value.V, sum)
		same("concentration", s.Concentration.Value.V, 1000*sum/ml)
		same("twice", erosion.Of(input(flows, doubled...)).Mass.Value.V, 2*sum)
		k := rapid.IntRange(0, n-2).Draw(t, "pour")
		poured := append(append([]experiment.Sample(nil), rows[:k]...), dry(rows[k].StartMin, rows[k+1].EndMin, rows[k].SedimentG.V+rows[k+1].SedimentG.V))
		poured = append(poured, rows[k+2:]...)
		same("poured", erosion.Of(input(flows, poured...)).Mass.Value.V, sum)
		rows[0], rows[n-1] = rows[n-1], rows[0]
		same("order", erosion.Of(input(flows, rows...)).Mass.Value.V, sum)
	})
}

// Whatever the rows, numbers are finite, a missing one says why, and nothing panics.
func TestAnyRows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var flows []erosion.Flow
		for i := range rapid.IntRange(0, 8).Draw(t, "flows") {
			f := flow(float64(4*i), float64(4*i+4), float64(rapid.IntRange(0, 3000).Draw(t, "mL")))
			f.Collected, f.LowerBound = rapid.Bool().Draw(t, "collected"), rapid.IntRange(0, 9).Draw(t, "lower") == 0
			flows = append(flows, f)
		}
		var rows []experiment.Sample
		for range rapid.IntRange(0, 8).Draw(t, "rows") {
			from := rapid.Float64Range(0, 35).Draw(t, "from")
			s := dry(from, from+rapid.Float64Range(0.1, 20).Draw(t, "length"), rapid.Float64Range(-1, 60).Draw(t, "g"))
			s.SedimentG.OK = rapid.IntRange(0, 3).Draw(t, "weighed") > 0
			s.SedimentPending = !s.SedimentG.OK
			if rapid.IntRange(0, 3).Draw(t, "stated") == 0 {
				s.ConcentrationGL = quantity.Some(rapid.Float64Range(0, 300).Draw(t, "g/L"))
			}
			if rapid.Bool().Draw(t, "water") {
				s.VolumeML = quantity.Some(rapid.Float64Range(0, 2000).Draw(t, "bottle"))
			}
			rows = append(rows, s)
		}
		in := input(flows, rows...)
		in.Metered = rapid.Bool().Draw(t, "metered")
		s := erosion.Of(in)
		for _, r := range s.AppendRows(nil, result.PlotRow{Level: 0.95}) {
			if !r.Value.OK && len(r.Flags) == 0 {
				t.Fatalf("%s by %s has no value and does not say why", r.Metric, r.Method)
			}
			if r.Value.OK && !r.U.OK && r.Method == erosion.MethodSum {
				t.Fatalf("%s by %s has no uncertainty", r.Metric, r.Method)
			}
		}
	})
}

func BenchmarkPlot(b *testing.B) {
	var flows []erosion.Flow
	var rows []experiment.Sample
	for i := range 30 {
		flows = append(flows, flow(float64(i), float64(i+1), 100))
		rows = append(rows, dry(float64(i), float64(i+1), 1))
	}
	in := input(flows, rows...)
	out := make([]result.PlotRow, 0, 8)
	b.ReportAllocs()
	for b.Loop() {
		s := erosion.Of(in)
		out = s.AppendRows(out[:0], result.PlotRow{Level: 0.95})
	}
}
