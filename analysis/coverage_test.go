package analysis_test

import (
	"context"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"sheetwash/analysis"
	"sheetwash/analysis/analysistest"
	"sheetwash/analysis/erosion"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/analysis/simulate"
	"sheetwash/analysis/water"
)

// The study in docs/coverage.md is this test with more draws.
var (
	draws = flag.Int("draws", 150, "runs of two plots per number of bottles of the coverage test")
	seed  = flag.Uint64("seed", 4, "seed of the coverage test")

	picture = flag.String("picture", "", "file that the coverage test draws its results in, as SVG")
)

// truths are the true values of a plot by metric and method.
type truths map[string]float64

// coverageDraw is a run of a bare and a mulched plot, as noted, and what is true of them.
type coverageDraw struct {
	run   experiment.Run
	truth [2]truths
}

// field draws a run under the default error model: intensity 3 %, area 0.5 %, volume 0.5 % and 2 mL,
// a stopwatch of 1 s, 1 s of flow lost or won at each change alike, onset 5 s, dry masses 0.01 g, trays 10 g, slope
// 0.25 %, a laboratory's 5 %.
func field(r *rand.Rand, id string, bottles int) coverageDraw {
	between := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
	i := between(45, 110)
	const minutes, recession = 30, 5
	stated := i * (1 + 0.03*r.NormFloat64())
	d := coverageDraw{run: experiment.Run{ID: id, Event: "e", RainMin: minutes, IntensityMMH: quantity.Some(stated)}}
	lab := 1 + 0.05*r.NormFloat64()
	for k, cover := range [...]float64{0, 60} {
		area := between(0.3, 1.2)
		real := simulate.Plot{
			AreaM2: area * (1 + 0.005*r.NormFloat64()), Rain: simulate.ConstantRain(i, minutes), DepressionMM: between(0.3, 1.5), RecessionMin: recession, ReservoirMin: between(0, 0.6),
			Soil:            simulate.Horton{F0: i * between(0.9, 1.6), Fc: i * between(0.1, 0.5), K: between(4, 15)},
			ConcentrationGL: between(4, 30) * math.Exp(-0.02*cover), ConcentrationEndGL: between(2, 8) * math.Exp(-0.02*cover), DeclinePerH: between(1, 8)}
		truth := real.Simulate()
		slope := between(0.01, 0.15)
		p := experiment.Plot{ID: fmt.Sprint(k), Treatment: fmt.Sprint("t", k), AreaM2: area, CoverPct: quantity.Some(cover), Slope: quantity.Some(slope + 0.0025*r.NormFloat64())}
		if !truth.OnsetMin.OK || truth.RunoffMM < 1 {
			d.run.Plots = append(d.run.Plots, p)
			continue
		}
		p.Onset, p.OnsetMin = experiment.OnsetNoted, max(0, truth.OnsetMin.V+5.0/60*r.NormFloat64())
		schedule := simulate.Schedule{N: bottles, RecessionMin: recession}
		exact := truth.Collect(schedule, simulate.Instruments{}, r)
		drift := r.NormFloat64() / 60
		for n, b := range truth.Collect(schedule, simulate.Instruments{StopwatchMin: 1.0 / 60}, r) {
			e := exact[n]
			lost := 0.0
			if n > 0 && exact[n-1].VolumeML > 0 {
				lost = drift * (e.VolumeML/(e.EndMin-e.StartMin) + exact[n-1].VolumeML/(exact[n-1].EndMin-exact[n-1].StartMin)) / 2 / max(1, e.VolumeML)
			}
			s := experiment.Sample{StartMin: b.StartMin, EndMin: b.EndMin, VolumeML: quantity.Some(0), SedimentG: quantity.Some(0)}
			if e.VolumeML > 0 {
				v, g := e.VolumeML*(1-lost), e.SedimentG*(1-lost)
				s.VolumeML = quantity.Some(max(0, v*(1+0.005*r.NormFloat64())+2*r.NormFloat64()))
				s.SedimentG = quantity.Some(g + 0.01*r.NormFloat64())
				s.Analytes = []experiment.Analyte{{Name: "n", Value: 2 * e.SedimentG / e.VolumeML * 1000 * lab, Unit: "mg/L"}}
			}
			p.Samples = append(p.Samples, s)
		}
		t := truths{}
		t.water(&p, &truth, &real, r)
		t.rates(&truth, &real, exact)
		t.sediment(&truth, &real, exact, slope, i)
		d.truth[k] = t
		d.run.Plots = append(d.run.Plots, p)
	}
	if d.truth[0] != nil && d.truth[1] != nil {
		ratio := d.truth[1]["soil_loss mass_over_area"] / d.truth[0]["soil_loss mass_over_area"]
		d.truth[1]["soil_loss_ratio paired_within_run"] = ratio
	}
	return d
}

// water fills the true depths, and measures drainage and storage.
func (t truths) water(p *experiment.Plot, truth *simulate.Truth, real *simulate.Plot, r *rand.Rand) {
	q := truth.RunoffMM - truth.SedimentG/2.65/(1000*real.AreaM2)
	drained := 0.2 * (truth.RainMM - q)
	stored := truth.RainMM - q - drained
	ml := drained * 1000 * real.AreaM2
	rho, _ := water.Density(20)
	gained := stored*rho*real.AreaM2 - truth.SedimentG + 10*r.NormFloat64() - 10*r.NormFloat64()
	p.Storage = &experiment.SoilWaterGain{SoilBeforeG: quantity.Some(50000), SoilAfterG: quantity.Some(50000 + gained)}
	p.Samples = append(p.Samples, experiment.Sample{Stream: experiment.Drainage, EndMin: 60,
		VolumeML: quantity.Some(ml*(1+0.005*r.NormFloat64()) + 2*r.NormFloat64())})
	i := truth.RainMM / truth.RainMin
	retained := func(ratio float64) float64 { // S of Q = (P - ratio S)^2/(P + (1 - ratio) S)
		q, p := truth.RunoffMM, truth.RainMM
		return (2*ratio*p + (1-ratio)*q - math.Sqrt((1-ratio)*(1-ratio)*q*q+4*ratio*p*q)) / (2 * ratio * ratio)
	}
	for key, v := range map[string]float64{
		"rain_depth runs.intensity": truth.RainMM, "runoff_depth bottles": truth.RunoffMM, "runoff_coefficient runoff_over_rain": truth.Coefficient,
		"infiltration_depth rain_minus_runoff": truth.RainMM - truth.RunoffMM, "drainage_depth bottles": drained, "storage_depth soil_weighed": stored,
		"balance_closure rain_minus_all_terms": 0, "rain_depth_to_runoff observed": i * truth.OnsetMin.V, "curve_number initial_abstraction_0.20": 25400 / (254 + retained(0.2)),
		"curve_number initial_abstraction_0.05": 25400 / (254 + retained(0.05)), "time_to_runoff observed": truth.OnsetMin.V,
		"steady_infiltration_rate horton": truth.CapacityMMH,
	} {
		t[key] = v
	}
}

// rates fills the true rates of runoff over the intervals as they were planned.
func (t truths) rates(truth *simulate.Truth, real *simulate.Plot, exact []simulate.Bottle) {
	var ml, minutes, most float64
	for _, b := range exact {
		if b.Recession || b.EndMin > truth.RainMin+1e-6 {
			continue
		}
		most = max(most, b.VolumeML/(b.EndMin-b.StartMin))
		if b.StartMin >= truth.RainMin-10-1e-6 {
			ml, minutes = ml+b.VolumeML, minutes+b.EndMin-b.StartMin
		}
	}
	perML := 60 / (1000 * real.AreaM2)
	t["peak_runoff_rate largest_interval"] = most * perML
	if minutes > 0 {
		t["final_runoff_rate last_intervals"] = ml / minutes * perML
	}
}

// sediment fills the true sediment.
func (t truths) sediment(truth *simulate.Truth, real *simulate.Plot, exact []simulate.Bottle, slope, intensity float64) {
	loss := truth.SedimentG / real.AreaM2
	end := 0.0
	for _, b := range exact {
		if b.VolumeML > 0 {
			end = b.EndMin
		}
	}
	t["sediment_mass sum_of_bottles"], t["sediment_concentration flow_weighted"] = truth.SedimentG, truth.ConcentrationGL.V
	t["soil_loss mass_over_area"], t["sediment_rate soil_loss_over_runoff_time"] = loss, loss/(end-truth.OnsetMin.V)*60
	t["sediment_concentration flow_weighted_per_l_water"] = loss / (truth.RunoffMM - loss/2650)
	t["analyte_n_load mass_over_area"] = 2 * loss
	t["analyte_n_load sum_of_bottles"], t["analyte_n_concentration flow_weighted"] = 2*truth.SedimentG, 2*truth.ConcentrationGL.V
	var g, ml, minutes float64
	for n := len(exact) - 1; n >= 0; n-- {
		if b := exact[n]; !b.Recession && b.StartMin >= truth.RainMin-10-1e-6 {
			g, ml, minutes = g+b.SedimentG, ml+b.VolumeML, minutes+b.EndMin-b.StartMin
		}
	}
	if minutes == 0 || ml == 0 || exact[0].StartMin > truth.OnsetMin.V {
		return
	}
	first := exact[len(exact)-2]
	if first.StartMin < truth.OnsetMin.V {
		return // flow began within the late time
	}
	t["interrill_erodibility intensity_squared"], _ = erosion.ErodibilityOfRain(g/1000/(60*minutes*real.AreaM2), intensity, slope)
	t["interrill_erodibility intensity_and_runoff"], _ = erosion.ErodibilityOfFlow(1000*g/ml, intensity, 3.6e6, slope)
}

type tally struct{ n, held, missing int }

// TestCoverage asks how often the 95 % intervals of depths, curve number, closure and sediment hold the truth, under
// the error model that they state, for 6 to 30 bottles. The bounds are those of 95 % with four standard errors.
func TestCoverage(t *testing.T) {
	var points []analysistest.Covered
	for _, bottles := range []int{6, 8, 12, 20, 30} {
		r := rand.New(rand.NewPCG(*seed, uint64(bottles)))
		var runs []experiment.Run
		truth := map[string]truths{}
		for n := range *draws {
			d := field(r, fmt.Sprintf("%06d", n), bottles)
			runs = append(runs, d.run)
			for k, v := range d.truth {
				truth[fmt.Sprint(d.run.ID, "/", k)] = v
			}
		}
		all := coverageOf(t, runs, truth)
		keys := make([]string, 0, len(all))
		for k := range all {
			keys = append(keys, k)
		}
		slices.Sort(keys)
		for _, k := range keys {
			c := all[k]
			share := float64(c.held) / float64(max(1, c.n))
			points = append(points, analysistest.Covered{Row: k, Size: bottles, Percent: 100 * share})
			t.Logf("| %d | %s | %d | %.1f | %d |", bottles, k, c.n, 100*share, c.missing)
			if se := math.Sqrt(0.95 * 0.05 / float64(max(1, c.n))); c.n > 50 && (share < 0.93-4*se || share > 0.97+4*se) {
				t.Errorf("%d bottles: %s holds the truth in %.3f of %d", bottles, k, share, c.n)
			}
		}
	}
	if *picture != "" {
		slices.SortStableFunc(points, func(a, b analysistest.Covered) int { return strings.Compare(a.Row, b.Row) })
		if err := os.WriteFile(*picture, analysistest.CoveragePicture("6, 8, 12, 20, 30 bottles", points), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

func coverageOf(t *testing.T, runs []experiment.Run, truth map[string]truths) map[string]*tally {
	t.Helper()
	d, err := experiment.New(experiment.Parts{Name: "d", Errors: experiment.DefaultErrors(), Runs: runs})
	if err != nil {
		t.Fatal(err)
	}
	plan := analysis.DefaultPlan()
	plan.Workers = 2
	part, err := analysis.Dataset(context.Background(), d, nil, plan)
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]*tally{}
	for i := range part.Plots {
		row := &part.Plots[i]
		key := string(row.Metric) + " " + row.Method
		want, ok := truth[row.Run+"/"+row.Plot][key]
		if !ok {
			continue
		}
		c := out[key]
		if c == nil {
			c = &tally{}
			out[key] = c
		}
		if !row.Value.OK || row.Censored != result.Observed {
			c.missing++
			continue
		}
		c.n++
		if row.Low.V <= want && want <= row.High.V {
			c.held++
		}
	}
	return out
}
