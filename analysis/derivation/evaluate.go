package derivation

import (
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"maps"
	"math"
	"slices"
	"strconv"
)

// ErrEquation is returned for an equation that cannot be evaluated.
var ErrEquation = errors.New("equation")

// names holds the numbers and lists that an equation may speak of.
type names map[string]any // float64 or []float64

// evaluate returns the number that an equation gives. Equations have + - * /,
// brackets, numbers, names and the functions below.
func evaluate(equation string, env names) (float64, error) {
	e, err := parser.ParseExpr(equation)
	if err != nil {
		return 0, fmt.Errorf("%w %q: %w", ErrEquation, equation, err)
	}
	v, err := env.number(e)
	if err != nil {
		return 0, fmt.Errorf("%w %q: %w", ErrEquation, equation, err)
	}
	return v, nil
}

func (env names) number(e ast.Expr) (float64, error) {
	v, err := env.value(e)
	if err != nil {
		return 0, err
	}
	if x, ok := v.(float64); ok {
		return x, nil
	}
	return 0, errors.New("a list stands where a number should")
}

func (env names) value(e ast.Expr) (any, error) {
	switch e := e.(type) {
	case *ast.ParenExpr:
		return env.value(e.X)
	case *ast.BasicLit:
		return strconv.ParseFloat(e.Value, 64)
	case *ast.Ident:
		if v, ok := env[e.Name]; ok {
			return v, nil
		}
		return nil, fmt.Errorf("there is no input %q", e.Name)
	case *ast.UnaryExpr:
		x, err := env.number(e.X)
		if e.Op != token.SUB {
			return nil, fmt.Errorf("no operator %s", e.Op)
		}
		return -x, err
	case *ast.BinaryExpr:
		return env.binary(e)
	case *ast.CallExpr:
		return env.call(e)
	}
	return nil, fmt.Errorf("%T is no part of an equation", e)
}

func (env names) binary(e *ast.BinaryExpr) (any, error) {
	x, err := env.number(e.X)
	if err != nil {
		return nil, err
	}
	y, err := env.number(e.Y)
	if err != nil {
		return nil, err
	}
	switch e.Op {
	case token.ADD:
		return x + y, nil
	case token.SUB:
		return x - y, nil
	case token.MUL:
		return x * y, nil
	case token.QUO:
		return x / y, nil
	}
	return nil, fmt.Errorf("no operator %s", e.Op)
}

func (env names) call(e *ast.CallExpr) (any, error) {
	name, ok := e.Fun.(*ast.Ident)
	if !ok {
		return nil, errors.New("a call of no function")
	}
	if name.Name == normalMean && len(e.Args) == 2 {
		return env.normalMean(e.Args[0], e.Args[1])
	}
	args := make([]any, len(e.Args))
	for i, a := range e.Args {
		v, err := env.value(a)
		if err != nil {
			return nil, err
		}
		args[i] = v
	}
	if v, ok := apply(name.Name, args); ok {
		return v, nil
	}
	return nil, fmt.Errorf("no function %s of %d such arguments", name.Name, len(args))
}

// normalMean is the name of the mean of an expression over a standard normal
// variable: normal_mean(u, exp(-mu * u)).
const normalMean = "normal_mean"

// normalMean is the integral of phi(u) times the expression by the trapezoidal rule,
// whose error vanishes faster than any power of the step for such smooth functions; it is
// below 1e-12 where the expression is no sharper than a normal density of deviation 0.04.
func (env names) normalMean(variable, expression ast.Expr) (any, error) {
	u, ok := variable.(*ast.Ident)
	if !ok {
		return nil, errors.New("a mean over no variable")
	}
	nested := false // would take hundreds of times as long for each
	ast.Inspect(expression, func(n ast.Node) bool {
		name, ok := n.(*ast.Ident)
		nested = nested || ok && name.Name == normalMean
		return !nested
	})
	if nested {
		return nil, errors.New("a mean within a mean")
	}
	const end, step = 9, 0.03
	inner := maps.Clone(env)
	total := 0.0
	for i := range int(2*end/step) + 1 {
		v := step*float64(i) - end
		inner[u.Name] = v
		x, err := inner.number(expression)
		if err != nil {
			return nil, err
		}
		total += x * math.Exp(-v*v/2)
	}
	return total * step / math.Sqrt(2*math.Pi), nil
}

// The functions of equations by what they take.
var (
	ofNumber = map[string]func(float64) float64{"sqrt": math.Sqrt, "exp": math.Exp, "expm1": math.Expm1, "log": math.Log, "log1p": math.Log1p, "abs": math.Abs, "erfc": math.Erfc, "log10": math.Log10}
	ofTwo    = map[string]func(x, y float64) float64{"min": math.Min, "max": math.Max, "pow": math.Pow, "hypot": math.Hypot, "growth_root": growthRoot, "decay_root": decayRoot}
	ofList   = map[string]func([]float64) float64{
		"sum": sum, "mean": mean, "min": slices.Min[[]float64], "max": slices.Max[[]float64],
		"len": func(x []float64) float64 { return float64(len(x)) }, "sd": sd, "mean_deviation": meanDeviation,
	}
)

// apply applies a function; false where there is none for such arguments.
func apply(name string, args []any) (float64, bool) {
	numbers, lists := make([]float64, 0, 2), make([][]float64, 0, 2)
	for _, a := range args {
		switch a := a.(type) {
		case float64:
			numbers = append(numbers, a)
		case []float64:
			lists = append(lists, a)
		}
	}
	switch {
	case len(numbers) == 1 && len(lists) == 0 && ofNumber[name] != nil:
		return ofNumber[name](numbers[0]), true
	case len(numbers) == 2 && len(lists) == 0 && ofTwo[name] != nil:
		return ofTwo[name](numbers[0], numbers[1]), true
	case len(numbers) == 0 && len(lists) == 1 && len(lists[0]) > 0 && ofList[name] != nil:
		return ofList[name](lists[0]), true
	case name == "dot" && len(lists) == 2 && len(lists[0]) == len(lists[1]):
		return dot(lists[0], lists[1]), true
	case name == "median_difference" && len(lists) == 2:
		return medianDifference(lists[0], lists[1]), true
	case name == "line_slope" && len(lists) == 2 && len(lists[0]) == len(lists[1]):
		return slope(lists[0], lists[1]), true
	case name == "lowest" && len(lists) == 1 && len(numbers) == 1:
		return lowest(lists[0], numbers[0]), true
	}
	return 0, false
}

func sum(x []float64) float64 {
	var s float64
	for _, v := range x {
		s += v
	}
	return s
}

func mean(x []float64) float64 { return sum(x) / float64(len(x)) }

// dot is the sum of the products of two lists.
func dot(x, y []float64) float64 {
	var s float64
	for i, v := range x {
		s += v * y[i]
	}
	return s
}

// sd is the standard deviation with n - 1; 0 for one value.
func sd(x []float64) float64 {
	if len(x) < 2 {
		return 0
	}
	m := mean(x)
	var s float64
	for _, v := range x {
		s += (v - m) * (v - m)
	}
	return math.Sqrt(s / float64(len(x)-1))
}

// meanDeviation is the mean of the distances from the mean.
func meanDeviation(x []float64) float64 {
	m := mean(x)
	var s float64
	for _, v := range x {
		s += math.Abs(v - m)
	}
	return s / float64(len(x))
}

// medianDifference is the median of all differences of a value of x and one of y.
func medianDifference(x, y []float64) float64 {
	all := make([]float64, 0, len(x)*len(y))
	for _, a := range x {
		for _, b := range y {
			all = append(all, a-b)
		}
	}
	slices.Sort(all)
	n := len(all)
	if n == 0 {
		return math.NaN()
	}
	return (all[(n-1)/2] + all[n/2]) / 2
}

// slope is that of the least-squares line of y against x.
func slope(x, y []float64) float64 {
	mx, my := mean(x), mean(y)
	var xx, xy float64
	for i := range x {
		xx += (x[i] - mx) * (x[i] - mx)
		xy += (x[i] - mx) * (y[i] - my)
	}
	return xy / xx
}

// lowest is the sum of the k lowest, the last of them in part where k is no
// whole number.
func lowest(x []float64, k float64) float64 {
	var s float64
	for _, v := range slices.Sorted(slices.Values(x)) {
		w := math.Min(k, 1)
		s += w * v
		if k -= w; k <= 0 {
			break
		}
	}
	return s
}
