package derivation

import (
	"errors"
	"math"
	"testing"

	"github.com/expr-lang/expr"
	"pgregory.net/rapid"
)

// Values worked by hand: 0.06 * 250 / (0.5 * 5) = 6; the lowest 2.5 of 1, 2, 3, 4
// are 1 + 2 + 1.5; the mean distance of 1, 2, 6 from 3 is (2 + 1 + 3)/3; the line
// through (0, 1), (1, 3), (2, 5) has the slope 2.
func TestEvaluate(t *testing.T) {
	env := names{"volume": 250.0, "area": 0.5, "minutes": 5.0, "x": []float64{1, 2, 3, 4}, "y": []float64{1, 2, 6}, "t": []float64{0, 1, 2}, "v": []float64{1, 3, 5}}
	for equation, want := range map[string]float64{
		"0.06 * volume / (area * minutes)": 6, "-area": -0.5, "max(0, area - 1)": 0, "min(x)": 1, "max(x)": 4, "sum(x) / len(x)": 2.5,
		"mean(x)": 2.5, "lowest(x, 2.5)": 4.5, "mean_deviation(y)": 2, "sd(v)": 2, "dot(t, v)": 13, "line_slope(t, v)": 2,
		"exp(log(area))": 0.5, "hypot(3, 4)": 5, "pow(2, 3)": 8, "sqrt(16)": 4, "1e-3 * minutes": 0.005, "log10(1000)": 3, "erfc(0)": 1, "growth_root(0.5, 3 - log(3))": 2, "decay_root(0.25, 0.5 + 0.75 * (2 - 1 + exp(-2)))": 2,
		"normal_mean(u, 3)": 3, "normal_mean(u, u * u)": 1, "normal_mean(u, exp(2 * area * u))": math.Exp(0.5), "normal_mean(u, exp(-24 * u * u / 2))": 0.2,
		"growth_root(0, 1e-3 - log1p(1e-3))": 1e-3, "decay_root(0, 1e-3 + expm1(-1e-3))": 1e-3, "growth_root(1, 0)": 0, "growth_root(0.5, 1.5 * 40 - log(41))": 40,
	} {
		got, err := evaluate(equation, env)
		if err != nil || math.Abs(got-want) > 1e-12 {
			t.Errorf("%s = %v, %v, want %v", equation, got, err, want)
		}
	}
	for _, equation := range []string{"", "volume +", "nothing", "x", "x + 1", "sin(area)", "max(area)", "sum(area)", "volume % area", "f.g(x)", "dot(x, y)", "!area", `"a"`, "0x1p-2 << 3", "sum()", "mean(x)(x)", "normal_mean(2, u)", "normal_mean(u, x)", "normal_mean(u)", "normal_mean(u, normal_mean(v, u * v))"} {
		if v, err := evaluate(equation, env); !errors.Is(err, ErrEquation) {
			t.Errorf("%q = %v, %v, want an error", equation, v, err)
		}
	}
}

// Equations mean the same to a library that we have not written.
func TestEvaluateAsLibrary(t *testing.T) {
	operators := []string{" + ", " - ", " * ", " / "}
	rapid.Check(t, func(t *rapid.T) {
		var build func(depth int) string
		build = func(depth int) string {
			if depth == 0 || rapid.Bool().Draw(t, "leaf") {
				return rapid.SampledFrom([]string{"a", "b", "c", "2.5", "0.06"}).Draw(t, "name")
			}
			text := build(depth-1) + rapid.SampledFrom(operators).Draw(t, "operator") + build(depth-1)
			return rapid.SampledFrom([]string{text, "(" + text + ")", "max(" + text + ", a)", "-(" + text + ")"}).Draw(t, "form")
		}
		equation := build(4)
		env := map[string]any{"a": 1.25, "b": -3.5, "c": 7.0}
		want, err := expr.Eval(equation, env)
		if err != nil {
			t.Fatal(err)
		}
		got, err := evaluate(equation, names(env))
		w, _ := want.(float64)
		if err != nil || !(got == w || math.IsNaN(got) && math.IsNaN(w)) {
			t.Fatalf("%s = %v, %v, want %v", equation, got, err, want)
		}
	})
}

func FuzzEvaluate(f *testing.F) {
	for _, s := range []string{"a * (b + 1)", "sum(x)", "lowest(x, a)", "((((a))))", "-a--a", "dot(x, x)", "normal_mean(u, a * u)"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, equation string) {
		if _, err := evaluate(equation, names{"a": 1.0, "b": 2.0, "x": []float64{3, 4}}); err != nil && !errors.Is(err, ErrEquation) {
			t.Errorf("%q: %v", equation, err)
		}
	})
}
