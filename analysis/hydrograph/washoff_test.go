package hydrograph_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"sheetwash/analysis/analysistest"
	"sheetwash/analysis/experiment"
	"sheetwash/analysis/hydrograph"
	"sheetwash/analysis/quantity"
)

// The wash-off runs of Hapich (2025), testdata/datasets/twp-washoff-sand (MIT):
// 36 runs, jars of 1 min, or of half a minute under high rain.
//
// Their published mean flow is the mean volume of the jars that end after minute
// 5, doubled under high rain. A jar's volume is its net mass over the density of
// air-saturated water by a polynomial of which the authors' copy has the last
// three coefficients ten times too small, so that it exceeds 1 g/mL.

// jar is a row of runoff_data.csv.
type jar struct {
	start, end, tare, gross, net float64
	temp                         quantity.Optional
}

// table returns the rows of a file of the dataset as maps by column.
func table(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(analysistest.Path(t, "testdata", "datasets", "twp-washoff-sand", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, r := range rows[1:] {
		m := map[string]string{}
		for i, v := range r {
			m[strings.TrimPrefix(rows[0][i], "\ufeff")] = v
		}
		out = append(out, m)
	}
	return out
}

func parse(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func jars(t *testing.T) map[string][]jar {
	t.Helper()
	out := map[string][]jar{}
	for _, r := range table(t, "runoff_data.csv") {
		j := jar{parse(t, r["start_time_min"]), parse(t, r["end_time_min"]), parse(t, r["dry_jar_mass_g"]), parse(t, r["wet_jar_mass_g"]), parse(t, r["water_mass_g"]), quantity.None()}
		if r["water_temp_C"] != "NA" {
			j.temp = quantity.Some(parse(t, r["water_temp_C"]))
		}
		out[r["run"]] = append(out[r["run"]], j)
	}
	return out
}

// saturated is the polynomial for air-saturated water tabulated by Jones and
// Harris 1992, g/mL, with the three higher coefficients times scale.
func saturated(tC, scale float64) float64 {
	return (999.84847 + 6.337563e-2*tC + scale*tC*tC*(-8.523829e-3+tC*(6.943248e-5-tC*3.821216e-7))) / 1000
}

// Run 2 has no temperatures; the authors took the mean density of all jars of
// both their surfaces, of which the dataset holds one: its readme gives 1.00071,
// rounded by up to 5e-6.
const meanDensity, meanDensityTol = 1.00071, 5e-6

func TestPublishedMeanFlow(t *testing.T) {
	all := jars(t)
	published := table(t, "published_flux_data.csv")
	if len(published) != 36 {
		t.Fatalf("%d published runs, want 36", len(published))
	}
	for _, p := range published {
		want, factor := parse(t, p["mean_mL_min"]), 1.0
		if p["rainfall"] == "high" {
			factor = 2
		}
		var sum, n float64
		tol := 1e-6
		for _, j := range all[p["run"]] {
			if j.end <= 5 {
				continue
			}
			rho := meanDensity
			if j.temp.OK {
				rho = saturated(j.temp.V, 0.1)
			} else {
				tol = meanDensityTol
			}
			sum, n = sum+j.net/rho, n+1
		}
		if got := factor * sum / n; math.Abs(got/want-1) > tol {
			t.Errorf("run %s: %v mL/min by the authors' rule, published %v", p["run"], got, want)
		}
		own := ownMeanFlow(t, all[p["run"]], p) * factor
		if d := own/want - 1; d < 0.001 || d > 0.005 {
			t.Errorf("run %s: own value %v mL/min is %.3f %% off the published %v, want 0.1 to 0.5 %%", p["run"], own, 100*d, want)
		}
	}
}

// ownMeanFlow is the authors' mean over our intervals: their rule, our density
// (Tanaka et al. 2001, 20 Cel where none was read). It is higher by the error
// of their density: at 20 Cel 1.0008 g/mL against 0.9982, 0.26 %; at 30 Cel,
// where water is lighter still, 0.6 % would be reached.
func ownMeanFlow(t *testing.T, js []jar, p map[string]string) float64 {
	t.Helper()
	plot := &experiment.Plot{ID: p["run"], AreaM2: parse(t, p["projected_area"]) / 1e4}
	for _, j := range js {
		plot.Samples = append(plot.Samples, experiment.Sample{StartMin: j.start, EndMin: j.end, TareG: quantity.Some(j.tare), GrossG: quantity.Some(j.gross), WaterTempC: j.temp})
	}
	r := hydrograph.Rain{IntensityMMH: 60, DurationMin: 30, DepthMM: 30}
	h := hydrograph.Of(&experiment.Run{RainMin: 30}, plot, r, def, hydrograph.DefaultSettings())
	var sum, n float64
	for _, iv := range h.Intervals {
		if iv.Kind == hydrograph.Measured && iv.EndMin > 5 {
			sum, n = sum+iv.VolumeML, n+1
		}
	}
	return sum / n
}

// What the field file holds is understood: skipped intervals are gaps, not zero
// flow, and a course without them is as long as the rain.
func TestWashoffGaps(t *testing.T) {
	gaps := 0
	for run, js := range jars(t) {
		plot := &experiment.Plot{ID: run, AreaM2: 0.72}
		end := js[0].end
		for i, j := range js {
			if i > 0 && j.start > end+1e-9 {
				gaps++
			}
			end = j.end
			plot.Samples = append(plot.Samples, experiment.Sample{StartMin: j.start, EndMin: j.end, TareG: quantity.Some(j.tare), GrossG: quantity.Some(j.gross), WaterTempC: j.temp})
		}
		r := hydrograph.Rain{IntensityMMH: 60, DurationMin: 30, DepthMM: 30}
		h := hydrograph.Of(&experiment.Run{RainMin: 30}, plot, r, def, hydrograph.DefaultSettings())
		last := 0.0
		for _, iv := range h.Intervals {
			if iv.Kind == hydrograph.NoFlow && iv.StartMin > 5 || math.Abs(iv.StartMin-last) > 1e-6 {
				t.Errorf("run %s: %+v after %v min", run, iv, last)
			}
			last = iv.EndMin
		}
		if last < 30-1e-6 {
			t.Errorf("run %s ends at %v min", run, last)
		}
	}
	if gaps != 81 {
		t.Errorf("%d skipped intervals, the dataset's readme counts 81", gaps)
	}
}
