package infiltration_test

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/infiltration"
)

// The fits of rates at points of time in testdata/reference/statistics, whose
// README names the source of every number. A folder of the same format can be read
// instead by naming it in SHEETWASH_REFERENCE.
const (
	referenceFolder = "../../testdata/reference/statistics"
	referenceFamily = "infiltration_fits"
)

type rateCase struct {
	ID, Family, Method string
	Input              struct{ T, Rate []float64 }
	Options            struct {
		Level float64 `json:"conf_level"`
	}
	Expected  map[string]any
	Tolerance map[string]any
}

// answers are ours, by the key of what is expected.
type answers map[string]any

var rateMethods = map[string]func(rateCase) (answers, error){
	"exponential_decay_to_plateau": exponentialDecay,
	"philip_two_term_rate":         philipRate,
	"steady_tail_slope":            tailSlope,
}

func TestRateReferences(t *testing.T) {
	folder := referenceFolder
	if other := os.Getenv("SHEETWASH_REFERENCE"); other != "" {
		folder = other
	}
	ran := map[string]int{}
	for _, pattern := range []string{referenceFamily + "*.json", filepath.Join("*", referenceFamily+"*.json")} {
		files, err := filepath.Glob(filepath.Join(folder, pattern))
		if err != nil {
			t.Fatal(err)
		}
		for _, file := range files {
			b, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			var cases []rateCase
			if err := json.Unmarshal(b, &cases); err != nil {
				t.Fatalf("%s: %v", file, err)
			}
			for _, c := range cases {
				answer, ok := rateMethods[c.Method]
				if !ok {
					t.Errorf("%s: unknown method %q", c.ID, c.Method)
					continue
				}
				ran[c.Method]++
				t.Run(c.ID, func(t *testing.T) { checkRates(t, c, answer) })
			}
		}
	}
	for m := range rateMethods {
		if ran[m] == 0 {
			t.Errorf("no case of %s in %s", m, folder)
		}
	}
}

func checkRates(t *testing.T, c rateCase, answer func(rateCase) (answers, error)) {
	got, err := answer(c)
	if err != nil {
		t.Fatal(err)
	}
	tolerance := func(kind, key string) float64 {
		if v, ok := c.Tolerance[kind+"_"+key].(float64); ok {
			return v
		}
		v, _ := c.Tolerance[kind].(float64)
		return v
	}
	for key, want := range c.Expected {
		rel := tolerance("rel", key)
		if key == "fc_profile_ci" { // the name that the tolerance goes by
			rel = math.Max(rel, tolerance("rel", "profile_ci"))
		}
		compare(t, key, got[key], want, rel, tolerance("abs", key))
	}
}

func compare(t *testing.T, key string, got, want any, rel, abs float64) {
	t.Helper()
	switch w := want.(type) {
	case []any:
		g, _ := got.([]any)
		if len(g) != len(w) {
			t.Errorf("%s: %v, want %v", key, got, want)
			return
		}
		for i := range w {
			compare(t, key, g[i], w[i], rel, abs)
		}
	case float64:
		g, ok := got.(float64)
		if d := math.Abs(g - w); !ok || math.IsNaN(d) || d > abs && d > rel*math.Abs(w) {
			t.Errorf("%s = %v, want %v (rel %g, abs %g)", key, got, w, rel, abs)
		}
	default:
		if got != want {
			t.Errorf("%s = %v, want %v", key, got, want)
		}
	}
}

// aic is Akaike's criterion of least squares as R counts it: with the constant of
// the normal density, and the variance among the parameters.
func aic(rss float64, n, parameters int) float64 {
	m := float64(n)
	return m*(math.Log(2*math.Pi*rss/m)+1) + 2*float64(parameters+1)
}

func exponentialDecay(c rateCase) (answers, error) {
	f, err := infiltration.HortonPoints(c.Input.T, c.Input.Rate)
	if err != nil {
		return nil, err
	}
	if err := f.Profile(c.Input.T, c.Input.Rate, c.Options.Level); err != nil {
		return nil, err
	}
	q, err := inference.TQuantile((1+c.Options.Level)/2, float64(f.DF))
	if err != nil {
		return nil, err
	}
	half := q * f.FC.SE
	return answers{
		"fc": f.FC.Value, "f0": f.F0.Value, "k": f.K.Value, "order": []any{"fc", "f0", "k"},
		"se": []any{f.FC.SE, f.F0.SE, f.K.SE}, "rss": f.RSS, "df": float64(f.DF),
		"residual_sd": math.Sqrt(f.RSS / float64(f.DF)), "aic": aic(f.RSS, len(c.Input.T), 3),
		"fc_wald_ci":    []any{f.FC.Value - half, f.FC.Value + half},
		"fc_profile_ci": []any{f.FC.Low.V, f.FC.High.V},
	}, nil
}

// philipRate fits f = a + b t^(-1/2), which is linear.
func philipRate(c rateCase) (answers, error) {
	x := make([]float64, len(c.Input.T))
	for n, t := range c.Input.T {
		x[n] = 1 / math.Sqrt(t)
	}
	l, err := inference.LinearRegression(x, c.Input.Rate, 0.95)
	if err != nil {
		return nil, err
	}
	rss := l.ResidualSD.V * l.ResidualSD.V * float64(len(x)-2)
	return answers{
		"a": l.Intercept.Value.V, "b": l.Slope.Value.V, "se": []any{l.Intercept.SE.V, l.Slope.SE.V},
		"rss": rss, "aic": aic(rss, len(x), 2),
	}, nil
}

func tailSlope(c rateCase) (answers, error) {
	l, err := inference.LinearRegression(c.Input.T, c.Input.Rate, c.Options.Level)
	if err != nil {
		return nil, err
	}
	mean := 0.0
	for _, v := range c.Input.Rate {
		mean += v / float64(len(c.Input.Rate))
	}
	return answers{
		"mean": mean, "slope": l.Slope.Value.V, "slope_ci": []any{l.Slope.Low.V, l.Slope.High.V}, "slope_p": l.Slope.P.V,
		"steady": l.Slope.Low.V <= 0 && l.Slope.High.V >= 0,
	}, nil
}
