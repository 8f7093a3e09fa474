package derivation

import (
	"errors"
	"fmt"
	"maps"
	"math"
)

// ErrDiffers is returned for a tree that does not give its value.
var ErrDiffers = errors.New("the derivation does not give the value")

// Tolerance is the relative difference up to which a tree gives its value.
const Tolerance = 1e-12

// Check evaluates the tree from what was read on and compares every value on the
// way. Errors: ErrDiffers, ErrEquation, with the place in the tree.
func (n *Node) Check() error {
	_, err := n.evaluated()
	if err != nil {
		return err
	}
	for i := range n.Beside {
		if err := n.Beside[i].Check(); err != nil {
			return err
		}
	}
	return nil
}

// evaluated returns the number, or the list, that a node gives.
func (n *Node) evaluated() (any, error) {
	env := names{}
	values := make([]float64, 0, len(n.Inputs))
	for i := range n.Inputs {
		v, err := n.Inputs[i].evaluated()
		if err != nil {
			return nil, fmt.Errorf("%s: %w", n.Name, err)
		}
		env[n.Inputs[i].Name] = v
		if x, ok := v.(float64); ok {
			values = append(values, x)
		}
	}
	if n.Fit != nil {
		if err := n.Fit.check(env); err != nil {
			return nil, fmt.Errorf("%s: %w", n.Name, err)
		}
	}
	if n.Operation == List {
		return values, nil
	}
	if n.Value == nil {
		if n.Equation != "" || n.Operation != "" {
			return nil, fmt.Errorf("%s: %w: there is an equation and no value", n.Name, ErrDiffers)
		}
		return math.NaN(), nil
	}
	got := *n.Value
	var err error
	switch {
	case n.Equation != "":
		got, err = evaluate(n.Equation, env)
	case n.Operation != "":
		got, err = n.Operation.over(values)
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", n.Name, err)
	}
	if !Same(got, *n.Value) && !(math.Abs(got-*n.Value) <= rounding*largest(env)) {
		return nil, fmt.Errorf("%s: %w: %v, not %v", n.Name, ErrDiffers, got, *n.Value)
	}
	return got, nil
}

func (o Operation) over(values []float64) (float64, error) {
	name := map[Operation]string{Sum: "sum", Mean: "mean", Largest: "max", Least: "min"}[o]
	if o == Sum && len(values) == 0 {
		return 0, nil
	}
	v, ok := apply(name, []any{values})
	if !ok {
		return 0, fmt.Errorf("%w: no operation %q over %d inputs", ErrEquation, o, len(values))
	}
	return v, nil
}

// rounding is the share of the largest input by which a value may miss where its
// digits cancel, as in a difference of equal means: four units of the last place.
const rounding = 1e-15

func largest(env names) float64 {
	var most float64
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

// Same reports whether two numbers are the same within Tolerance.
func Same(a, b float64) bool {
	return a == b || math.Abs(a-b) <= Tolerance*math.Max(math.Abs(a), math.Abs(b))
}

// check evaluates the objective of a fit, puts its parameters and constants among
// the names that the equation of its node may use, and compares.
func (f *Fit) check(env names) error {
	got, err := f.at(nil, env)
	if err != nil {
		return err
	}
	// A sum of squares of differences has lost digits where the curve goes through the data.
	if math.Abs(got-f.Objective) > 1e-8*(1+math.Abs(f.Objective)) {
		return fmt.Errorf("%w: objective %v, not %v", ErrDiffers, got, f.Objective)
	}
	return nil
}

// At returns the objective with other values of some parameters; those that are
// tied follow. Errors: ErrEquation, ErrDiffers.
func (f *Fit) At(values map[string]float64) (float64, error) { return f.at(values, names{}) }

func (f *Fit) at(values map[string]float64, env names) (float64, error) {
	for i := range f.Constants {
		v, err := f.Constants[i].evaluated()
		if err != nil {
			return 0, err
		}
		env[f.Constants[i].Name] = v
	}
	for _, p := range f.Parameters {
		env[p.Name] = p.Value
		if v, ok := values[p.Name]; ok {
			env[p.Name] = v
		}
	}
	for _, p := range f.Parameters {
		if p.Tied == "" || values == nil {
			continue
		}
		v, err := evaluate(p.Tied, env)
		if err != nil {
			return 0, err
		}
		env[p.Name] = v
	}
	return f.objective(maps.Clone(env))
}

func (f *Fit) objective(env names) (float64, error) {
	var total float64
	for k, d := range f.Data {
		for i := range d {
			v, err := d[i].evaluated()
			if err != nil {
				return 0, err
			}
			env[d[i].Name] = v
		}
		for _, def := range f.Definitions {
			v, err := evaluate(def.Equation, env)
			if err != nil {
				return 0, err
			}
			env[def.Name] = v
		}
		if len(f.Terms) > 0 {
			term, err := evaluate(f.Terms[min(k, len(f.Terms)-1)], env)
			if err != nil {
				return 0, err
			}
			total += term
			continue
		}
		r, err := evaluate(f.Residual, env)
		if err != nil {
			return 0, err
		}
		total += r * r
	}
	if f.Penalty == "" {
		return total, nil
	}
	p, err := evaluate(f.Penalty, env)
	return total + p, err
}
