package batch

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"sheetwash/analysis"
	"sheetwash/analysis/derivation"
	"sheetwash/analysis/rainfall"
	"sheetwash/analysis/result"
)

// ErrRefused is returned for a row of a dataset that was refused.
var ErrRefused = errors.New("the dataset was refused")

// nearest is how many keys are named for one that no row has.
const nearest = 5

// Explain returns the derivation of a row of the result tables of these datasets,
// with the digests of the data and the version of the program at its root. Errors:
// ErrRefused, *analysis.Unknown for a key that no row has, those of
// analysis.Explain, and that of ctx.
func (q Request) Explain(ctx context.Context, datasets []Dataset, program Program, key string) (derivation.Node, error) {
	calibrations := Calibrations(datasets)
	table, values, ok := result.ParseKey(key)
	var n derivation.Node
	err := error(&analysis.Unknown{Key: key})
	switch {
	case !ok:
	case table == result.TableTreatments, table == result.TableComparisons, table == result.TableSeason:
		var parts []analysis.Part
		if parts, err = q.parts(ctx, datasets, calibrations); err == nil {
			n, err = explainFolded(parts, q.SeasonPlan(), key)
		}
	default:
		i := slices.IndexFunc(datasets, func(d Dataset) bool { return d.Name == values[0] })
		switch {
		case i < 0:
		case !datasets[i].Stands():
			return n, fmt.Errorf("%s: %w", datasets[i].Name, ErrRefused)
		default:
			n, err = analysis.Explain(ctx, datasets[i].Dataset, calibrations, q.Plan(&datasets[i]), key)
		}
	}
	if errors.Is(err, analysis.ErrNoRow) {
		return n, q.unknown(ctx, datasets, calibrations, key)
	}
	if err != nil {
		return n, err
	}
	n.Data = dataOf(&n, datasets)
	n.Program = program.Name + " " + program.Version
	if program.Revision != "" {
		n.Program += ", revision " + program.Revision
	}
	return n, nil
}

func explainFolded(parts []analysis.Part, plan analysis.Plan, key string) (derivation.Node, error) {
	f, err := analysis.NewFolded(parts, plan)
	if err != nil {
		return derivation.Node{}, err
	}
	return f.Explain(key)
}

// parts analyses all datasets that stand.
func (q Request) parts(ctx context.Context, datasets []Dataset, calibrations []rainfall.Calibration) ([]analysis.Part, error) {
	var out []analysis.Part
	for i := range datasets {
		if !datasets[i].Stands() {
			continue
		}
		p, err := q.Analyse(ctx, &datasets[i], calibrations)
		if err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}

// unknown names the keys that are most like one that no row has: of its table, if
// there is such a table.
func (q Request) unknown(ctx context.Context, datasets []Dataset, calibrations []rainfall.Calibration, key string) error {
	parts, err := q.parts(ctx, datasets, calibrations)
	if err != nil {
		return err
	}
	var keys []string
	for i := range parts {
		keys = append(keys, parts[i].Keys()...)
	}
	folded, err := analysis.NewFolded(parts, q.SeasonPlan())
	if err != nil {
		return err
	}
	keys = append(keys, folded.Keys()...)
	table, _, _ := result.ParseKey(key)
	if len(result.KeyColumns(table)) > 0 {
		keys = slices.DeleteFunc(keys, func(k string) bool {
			t, _, _ := result.ParseKey(k)
			return t != table
		})
	}
	return &analysis.Unknown{Key: key, Nearest: derivation.Nearest(key, keys, nearest)}
}

// dataOf lists the datasets that a tree speaks of; all of them for a row that is
// made of several.
func dataOf(n *derivation.Node, datasets []Dataset) []derivation.Data {
	named := map[string]bool{}
	for _, d := range n.Data {
		named[d.Dataset] = true
	}
	n.Walk(func(n *derivation.Node) bool {
		if n.From != nil && n.From.Dataset != "" {
			named[n.From.Dataset] = true
		}
		if _, values, ok := result.ParseKey(n.Key); ok {
			named[values[0]] = true
		}
		return true
	})
	var out []derivation.Data
	for i := range datasets {
		if d := &datasets[i]; named[d.Name] && d.Stands() {
			out = append(out, derivation.Data{Dataset: d.Name, SHA256: d.Digest})
		}
	}
	return out
}
