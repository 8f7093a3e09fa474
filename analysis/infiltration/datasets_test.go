package infiltration_test

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"sheetwash/analysis/infiltration"
	"sheetwash/analysis/internal/fit"
)

// Two published sets of ponded infiltration curves, which their licence (GPL)
// keeps out of the repository: infiltration-kenya-ponded (Omuto 2006, 30 plots) and
// infiltration-offin-beerkan (Owusu 2015, 12 sites). With SHEETWASH_DATASETS naming
// the folder that holds them, each with reference_fits_R.csv, our closed forms
// and fitter reproduce the sums of squares of the fits to the cumulative depth that
// were made with R 4.2.2 (lm; nls from several starts).
func TestPublishedInfiltrationCurves(t *testing.T) {
	folder := os.Getenv("SHEETWASH_DATASETS")
	if folder == "" {
		t.Skip("set SHEETWASH_DATASETS to the folder of the published datasets to check the curves of Kenya and Offin")
	}
	for _, set := range []struct {
		name   string
		curves func(t *testing.T, folder string) map[string]curve
	}{
		{"infiltration-kenya-ponded", kenya},
		{"infiltration-offin-beerkan", offin},
	} {
		curves := set.curves(t, filepath.Join(folder, set.name))
		rows := table(t, filepath.Join(folder, set.name, "reference_fits_R.csv"))
		if len(rows) != len(curves) {
			t.Errorf("%s: %d fits of %d curves", set.name, len(rows), len(curves))
		}
		for _, row := range rows {
			c, ok := curves[row["id"]]
			if !ok || float64(len(c.t)) != number(t, row["n"]) {
				t.Errorf("%s %s: %d points, want %s", set.name, row["id"], len(c.t), row["n"])
				continue
			}
			for model, rss := range c.fits(t) {
				if want := number(t, row[model+"_SSR"]); !(rss <= want*(1+1e-6)) {
					t.Errorf("%s %s: %s has the sum of squares %v, theirs is %v", set.name, row["id"], model, rss, want)
				}
			}
		}
	}
}

// curve is a cumulative depth by time.
type curve struct{ t, depth []float64 }

// fits returns the least sums of squares by model.
func (c curve) fits(t *testing.T) map[string]float64 {
	last := len(c.t) - 1
	end, total := c.t[last], c.depth[last]
	// Beyond its bounds a model has no value, and a step there does not help.
	at := func(depth func(t float64) (float64, error)) func(int) float64 {
		return func(n int) float64 {
			v, err := depth(c.t[n])
			if err != nil {
				return math.NaN()
			}
			return v
		}
	}
	var hortons [][]float64
	for _, k := range []float64{0.5, 2, 8, 30} {
		for _, f0 := range []float64{2, 6} {
			hortons = append(hortons, []float64{f0 * total / end, 0.4 * total / end, k / end})
		}
	}
	out := map[string]float64{}
	for name, m := range map[string]struct {
		model  func(b []float64) func(int) float64
		starts [][]float64
	}{
		"philip": {func(b []float64) func(int) float64 { // unbounded, as theirs: A may be below 0
			return func(n int) float64 { return b[0]*math.Sqrt(c.t[n]) + b[1]*c.t[n] }
		}, [][]float64{{total / math.Sqrt(end), 0.1 * total / end}}},
		"kostiakov": {func(b []float64) func(int) float64 {
			return at(infiltration.KostiakovLewis{A: b[0], B: b[1]}.Depth)
		}, [][]float64{{total / math.Sqrt(end), 0.5}, {total / math.Pow(end, 0.7), 0.7}}},
		"horton": {func(b []float64) func(int) float64 {
			return at(func(t float64) (float64, error) {
				return infiltration.Horton{F0: b[0], FC: b[1], K: b[2]}.Depth(0, t)
			})
		}, hortons},
	} {
		p := fit.Nonlinear{Y: c.depth, Model: func(n int, b []float64) float64 { return m.model(b)(n) }}
		minimum, err := p.Fit(m.starts...)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		out[name] = minimum.RSS
	}
	return out
}

// kenya: the depth is the sum of rate times step, not of rates as in its own column.
func kenya(t *testing.T, folder string) map[string]curve {
	out := map[string]curve{}
	for _, row := range table(t, filepath.Join(folder, "infilt.csv")) {
		c := out[row["PlotNo"]]
		before, depth := 0.0, 0.0
		if n := len(c.t); n > 0 {
			before, depth = c.t[n-1], c.depth[n-1]
		}
		now := number(t, row["Time"])
		c.t, c.depth = append(c.t, now), append(c.depth, depth+number(t, row["Rate"])*(now-before))
		out[row["PlotNo"]] = c
	}
	return out
}

func offin(t *testing.T, folder string) map[string]curve {
	out := map[string]curve{}
	for _, row := range table(t, filepath.Join(folder, "offinbest.csv")) {
		c := out[row["ID"]]
		c.t, c.depth = append(c.t, number(t, row["time"])), append(c.depth, number(t, row["I"]))
		out[row["ID"]] = c
	}
	return out
}

func table(t *testing.T, file string) []map[string]string {
	t.Helper()
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", file, err)
	}
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for n, name := range rows[0] {
			m[name] = row[n]
		}
		out = append(out, m)
	}
	return out
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}
