package analysis

import (
	"fmt"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/result"
	"sheetwash/analysis/season"
)

// Folded explains the rows of the tables that all datasets make together:
// treatment_results. Their leaves are rows of plot_results by their keys, each of
// which an Explainer explains.
type Folded struct {
	all  *result.Analysis
	plan Plan
}

// NewFolded folds the parts of a season. Errors: ErrPlan.
func NewFolded(parts []Part, plan Plan) (*Folded, error) {
	a, err := Fold(parts, plan)
	return &Folded{all: a, plan: plan}, err
}

// Explain returns the derivation of the row of a key. Errors: those of Explainer.Explain.
func (f *Folded) Explain(key string) (derivation.Node, error) {
	for i := range f.all.Treatments {
		r := &f.all.Treatments[i]
		if r.Key() != key {
			continue
		}
		n, ok, err := season.Derive(f.all.Plots, f.plan.Level, r)
		switch {
		case err != nil:
			return n, err
		case !ok:
			return n, fmt.Errorf("%s: %w", key, ErrNoDerivation)
		}
		n.Key, n.Method, n.Unit, n.Level = key, r.Method, r.Unit, r.Level
		n.Low, n.High, n.U = derivation.Number(r.Low), derivation.Number(r.High), derivation.Number(r.UMeasurement)
		n.Flags = meanings(r.Flags)
		return n, agrees(&n, key, r.Value)
	}
	return derivation.Node{}, &Unknown{Key: key, Nearest: derivation.Nearest(key, f.Keys(), nearest)}
}

// Keys returns the keys of the rows that Explain knows.
func (f *Folded) Keys() []string {
	var out []string
	for i := range f.all.Treatments {
		out = append(out, f.all.Treatments[i].Key())
	}
	return out
}
