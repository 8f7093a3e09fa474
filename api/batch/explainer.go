package batch

import (
	"context"
	"sync"

	"sheetwash/analysis"
	"sheetwash/analysis/derivation"
	"sheetwash/analysis/rainfall"
	"sheetwash/analysis/result"
)

// Explainer explains many rows of the result tables of some datasets, for the pages
// of a report. It analyses a dataset when the first of its rows is asked for. Its
// methods may be called at the same time.
type Explainer struct {
	ctx          context.Context // of the report that it is made for
	request      Request
	calibrations []rainfall.Calibration
	datasets     map[string]*explained

	once   sync.Once
	mu     sync.Mutex
	folded *analysis.Folded
	order  []string
}

// explained is one dataset.
type explained struct {
	dataset *Dataset
	once    sync.Once
	mu      sync.Mutex
	rows    *analysis.Explainer // nil: it could not be analysed
}

// Explainer returns an Explainer of the rows of datasets. It ends with ctx.
func (q Request) Explainer(ctx context.Context, datasets []Dataset) *Explainer {
	e := &Explainer{ctx: ctx, request: q, calibrations: Calibrations(datasets), datasets: map[string]*explained{}}
	for i := range datasets {
		if d := &datasets[i]; d.Stands() {
			e.datasets[d.Name] = &explained{dataset: d}
			e.order = append(e.order, d.Name)
		}
	}
	return e
}

// Explain returns the derivation of the row of a key; nil where none is known.
func (e *Explainer) Explain(key string) *derivation.Node {
	table, values, ok := result.ParseKey(key)
	if !ok {
		return nil
	}
	var n derivation.Node
	var err error
	if table == result.TableTreatments || table == result.TableComparisons {
		n, err = e.fold(key)
	} else {
		n, err = e.row(values[0], key)
	}
	if err != nil {
		return nil
	}
	n.Shorten()
	return &n
}

func (e *Explainer) row(dataset, key string) (derivation.Node, error) {
	d, ok := e.datasets[dataset]
	if !ok {
		return derivation.Node{}, analysis.ErrNoRow
	}
	rows := e.rows(d)
	if rows == nil {
		return derivation.Node{}, analysis.ErrNoDerivation
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	return rows.Explain(key)
}

func (e *Explainer) rows(d *explained) *analysis.Explainer {
	d.once.Do(func() {
		rows, err := analysis.NewExplainer(e.ctx, d.dataset.Dataset, e.calibrations, e.request.Plan(d.dataset))
		if err == nil {
			d.rows = rows
		}
	})
	return d.rows
}

func (e *Explainer) fold(key string) (derivation.Node, error) {
	e.once.Do(func() {
		var parts []analysis.Part
		for _, name := range e.order {
			if rows := e.rows(e.datasets[name]); rows != nil {
				parts = append(parts, *rows.Part())
			}
		}
		if folded, err := analysis.NewFolded(parts, e.request.SeasonPlan()); err == nil {
			e.folded = folded
		}
	})
	if e.folded == nil {
		return derivation.Node{}, analysis.ErrNoDerivation
	}
	e.mu.Lock()
	defer e.mu.Unlock()
	return e.folded.Explain(key)
}
