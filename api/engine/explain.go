package engine

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/result"
	"sheetwash/api/batch"
	"sheetwash/api/problem"
	"sheetwash/api/report"
	"sheetwash/api/report/page"
	"sheetwash/api/report/rscript"
	"sheetwash/api/store"
)

// nearest is how many keys are named for one that no row has.
const nearest = 5

// Explain returns the derivation of a row of a successful analysis, from the bytes
// and with the exclusions that it was computed from. Errors: problem.Error, where no
// row has the key, where another version of the program computed the analysis, and
// where data that the row needs was deleted; those of the store and of ctx.
func (e *Engine) Explain(ctx context.Context, a store.Analysis, key string, units report.Units) (derivation.Node, error) {
	in, err := e.Pages(ctx, a)
	if err != nil {
		return derivation.Node{}, err
	}
	if in.Program != page.Program(e.Program) {
		return derivation.Node{}, problem.New(problem.StateConflict, "version %s of the program computed the analysis, and this is %s: analyse the data again to have it explained", in.Program.Version, e.Program.Version)
	}
	if err := known(in.Analysis, key); err != nil {
		return derivation.Node{}, err
	}
	select { // one at a time: each reads data anew
	case e.explaining <- struct{}{}:
		defer func() { <-e.explaining }()
	case <-ctx.Done():
		return derivation.Node{}, ctx.Err()
	}
	q, datasets, err := e.needed(ctx, a, key)
	if err != nil {
		return derivation.Node{}, err
	}
	n, err := q.Explain(ctx, datasets, e.Program, key)
	if errors.Is(err, batch.ErrRefused) {
		err = problem.New(problem.StateConflict, "the analysis refused the dataset of this row")
	}
	if err != nil {
		return n, err
	}
	return batch.InUnits(n, units)
}

// RScript returns a script of R that computes the treatments of a successful analysis
// again.
func (e *Engine) RScript(ctx context.Context, a store.Analysis) ([]byte, error) {
	in, err := e.Pages(ctx, a)
	if err != nil {
		return nil, err
	}
	q, err := e.request(a.Parameters, "")
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	err = rscript.Write(&b, in.Analysis, q.SeasonPlan().Level)
	return b.Bytes(), err
}

// known reports that no row of an analysis has a key, with those that are most like
// it.
func known(a *result.Analysis, key string) error {
	table, _, _ := result.ParseKey(key)
	all := len(result.KeyColumns(table)) == 0 // there is no such table
	var keys []string
	add := func(name string, n int, at func(int) string) {
		for i := 0; i < n && (all || name == table); i++ {
			keys = append(keys, at(i))
		}
	}
	add(result.TablePlots, len(a.Plots), func(i int) string { return a.Plots[i].Key() })
	for c := range a.Hydrograph {
		add(result.TableHydrograph, len(a.Hydrograph[c].Steps), func(i int) string { return a.Hydrograph[c].StepKey(&a.Hydrograph[c].Steps[i]) })
	}
	add(result.TableFits, len(a.Fits), func(i int) string { return a.Fits[i].Key() })
	add(result.TableTreatments, len(a.Treatments), func(i int) string { return a.Treatments[i].Key() })
	add(result.TableComparisons, len(a.Comparisons), func(i int) string { return a.Comparisons[i].Key() })
	add(result.TableCalibrations, len(a.Calibrations), func(i int) string { return a.Calibrations[i].Key() })
	if slices.Contains(keys, key) {
		return nil
	}
	p := problem.New(problem.NotFound, "no row of the analysis has the key %q", key)
	for i, k := range derivation.Nearest(key, keys, nearest) {
		if i == 0 {
			p.Detail += "; the nearest are"
		}
		p.Detail += " " + k
	}
	return p
}

// needed reads the datasets that a row follows from: its own and those with catch
// cans, or all of them where the row is over all.
func (e *Engine) needed(ctx context.Context, a store.Analysis, key string) (batch.Request, []batch.Dataset, error) {
	all, err := e.Store.AnalysisDatasets(ctx, store.Everything, a.ID)
	if err != nil {
		return batch.Request{}, nil, err
	}
	c, err := e.castOf(ctx, a.ID, all)
	if err != nil {
		return batch.Request{}, nil, err
	}
	table, values, _ := result.ParseKey(key)
	folded := table == result.TableTreatments || table == result.TableComparisons
	var q batch.Request
	var datasets []batch.Dataset
	for i, m := range c.members {
		if all[i].State != store.PartDone || !folded && m.name != values[0] && m.CalibrationsBlob == "" {
			continue
		}
		var d batch.Dataset
		if q, d, err = e.asAnalysed(ctx, a, all, i); err != nil {
			return q, nil, err
		}
		datasets = append(datasets, d)
	}
	slices.SortFunc(datasets, byName)
	return q, datasets, nil
}

// asAnalysed loads a dataset with the exclusions that a finished analysis had.
func (e *Engine) asAnalysed(ctx context.Context, a store.Analysis, all []store.AnalysisDataset, position int) (batch.Request, batch.Dataset, error) {
	var p batch.Provenance
	if err := json.Unmarshal(a.Provenance, &p); err != nil {
		return batch.Request{}, batch.Dataset{}, fmt.Errorf("read the provenance of the analysis: %w", err)
	}
	q, d, _, err := e.loadWith(ctx, a, all, position, func(m member) ([]batch.Exclusion, error) {
		for _, r := range p.Datasets {
			if r.Name == m.name {
				return r.Excluded, nil
			}
		}
		return nil, nil
	})
	return q, d, err
}

// byName orders datasets as results have them.
func byName(a, b batch.Dataset) int { return cmp.Compare(a.Name, b.Name) }
