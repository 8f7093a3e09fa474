package engine

import (
	"bytes"
	"context"
	"encoding/gob"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"

	"sheetwash/analysis/derivation"
	"sheetwash/analysis/result"
	"sheetwash/api/batch"
	"sheetwash/api/problem"
	"sheetwash/api/report/page"
	"sheetwash/api/store"
)

// Where an analysis keeps what its pages are made of, among its tables.
const (
	pagesTable    = "pages"
	pagesEncoding = "gob"
)

// pages is what the pages of an analysis are made of.
type pages struct {
	Program  page.Program
	Analysis *result.Analysis
	Datasets []page.Dataset
}

// keepPages keeps what the pages of an analysis are made of.
func (e *Engine) keepPages(ctx context.Context, id string, a *result.Analysis, datasets []page.Dataset) (store.ResultTable, error) {
	p := pages{page.Program(e.Program), a, datasets}
	b, err := e.keep(ctx, func(w io.Writer) error { return gob.NewEncoder(w).Encode(&p) })
	return store.ResultTable{AnalysisID: id, Table: pagesTable, Encoding: pagesEncoding, Blob: b.Digest, Bytes: b.Bytes}, err
}

// Pages returns what the pages of a successful analysis are made of. Callers share
// it and change nothing in it.
func (e *Engine) Pages(ctx context.Context, a store.Analysis) (*page.Input, error) {
	t, err := e.Store.ResultTable(ctx, store.Everything, a.ID, pagesTable, pagesEncoding)
	if errors.Is(err, store.ErrNotFound) {
		return nil, problem.New(problem.StateConflict, "the analysis was made by a version of the program that made no pages: analyse the data again")
	}
	if err != nil {
		return nil, err
	}
	if in, ok := e.inputs.Get(t.Blob); ok {
		return in, nil
	}
	data, err := e.read(ctx, t.Blob)
	if err != nil {
		return nil, err
	}
	var p pages
	if err := gob.NewDecoder(bytes.NewReader(data)).Decode(&p); err != nil {
		return nil, fmt.Errorf("read what pages are made of: %w", err)
	}
	q, err := e.request(a.Parameters, "")
	if err != nil {
		return nil, err
	}
	s := q.SeasonPlan()
	in := &page.Input{
		Analysis: p.Analysis, Datasets: p.Datasets, Program: p.Program, Command: commandOf(a.Parameters),
		Settings: page.Settings(s.Level, s.Hydrograph.ThresholdShare, s.Hydrograph.SlopeWindowMin, s.Hydrograph.FinalWindowMin),
	}
	e.inputs.Add(t.Blob, in)
	return in, nil
}

// commandOf makes the tables of an analysis again on the command line, from a folder
// with its data; "" where the settings are those of no flag.
func commandOf(parameters json.RawMessage) string {
	var s settings
	if len(parameters) > 0 && json.Unmarshal(parameters, &s) != nil || s.ThresholdShare != nil || s.SmoothingS != nil || s.FinalMin != nil {
		return ""
	}
	out := "sheetwash analyze DATA --out results"
	if s.Level != nil {
		out += " --level " + strconv.FormatFloat(*s.Level, 'g', -1, 64)
	}
	for _, name := range batch.UncertaintyNames() {
		if v, ok := s.Errors[name]; ok {
			out += " --error " + name + "=" + strconv.FormatFloat(v, 'g', -1, 64)
		}
	}
	return out
}

// Explainer reads the datasets of a successful analysis again and returns what
// explains its rows; nil, without an error, where another version of the program
// computed them, or where their data is gone.
func (e *Engine) Explainer(ctx context.Context, a store.Analysis) (func(key string) *derivation.Node, error) {
	in, err := e.Pages(ctx, a)
	if err != nil || in.Program != page.Program(e.Program) {
		return nil, err
	}
	all, err := e.Store.AnalysisDatasets(ctx, store.Everything, a.ID)
	if err != nil {
		return nil, err
	}
	var datasets []batch.Dataset
	var q batch.Request
	for i := range all {
		if all[i].State != store.PartDone {
			continue
		}
		if all[i].DatasetState == store.DatasetDeleted {
			return nil, nil
		}
		var d batch.Dataset
		if q, d, err = e.asAnalysed(ctx, a, all, i); err != nil {
			return nil, err
		}
		datasets = append(datasets, d)
	}
	slices.SortFunc(datasets, byName)
	return q.Explainer(ctx, datasets).Explain, nil
}
