package engine

import (
	"bytes"
	"context"
	"fmt"
	"io"

	"sheetwash/analysis/result"
	"sheetwash/api"
	"sheetwash/api/report"
	"sheetwash/api/store"
)

// What an analysis keeps of each table.
func jsonOf(u report.Units) string  { return "json-" + u.String() }
func indexOf(u report.Units) string { return "index-json-" + u.String() }

// keepResults keeps each table of an analysis as JSON with its index, in both
// systems of units.
func (e *Engine) keepResults(ctx context.Context, id string, a *result.Analysis) ([]store.ResultTable, error) {
	var out []store.ResultTable
	for _, units := range []report.Units{report.SI, report.US} {
		for _, t := range report.Tables(units) {
			var index bytes.Buffer
			var rows int64
			b, err := e.keep(ctx, func(w io.Writer) (err error) {
				rows, err = report.WriteIndexed(w, &index, a, t.Name, report.Options{Units: units, Workers: e.Workers})
				return err
			})
			if err != nil {
				return nil, err
			}
			i, err := e.Blobs.Put(ctx, &index)
			if err != nil {
				return nil, err
			}
			out = append(out,
				store.ResultTable{AnalysisID: id, Table: t.Name, Encoding: jsonOf(units), Blob: b.Digest, Bytes: b.Bytes, Rows: rows},
				store.ResultTable{AnalysisID: id, Table: t.Name, Encoding: indexOf(units), Blob: i.Digest, Bytes: i.Bytes, Rows: rows})
		}
	}
	return out, nil
}

// Table opens a table of a successful analysis.
func (e *Engine) Table(ctx context.Context, a store.Analysis, table string, units report.Units) (api.Table, error) {
	text, err := e.Store.ResultTable(ctx, store.Everything, a.ID, table, jsonOf(units))
	if err != nil {
		return nil, err
	}
	entry, err := e.Store.ResultTable(ctx, store.Everything, a.ID, table, indexOf(units))
	if err != nil {
		return nil, err
	}
	index, ok := e.indexes.Get(entry.Blob)
	if !ok {
		if index, err = e.read(ctx, entry.Blob); err != nil {
			return nil, err
		}
		e.indexes.Add(entry.Blob, index)
	}
	return &stored{e, text.Blob, text.Rows, index}, nil
}

// stored is a table as JSON in a blob.
type stored struct {
	engine *Engine
	blob   string
	rows   int64
	index  []byte
}

// Rows is how many rows there are.
func (s *stored) Rows() int64 { return s.rows }

// JSON returns rows from first up to end, without what separates them.
func (s *stored) JSON(ctx context.Context, first, end int64) ([][]byte, error) {
	page, err := s.Page(ctx, first, end)
	if err != nil || len(page) == 0 {
		return nil, err
	}
	return bytes.Split(page, []byte(",\n")), nil
}

// Page returns rows from first up to end as they stand in the table, each but the
// last followed by a comma and a line break.
func (s *stored) Page(ctx context.Context, first, end int64) ([]byte, error) {
	at, n, err := report.PageOf(s.index, first, end)
	if err != nil || n == 0 {
		return nil, err
	}
	r, err := s.engine.Blobs.Range(ctx, s.blob, at, n)
	if err != nil {
		return nil, fmt.Errorf("open table: %w", err)
	}
	defer r.Close()
	page := make([]byte, n)
	if _, err := io.ReadFull(r, page); err != nil {
		return nil, fmt.Errorf("read table: %w", err)
	}
	return page, nil
}

// Close ends the use.
func (s *stored) Close() error { return nil }
