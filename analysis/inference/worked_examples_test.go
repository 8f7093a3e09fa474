package inference_test

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strconv"
	"testing"

	"sheetwash/analysis/inference"
	"sheetwash/analysis/quantity"
)

// worked holds the inputs of a worked example, by the names of its row.
type worked struct {
	X, Y, A, B, U, DF       []float64
	Time, Time1, Time2      []float64
	Event, Event1, Event2   []float64
	At, Base, Lo, Hi, Pairs float64
	HalfWidth               float64 `json:"half_width"`
	Step                    float64
	PTwoSided               float64 `json:"p_two_sided"`
	Stat, What              string
	Intercept               *bool
}

// workedQuantities maps quantities of the worked examples to our code. The
// source of every expected number stands in the row's source column.
var workedQuantities = map[string]func(worked, float64) (quantity.Optional, error){
	"mean": func(w worked, _ float64) (quantity.Optional, error) { return inference.Mean(w.X) },
	"sd":   func(w worked, _ float64) (quantity.Optional, error) { return inference.SD(w.X) },
	"sem": func(w worked, _ float64) (quantity.Optional, error) {
		d, err := inference.Describe(w.X)
		return d.SE, err
	},
	"numacc": func(w worked, _ float64) (quantity.Optional, error) {
		x := []float64{w.Base}
		for range int(w.Pairs) {
			x = append(x, w.Lo, w.Hi)
		}
		if w.Stat == "mean" {
			return inference.Mean(x)
		}
		return inference.SD(x)
	},
	"u_rectangular": func(w worked, _ float64) (quantity.Optional, error) { return some(inference.URectangular(w.HalfWidth)) },
	"u_triangular":  func(w worked, _ float64) (quantity.Optional, error) { return some(inference.UTriangular(w.HalfWidth)) },
	"u_resolution":  func(w worked, _ float64) (quantity.Optional, error) { return some(inference.UResolution(w.Step)) },
	"combined_u":    func(w worked, _ float64) (quantity.Optional, error) { return some(inference.CombinedU(w.U)) },
	"welch_satterthwaite": func(w worked, _ float64) (quantity.Optional, error) {
		return inference.WelchSatterthwaite(w.U, w.DF)
	},
	"t_quantile": func(w worked, df float64) (quantity.Optional, error) {
		return some(inference.TQuantile(1-(1-w.PTwoSided)/2, df))
	},
	"paired_t":     func(w worked, _ float64) (quantity.Optional, error) { return workedDifference(w, inference.PairedT) },
	"welch_t":      func(w worked, _ float64) (quantity.Optional, error) { return workedDifference(w, inference.WelchT) },
	"linreg":       func(w worked, _ float64) (quantity.Optional, error) { return workedLine(w) },
	"km_survival":  func(w worked, _ float64) (quantity.Optional, error) { return workedSurvival(w, "share") },
	"km_se":        func(w worked, _ float64) (quantity.Optional, error) { return workedSurvival(w, "se") },
	"km_median":    func(w worked, _ float64) (quantity.Optional, error) { return workedSurvival(w, "median") },
	"logrank_chi2": func(w worked, _ float64) (quantity.Optional, error) { return workedLogRank(w) },
}

func TestWorkedExamples(t *testing.T) {
	f, err := os.Open("../../testdata/reference/worked_examples.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	n := 0
	for _, row := range rows[1:] {
		compute, ok := workedQuantities[row[column["quantity"]]]
		if !ok {
			continue
		}
		n++
		t.Run(row[column["id"]], func(t *testing.T) {
			w, df, err := parseWorked(row[column["inputs"]])
			if err != nil {
				t.Fatal(err)
			}
			want, err := strconv.ParseFloat(row[column["expected"]], 64)
			if err != nil {
				t.Fatal(err)
			}
			tolerance, err := strconv.ParseFloat(row[column["tolerance"]], 64)
			if err != nil {
				t.Fatal(err)
			}
			got, err := compute(w, df)
			if err != nil || !got.OK || math.Abs(got.V-want) > tolerance {
				t.Errorf("%s = %v, %v; want %v ± %v (%s)", row[column["quantity"]], got, err, want, tolerance, row[column["source"]])
			}
		})
	}
	if n == 0 {
		t.Error("no worked example of this package found")
	}
}

// parseWorked reads the inputs; df is a list for one quantity and a number for another.
func parseWorked(text string) (w worked, df float64, err error) {
	var raw map[string]json.RawMessage
	if err := json.Unmarshal([]byte(text), &raw); err != nil {
		return w, 0, err
	}
	if b, ok := raw["df"]; ok && json.Unmarshal(b, &df) == nil {
		delete(raw, "df")
	}
	rest, err := json.Marshal(raw)
	if err != nil {
		return w, 0, err
	}
	return w, df, json.Unmarshal(rest, &w)
}

func some(v float64, err error) (quantity.Optional, error) { return quantity.Some(v), err }

func workedDifference(w worked, f func(a, b []float64, level float64) (inference.Difference, error)) (quantity.Optional, error) {
	d, err := f(w.A, w.B, 0.95)
	if err != nil {
		return quantity.None(), err
	}
	of := map[string]quantity.Optional{
		"mean_diff": d.Value, "diff": d.Value, "t": d.T, "df": d.DF, "p": d.P, "lo": d.Low, "hi": d.High, "sd_diff": d.SD, "sd": d.SD, "se": d.SE,
	}
	v, ok := of[w.What]
	if !ok {
		return v, fmt.Errorf("unknown result %q", w.What)
	}
	return v, nil
}

func workedLine(w worked) (quantity.Optional, error) {
	fit := inference.LinearRegression
	if w.Intercept != nil && !*w.Intercept {
		fit = inference.LinearThroughOrigin
	}
	l, err := fit(w.X, w.Y, 0.95)
	if err != nil {
		return quantity.None(), err
	}
	of := map[string]quantity.Optional{
		"intercept": l.Intercept.Value, "slope": l.Slope.Value, "se_slope": l.Slope.SE, "se_intercept": l.Intercept.SE,
		"r2": l.RSquared, "r_squared": l.RSquared, "residual_sd": l.ResidualSD,
	}
	if l.RSquared.OK {
		of["r"] = quantity.Some(math.Copysign(math.Sqrt(max(0, l.RSquared.V)), l.Slope.Value.V))
	}
	v, ok := of[w.What]
	if !ok {
		return v, fmt.Errorf("unknown result %q", w.What)
	}
	return v, nil
}

func workedSurvival(w worked, what string) (quantity.Optional, error) {
	s, err := inference.KaplanMeier(w.Time, happened(w.Event), 0.95)
	if err != nil {
		return quantity.None(), err
	}
	switch what {
	case "share":
		return quantity.Some(s.At(w.At).Share), nil
	case "se":
		return s.At(w.At).SE, nil
	}
	return s.Quantile(0.5).Value, nil
}

func workedLogRank(w worked) (quantity.Optional, error) {
	var group []string
	for range w.Time1 {
		group = append(group, "1")
	}
	for range w.Time2 {
		group = append(group, "2")
	}
	time := append(append([]float64{}, w.Time1...), w.Time2...)
	event := append(happened(w.Event1), happened(w.Event2)...)
	l, err := inference.LogRank(time, event, group, 0)
	return l.ChiSquared, err
}

func happened(event []float64) []bool {
	out := make([]bool, len(event))
	for i, e := range event {
		out[i] = e == 1
	}
	return out
}
