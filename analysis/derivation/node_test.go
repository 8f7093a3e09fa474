package derivation_test

import (
	"encoding/json"
	"errors"
	"reflect"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"sheetwash/analysis/derivation"
)

// depth is a small tree: 300 mL on 0.5 m2 are 0.6 mm.
func depth() derivation.Node {
	at := func(row int64, column string) derivation.Place {
		return derivation.Place{File: "samples.csv", Row: row, Column: column}
	}
	volume := derivation.Of("volume", 300, "mL", derivation.Sum,
		derivation.Read("volume", 100, "mL", 2, at(2, "volume")), derivation.Read("volume", 200, "mL", 2.2, at(3, "volume")))
	area := derivation.Read("area", 0.5, "m2", 0.0025, derivation.Place{File: "plots.csv", Row: 2, Column: "area"})
	return derivation.Formula("runoff_depth", 0.6, "mm", "volume / (1000 * area)", volume, area).With(0.0067)
}

func TestCheck(t *testing.T) {
	n := depth()
	if err := n.Check(); err != nil {
		t.Fatal(err)
	}
	for what, spoil := range map[string]func(*derivation.Node){
		"a value":             func(n *derivation.Node) { *n.Value += 1e-9 },
		"a leaf":              func(n *derivation.Node) { *n.Inputs[0].Inputs[0].Value = 101 },
		"a list":              func(n *derivation.Node) { n.Inputs[0].Inputs = n.Inputs[0].Inputs[:1] },
		"a missing value":     func(n *derivation.Node) { n.Value = nil },
		"a value beside":      func(n *derivation.Node) { n.Beside = []derivation.Node{derivation.Of("x", 1, "", derivation.Sum)} },
		"an unlike operation": func(n *derivation.Node) { n.Inputs[0].Operation = derivation.Largest },
	} {
		n := depth()
		spoil(&n)
		if err := n.Check(); !errors.Is(err, derivation.ErrDiffers) {
			t.Errorf("%s was changed: %v", what, err)
		}
	}
	n.Equation = "volume /"
	if err := n.Check(); !errors.Is(err, derivation.ErrEquation) {
		t.Errorf("an equation that is none: %v", err)
	}
}

// The line y = 1 + 2 x through (0, 1.5), (1, 2.5), (2, 5.5): residuals 0.5, -0.5,
// 0.5, an objective of 0.75.
func TestCheckFit(t *testing.T) {
	f := &derivation.Fit{
		Parameters: []derivation.Parameter{{Name: "a", Value: 1}, {Name: "b", Value: 2}}, Residual: "y - model",
		Definitions: []derivation.Definition{{Name: "model", Equation: "a + b * x"}}, Objective: 0.75,
	}
	for i, y := range []float64{1.5, 2.5, 5.5} {
		f.Data = append(f.Data, derivation.Datum{derivation.Value("x", float64(i), ""), derivation.Value("y", y, "")})
	}
	n := derivation.Formula("slope", 2, "", "b")
	n.Fit = f
	if err := n.Check(); err != nil {
		t.Error(err)
	}
	if at, err := f.At(map[string]float64{"a": 1.5}); err != nil || at != 1 { // residuals 0, -1, 0
		t.Errorf("the objective at another parameter is %v, %v", at, err)
	}
	f.Objective = 0.7
	if err := n.Check(); !errors.Is(err, derivation.ErrDiffers) {
		t.Errorf("another objective: %v", err)
	}
	f.Terms, f.Objective = []string{"x + y"}, 12.5
	if err := n.Check(); err != nil {
		t.Errorf("a sum of terms: %v", err)
	}
}

func TestShorten(t *testing.T) {
	twice := derivation.Formula("sum", 1.2, "mm", "runoff_depth + again", depth(), derivation.Formula("again", 0.6, "mm", "runoff_depth", depth()))
	whole := twice.Copy()
	twice.Shorten()
	if err := twice.Check(); err != nil {
		t.Error(err)
	}
	if again := twice.Inputs[1].Inputs[0]; again.See != "runoff_depth" || len(again.Inputs) > 0 || len(twice.Inputs[0].Inputs) == 0 {
		t.Errorf("shortened to %+v", twice)
	}
	if !reflect.DeepEqual(whole.Inputs[1].Inputs[0], depth()) {
		t.Error("the copy was shortened as well")
	}
}

func TestJSONKeepsAllDigits(t *testing.T) {
	n := depth()
	text, err := json.Marshal(&n)
	if err != nil {
		t.Fatal(err)
	}
	var back derivation.Node
	if err := json.Unmarshal(text, &back); err != nil || !reflect.DeepEqual(n, back) {
		t.Errorf("%v: %s", err, text)
	}
	if none, _ := json.Marshal(derivation.Empty("x", "mm")); !strings.Contains(string(none), `"value":null`) {
		t.Errorf("no value is %s", none)
	}
}

func TestText(t *testing.T) {
	n := depth()
	n.LeftOut = []derivation.Omission{{What: "row from 10 to 15 min", Why: "the bottle was lost: its interval is a gap"}}
	n.Data = []derivation.Data{{Dataset: "d", SHA256: strings.Repeat("0", 64)}}
	const want = `runoff_depth   0.6000 ± 0.0067 mm

= volume / (1000 * area)
left out: row from 10 to 15 min: the bottle was lost: its interval is a gap
├─ volume  300 mL
│  │  = sum of 2
│  ├─ volume  100.0 ± 2.0 mL  samples.csv row 2, volume
│  └─ volume  200.0 ± 2.2 mL  samples.csv row 3, volume
└─ area    0.5000 ± 0.0025 m2  plots.csv row 2, area

Data    d, SHA-256
        0000000000000000000000000000000000000000000000000000000000000000
`
	if got := n.Text(derivation.Layout{}); normal(got) != normal(want) {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	if got := n.Text(derivation.Layout{Depth: 1}); strings.Contains(got, "100.0") {
		t.Errorf("of one level:\n%s", got)
	}
}

// normal drops what aligns columns.
func normal(text string) string {
	var out []string
	for _, line := range strings.Split(text, "\n") {
		out = append(out, strings.Join(strings.Fields(line), " "))
	}
	return strings.Join(out, "\n")
}

// Forty bottles are not printed one by one where each has a tree, and no line is
// wider than it may be unless a word is.
func TestTextIsAbridged(t *testing.T) {
	all := derivation.Of("depth", 24, "mm", derivation.Sum)
	for range 40 {
		all.Inputs = append(all.Inputs, depth())
	}
	text := all.Text(derivation.Layout{Width: 60})
	if !strings.Contains(text, "35 more like these") || strings.Count(text, "plots.csv") != 5 {
		t.Errorf("not abridged:\n%s", text)
	}
	for _, line := range strings.Split(text, "\n") {
		if utf8.RuneCountInString(line) > 60 {
			t.Errorf("%d columns: %s", utf8.RuneCountInString(line), line)
		}
	}
}

func TestNearest(t *testing.T) {
	keys := []string{"plot_results/a/1/soil_loss", "plot_results/a/1/rain_depth", "fits/a/1/k"}
	if got := derivation.Nearest("plot_results/a/1/soil_los", keys, 2); !slices.Equal(got, keys[:2]) {
		t.Errorf("nearest are %v", got)
	}
}

// A budget is written by shares of the square: 0.06 and 0.03 mm of 0.00450, 80 and 20 %.
func TestBudgetText(t *testing.T) {
	n := depth()
	n.Budget = &derivation.Budget{Equation: "volume / (1000 area)", U: 0.0671, Unit: "mm", Lines: []derivation.BudgetLine{
		{Input: "area", Value: 0.5, Unit: "m2", U: 0.025, Sensitivity: -1.2, Contribution: 0.03, Common: true},
		{Input: "volume", Value: 300, Unit: "mL", U: 30, Sensitivity: 0.002, Contribution: 0.06},
		{Input: "nothing", Unit: "mL"},
	}}
	text := n.Text(derivation.Layout{})
	want := "\nu = 0.067 mm of volume / (1000 area)\n   80 %  volume   300 ± 30 mL\n   20 %  area     0.500 ± 0.025 m2, common\n\n"
	if !strings.Contains(text, want) {
		t.Errorf("%s\nwants %s", text, want)
	}
	data, err := json.Marshal(&n)
	if err != nil {
		t.Fatal(err)
	}
	var back derivation.Node
	if err := json.Unmarshal(data, &back); err != nil || !reflect.DeepEqual(back.Budget, n.Budget) {
		t.Errorf("%v: %+v", err, back.Budget)
	}
}
