package acceptance

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/expr-lang/expr"
	"github.com/expr-lang/expr/vm"
	"gonum.org/v1/gonum/stat"

	"sheetwash/analysis"
	"sheetwash/analysis/derivation"
	"sheetwash/analysis/result"
)

// Every row of the demo season and of the hand-worked dataset has a derivation,
// and an evaluator that is none of ours gets its value from what was read.
func TestExplainEveryRow(t *testing.T) {
	for _, path := range []string{"../../../testdata/demo-season", handWorked} {
		datasets := read(t, path)
		calibrations := analysis.Calibrations(datasets)
		plan := analysis.DefaultPlan()
		plan.Models = path == handWorked // every model, where there are few plots
		e := newEvaluator()
		without := map[string]int{}
		rows, nodes := 0, 0
		var parts []analysis.Part
		for _, d := range datasets {
			explainer, err := analysis.NewExplainer(context.Background(), d, calibrations, plan)
			if err != nil {
				t.Fatal(err)
			}
			parts = append(parts, *explainer.Part())
			for _, key := range explainer.Part().Keys() {
				rows++
				n, err := explainer.Explain(key)
				if err != nil {
					without[fmt.Sprintf("%v", err)]++
					continue
				}
				nodes += e.checkRoot(t, key, &n)
			}
		}
		folded, err := analysis.NewFolded(parts, plan)
		if err != nil {
			t.Fatal(err)
		}
		for _, key := range folded.Keys() {
			rows++
			n, err := folded.Explain(key)
			if err != nil {
				without[fmt.Sprintf("%v", err)]++
				continue
			}
			nodes += e.checkRoot(t, key, &n)
		}
		for _, w := range slices.Sorted(keysOf(without)) {
			t.Error(w)
		}
		t.Logf("%s: %d rows, %d nodes", path, rows, nodes)
	}
}

func keysOf(m map[string]int) func(func(string) bool) {
	return func(yield func(string) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

// evaluator evaluates the equations of derivations with a library.
type evaluator struct {
	options  []expr.Option
	programs map[string]*vm.Program
}

func newEvaluator() *evaluator {
	e := &evaluator{programs: map[string]*vm.Program{}}
	number := func(name string, f func(float64) float64) {
		e.options = append(e.options, expr.Function(name, func(a ...any) (any, error) { return f(toNumber(a[0])), nil }))
	}
	list := func(name string, f func([]float64) float64) {
		e.options = append(e.options, expr.Function(name, func(a ...any) (any, error) { return f(a[0].([]float64)), nil }))
	}
	number("sqrt", math.Sqrt)
	number("exp", math.Exp)
	number("expm1", math.Expm1)
	number("log", math.Log)
	number("log1p", math.Log1p)
	number("log10", math.Log10)
	number("erfc", math.Erfc)
	list("sd", func(x []float64) float64 { return stat.StdDev(x, nil) })
	list("mean_deviation", func(x []float64) float64 {
		m, s := stat.Mean(x, nil), 0.0
		for _, v := range x {
			s += math.Abs(v-m) / float64(len(x))
		}
		return s
	})
	e.options = append(e.options,
		expr.Function("growth_root", halved(func(q, z float64) float64 { return q*z + z - math.Log1p(z) })),
		expr.Function("decay_root", halved(func(q, w float64) float64 { return q*w + (1-q)*(w+math.Expm1(-w)) })),
		expr.Function("median_difference", func(a ...any) (any, error) {
			var all []float64
			for _, x := range a[0].([]float64) {
				for _, y := range a[1].([]float64) {
					all = append(all, x-y)
				}
			}
			slices.Sort(all)
			return (all[(len(all)-1)/2] + all[len(all)/2]) / 2, nil
		}),
		expr.Function("line_slope", func(a ...any) (any, error) {
			_, b := stat.LinearRegression(a[0].([]float64), a[1].([]float64), nil, false)
			return b, nil
		}),
		expr.Function("pow", func(a ...any) (any, error) { return math.Pow(toNumber(a[0]), toNumber(a[1])), nil }),
		expr.Function("hypot", func(a ...any) (any, error) { return math.Hypot(toNumber(a[0]), toNumber(a[1])), nil }),
		expr.Function("dot", func(a ...any) (any, error) {
			x, y, s := a[0].([]float64), a[1].([]float64), 0.0
			for i := range x {
				s += x[i] * y[i]
			}
			return s, nil
		}),
		expr.Function("lowest", func(a ...any) (any, error) {
			x, k, s := slices.Sorted(slices.Values(a[0].([]float64))), toNumber(a[1]), 0.0
			for i := 0; float64(i) < k; i++ {
				s += x[i] * math.Min(1, k-float64(i))
			}
			return s, nil
		}))
	return e
}

// halved gives the root of f(q, z) = c by halving; the program has Newton's steps.
func halved(f func(q, z float64) float64) func(...any) (any, error) {
	return func(a ...any) (any, error) {
		q, c := toNumber(a[0]), toNumber(a[1])
		low, high := 0.0, 1.0
		for f(q, high) < c {
			high *= 2
		}
		for range 200 {
			if m := (low + high) / 2; f(q, m) < c {
				low = m
			} else {
				high = m
			}
		}
		return high, nil
	}
}

func toNumber(v any) float64 {
	switch v := v.(type) {
	case int:
		return float64(v)
	case float64:
		return v
	}
	return math.NaN()
}

// integrals writes normal_mean(u, f(u)) as a sum over a grid, finer than ours.
func integrals(equation string) string {
	const form = "normal_mean(u, "
	from := strings.Index(equation, form)
	if from < 0 {
		return equation
	}
	depth, to := 1, from+len(form)
	for ; depth > 0; to++ {
		switch equation[to] {
		case '(':
			depth++
		case ')':
			depth--
		}
	}
	body := regexp.MustCompile(`\bu\b`).ReplaceAllString(equation[from+len(form):to-1], "(0.0125 * # - 9.5)")
	return equation[:from] + fmt.Sprintf("(0.0125 / sqrt(%v) * sum(0..1520, exp(-pow(0.0125 * # - 9.5, 2) / 2) * (%s)))", 2*math.Pi, body) + equation[to:]
}

func (e *evaluator) value(equation string, env map[string]any) (float64, error) {
	p, ok := e.programs[equation]
	if !ok {
		var err error
		if p, err = expr.Compile(integrals(equation), append([]expr.Option{expr.AllowUndefinedVariables()}, e.options...)...); err != nil {
			return 0, err
		}
		e.programs[equation] = p
	}
	v, err := expr.Run(p, env)
	if err != nil {
		return 0, err
	}
	return toNumber(v), nil
}

// checkRoot takes a tree through JSON, evaluates it, and returns its number of nodes.
func (e *evaluator) checkRoot(t *testing.T, key string, n *derivation.Node) int {
	t.Helper()
	text, err := json.Marshal(n)
	if err != nil {
		t.Errorf("%s: %v", key, err)
		return 0
	}
	var back derivation.Node
	if err := json.NewDecoder(bytes.NewReader(text)).Decode(&back); err != nil {
		t.Errorf("%s: %v", key, err)
		return 0
	}
	if table, _, _ := result.ParseKey(key); table != result.TableTreatments && table != result.TableComparisons && table != result.TableSeason && (len(back.Data) == 0 || len(back.Data[0].SHA256) != 64) {
		t.Errorf("%s: the root does not name its data", key)
	}
	count := 0
	back.Walk(func(n *derivation.Node) bool {
		count++
		if n.From != nil && (n.From.File == "" || n.From.Row == 0) {
			t.Errorf("%s: %s was read from nowhere: %+v", key, n.Name, *n.From)
		}
		if n.Equation == "" && n.Operation == "" && n.From == nil && n.See == "" && n.Key == "" && n.Fit == nil && n.Note == "" && n.Value == nil {
			t.Errorf("%s: %s has no origin", key, n.Name)
		}
		return true
	})
	for _, root := range append([]derivation.Node{back}, back.Beside...) {
		if _, err := e.check(&root); err != nil {
			t.Errorf("%s: %v", key, err)
		}
	}
	return count
}

// check evaluates a node from its leaves and compares it with its value.
func (e *evaluator) check(n *derivation.Node) (any, error) {
	env := map[string]any{}
	var values []float64
	for i := range n.Inputs {
		v, err := e.check(&n.Inputs[i])
		if err != nil {
			return nil, fmt.Errorf("%s: %w", n.Name, err)
		}
		env[n.Inputs[i].Name] = v
		if x, ok := v.(float64); ok {
			values = append(values, x)
		}
	}
	if n.Fit != nil {
		for _, p := range n.Fit.Parameters {
			env[p.Name] = p.Value
		}
		for i := range n.Fit.Constants {
			v, err := e.check(&n.Fit.Constants[i])
			if err != nil {
				return nil, err
			}
			env[n.Fit.Constants[i].Name] = v
		}
		if err := e.stationary(n.Fit); err != nil {
			return nil, fmt.Errorf("%s: %w", n.Name, err)
		}
	}
	if n.Operation == derivation.List {
		return values, nil
	}
	if n.Value == nil {
		return nil, nil
	}
	got, err := *n.Value, error(nil)
	switch {
	case n.Equation != "":
		got, err = e.value(n.Equation, env)
	case n.Operation == derivation.Sum:
		got = 0
		for _, v := range values {
			got += v
		}
	case n.Operation == derivation.Mean:
		got = stat.Mean(values, nil)
	case n.Operation == derivation.Largest:
		got = slices.Max(values)
	case n.Operation == derivation.Least:
		got = slices.Min(values)
	}
	// Where digits cancel, as in a difference of equal means, four units of the last
	// place of the largest input are all that can be had.
	if err == nil && !(math.Abs(got-*n.Value) <= math.Max(1e-12*math.Abs(*n.Value), 1e-15*largest(env))) {
		err = fmt.Errorf("%s = %v gives %v, not %v", n.Name, n.Equation, got, *n.Value)
	}
	return got, err
}

func largest(env map[string]any) float64 {
	most := 0.0
	for _, v := range env {
		switch v := v.(type) {
		case float64:
			most = math.Max(most, math.Abs(v))
		case []float64:
			for _, x := range v {
				most = math.Max(most, math.Abs(x))
			}
		}
	}
	return most
}

// stationary checks that the objective of a fit is what it says, and that its
// gradient is zero in the parameters that are free: with curvature c, a gradient of
// 1e-5 sqrt(c) leaves the objective within 1e-10 of its least, of which its
// differences tell no less.
func (e *evaluator) stationary(f *derivation.Fit) error {
	if len(f.Data) == 0 {
		return nil
	}
	data := make([]map[string]float64, len(f.Data))
	for i, d := range f.Data {
		data[i] = map[string]float64{}
		for k := range d {
			v, err := e.check(&d[k])
			if err != nil {
				return err
			}
			data[i][d[k].Name] = v.(float64)
		}
	}
	objective := func(by string, step float64) (float64, error) {
		env := map[string]any{}
		for i := range f.Constants {
			env[f.Constants[i].Name] = *f.Constants[i].Value
		}
		for _, p := range f.Parameters {
			env[p.Name] = p.Value
			if p.Name == by {
				env[p.Name] = p.Value + step
			}
		}
		for _, p := range f.Parameters {
			if p.Tied != "" {
				v, err := e.value(p.Tied, env)
				if err != nil {
					return 0, err
				}
				env[p.Name] = v
			}
		}
		total := 0.0
		for i := range data {
			for k, v := range data[i] {
				env[k] = v
			}
			for _, def := range f.Definitions {
				v, err := e.value(def.Equation, env)
				if err != nil {
					return 0, err
				}
				env[def.Name] = v
			}
			if f.Terms != nil {
				term, err := e.value(f.Terms[i], env)
				if err != nil {
					return 0, err
				}
				total += term
				continue
			}
			r, err := e.value(f.Residual, env)
			if err != nil {
				return 0, err
			}
			total += r * r
		}
		if f.Penalty == "" {
			return total, nil
		}
		p, err := e.value(f.Penalty, env)
		return total + p, err
	}
	least, err := objective("", 0)
	if err != nil {
		return err
	}
	if math.Abs(least-f.Objective) > 1e-8*(1+math.Abs(f.Objective)) {
		return fmt.Errorf("the objective is %v, not %v", least, f.Objective)
	}
	for _, p := range f.Parameters {
		if p.Held != "" || p.Tied != "" {
			continue
		}
		var gradient, curvature float64
		h := 1e-4 * math.Max(math.Abs(p.Value), 1e-3)
		for range 2 { // the second time with a step that suits the curvature
			up, err := objective(p.Name, h)
			if err != nil {
				return err
			}
			down, err := objective(p.Name, -h)
			if err != nil {
				return err
			}
			gradient, curvature = (up-down)/(2*h), (up-2*least+down)/(h*h)
			if curvature > 0 {
				h = math.Min(h, 1e-3/math.Sqrt(curvature))
			}
		}
		if !(curvature > 0) || math.Abs(gradient)/math.Sqrt(curvature) > 1e-5 {
			return fmt.Errorf("parameter %s = %v: gradient %v, curvature %v", p.Name, p.Value, gradient, curvature)
		}
	}
	return nil
}
