package analysis

import (
	"fmt"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/result"
	"sheetwash/analysis/season"
)

// Folded explains the rows of the tables that all datasets make together:
// treatment_results and comparisons, and of season_results. Their leaves are rows of plot_results by their
// keys, each of which an Explainer explains. It must not be used by two goroutines at once.
type Folded struct {
	all     *result.Analysis
	plan    Plan
	deriver *season.Deriver
	at      map[string]int // of a key: treatments, comparisons, then what is said of seasons
	cover   []CoverPair
	keys    []string
}

// NewFolded folds the parts of a season. Errors: those of Fold.
func NewFolded(parts []Part, plan Plan) (*Folded, error) {
	plan, err := plan.checked()
	if err != nil {
		return nil, err
	}
	a, err := Fold(parts, plan)
	if err != nil {
		return nil, err
	}
	f := &Folded{all: a, plan: plan, at: map[string]int{}}
	if f.deriver, err = season.NewDeriver(a.Plots, plan.season(parts)); err != nil {
		return nil, fmt.Errorf("treatments: %w", err)
	}
	for i := range a.Treatments {
		f.keys = append(f.keys, a.Treatments[i].Key())
	}
	for i := range a.Comparisons {
		f.keys = append(f.keys, a.Comparisons[i].Key())
	}
	for i := range a.Season {
		f.keys = append(f.keys, a.Season[i].Key())
	}
	for _, p := range parts {
		f.cover = append(f.cover, p.Cover...)
	}
	for i, k := range f.keys {
		f.at[k] = i
	}
	return f, nil
}

// Explain returns the derivation of the row of a key. Errors: those of Explainer.Explain.
func (f *Folded) Explain(key string) (derivation.Node, error) {
	i, found := f.at[key]
	if !found {
		return derivation.Node{}, &Unknown{Key: key, Nearest: derivation.Nearest(key, f.keys, nearest)}
	}
	if n := len(f.all.Treatments) + len(f.all.Comparisons); i >= n {
		return f.seasonRow(&f.all.Season[i-n])
	}
	if n := len(f.all.Treatments); i >= n {
		r := &f.all.Comparisons[i-n]
		n, ok := f.deriver.Comparison(r)
		n.Method, n.Unit, n.Level = r.Method, r.Unit, r.Level
		n.Low, n.High = derivation.Number(r.Low), derivation.Number(r.High)
		return whole(n, ok, key, r.Value, r.Flags)
	}
	r := &f.all.Treatments[i]
	n, ok := f.deriver.Treatment(r)
	n.Method, n.Unit, n.Level = r.Method, r.Unit, r.Level
	n.Low, n.High, n.U = derivation.Number(r.Low), derivation.Number(r.High), derivation.Number(r.UMeasurement)
	return whole(n, ok, key, r.Value, r.Flags)
}

// Keys returns the keys of the rows that Explain knows.
func (f *Folded) Keys() []string { return f.keys }
