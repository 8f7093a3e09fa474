package api

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"net/http"

	"github.com/gin-gonic/gin"

	"sheetwash/api/problem"
	"sheetwash/api/store"
	"sheetwash/api/wire"
)

func showDataset(r store.Dataset) wire.Dataset {
	at := "/v1/datasets/" + r.ID
	d := wire.Dataset{
		ID: r.ID, SeasonID: r.SeasonID, EventID: maybe(r.EventID), Name: r.Name, SHA256: r.SHA256, Bytes: r.Bytes,
		Files: make([]wire.File, 0, len(r.Files)), State: r.State, Findings: wire.Counts{Errors: r.Errors, Warnings: r.Warnings, Notes: r.Notes},
		CreatedBy: maybe(r.CreatedBy), CreatedAt: r.CreatedAt,
		Links: wire.Links{"self": at, "findings": at + "/findings", "runs": "/v1/runs?dataset=" + r.ID, "analyses": "/v1/analyses?dataset=" + r.ID, "page": "/datasets/" + r.ID},
	}
	for _, f := range r.Files {
		d.Files = append(d.Files, wire.File{Name: f.Name, SHA256: f.SHA256, Bytes: f.Bytes})
	}
	return d
}

// listDatasets lists datasets.
//
//	@Summary  List datasets
//	@Tags     datasets
//	@Produce  json
//	@Param    season         query  []string  false  "ids or names of seasons"  collectionFormat(multi)
//	@Param    event          query  []string  false  "ids or names of events"  collectionFormat(multi)
//	@Param    dataset        query  []string  false  "ids of datasets"  collectionFormat(multi)
//	@Param    state          query  []string  false  "accepted, rejected, deleted; without it all but deleted"  collectionFormat(multi)
//	@Param    from           query  string    false  "received at or after: date or time"
//	@Param    to             query  string    false  "received before: date or time"
//	@Param    changed_since  query  string    false  "date or time"
//	@Param    limit          query  int       false  "1 to 1000, default 100"
//	@Param    cursor         query  string    false  "from next_cursor"
//	@Param    sort           query  string    false  "id, name, created; - in front: descending"
//	@Success  200  {object}  wire.List[wire.Dataset]
//	@Failure  400  {object}  problem.Details
//	@Router   /v1/datasets [get]
func (s *Server) listDatasets(c *gin.Context) error {
	return listRecords(s, c, s.store.Datasets, showDataset)
}

// createDataset takes an upload.
//
//	@Summary      Upload a dataset
//	@Description  The files of a dataset as a form, or one zip, workbook or table as the body. What is not given as name is taken from the event or the file. The same bytes sent twice into one event return the first dataset with 200. A dataset with errors is kept with its findings and answered with 422. With dry_run=true every check runs and nothing is kept; the answer is 200 with the findings.
//	@Tags         datasets
//	@Accept       multipart/form-data
//	@Produce      json
//	@Param        season           query     string  false  "id or name of the season; needed but for dry_run"
//	@Param        event            query     string  false  "id or name of the event"
//	@Param        name             query     string  false  "name of the dataset, which result rows carry"
//	@Param        dry_run          query     bool    false  "check and keep nothing"
//	@Param        Idempotency-Key  header    string  false  "1 to 255 characters"
//	@Param        file             formData  file    true   "the files; the part may be called anything and repeats"
//	@Success      200  {object}  wire.Check
//	@Success      201  {object}  wire.Dataset
//	@Failure      422  {object}  problem.Details
//	@Router       /v1/datasets [post]
func (s *Server) createDataset(c *gin.Context) error {
	t, err := s.targetOf(c)
	if err != nil {
		return err
	}
	return s.withUpload(c, t, func(r *received) error {
		if t.dry {
			return s.dryRun(c, r)
		}
		return s.storeUpload(c, r, t)
	})
}

// withUpload takes the body of a request as one of the caller's uploads, for as
// long as do runs.
func (s *Server) withUpload(c *gin.Context, t target, do func(*received) error) error {
	leave, err := s.callers.enter(whoIs(c), "uploads", func(b *bucket) *int { return &b.uploads }, s.limits.Uploads)
	if err != nil {
		return err
	}
	defer leave()
	r, err := s.receive(c)
	if err != nil {
		return err
	}
	defer r.remove(s)
	r.finish(t)
	return do(r)
}

// dryRun answers with what the checks say, and keeps nothing.
func (s *Server) dryRun(c *gin.Context, r *received) error {
	checked, err := s.engine.Check(c.Request.Context(), r.Upload)
	if err != nil {
		return err
	}
	out := wire.Check{
		Name: r.Name, SHA256: r.sha256, Bytes: r.bytes, State: store.DatasetAccepted, Counts: checked.Counts,
		Findings: append([]wire.Finding{}, checked.Findings[:min(len(checked.Findings), problem.MaxFindings)]...),
		Runs:     len(checked.Rows.Runs), Plots: len(checked.Rows.Plots),
	}
	if checked.Counts.Errors > 0 {
		out.State = store.DatasetRejected
	}
	return s.give(c, answer{status: http.StatusOK, body: out})
}

// getDataset returns a dataset.
//
//	@Summary  One dataset
//	@Tags     datasets
//	@Produce  json
//	@Param    id   path      string  true  "id of the dataset"
//	@Success  200  {object}  wire.Dataset
//	@Failure  404  {object}  problem.Details
//	@Failure  410  {object}  problem.Details
//	@Router   /v1/datasets/{id} [get]
func (s *Server) getDataset(c *gin.Context) error {
	r, err := s.dataset(c)
	if err != nil {
		return err
	}
	return s.ok(c, showDataset(r), keepChecking)
}

// dataset returns the dataset that the address names, unless it was deleted.
func (s *Server) dataset(c *gin.Context) (store.Dataset, error) {
	return s.present(s.store.Dataset(c.Request.Context(), whoIs(c).scope, c.Param("id")))
}

// present refuses a dataset that was deleted.
func (s *Server) present(r store.Dataset, err error) (store.Dataset, error) {
	if err == nil && r.State == store.DatasetDeleted {
		err = problem.New(problem.Deleted, "the dataset was deleted")
	}
	return r, err
}

// deleteDataset deletes a dataset: its bytes and rows go, a record stays.
//
//	@Summary      Delete a dataset
//	@Description  Bytes and rows go; a record stays that answers 410. Analyses that used it keep their results and say so.
//	@Tags         datasets
//	@Param        id        path    string  true  "id of the dataset"
//	@Param        If-Match  header  string  true  "ETag of the dataset"
//	@Success      204
//	@Failure      412  {object}  problem.Details
//	@Router       /v1/datasets/{id} [delete]
func (s *Server) deleteDataset(c *gin.Context) error {
	return s.change(c, func(tx *store.Tx) (any, error) {
		r, err := s.present(tx.Dataset(c.Request.Context(), whoIs(c).scope, c.Param("id")))
		if err == nil {
			err = mustMatch(c, showDataset(r))
		}
		if err == nil {
			_, err = tx.DeleteDataset(c.Request.Context(), whoIs(c).scope, r.ID, r.Revision)
		}
		if err != nil {
			return nil, err
		}
		return nil, s.note(c, tx, audit{"dataset.delete", r.SeasonID, r.ID, r.SHA256})
	})
}

// getFindings returns the findings of a dataset.
//
//	@Summary  Everything that the checks found in a dataset
//	@Tags     datasets
//	@Produce  json
//	@Param    id        path   string    true   "id of the dataset"
//	@Param    severity  query  []string  false  "error, warning, note"  collectionFormat(multi)
//	@Param    code      query  []string  false  "codes of findings"  collectionFormat(multi)
//	@Param    file      query  []string  false  "names of files"  collectionFormat(multi)
//	@Param    limit     query  int       false  "1 to 1000, default 100"
//	@Param    cursor    query  string    false  "from next_cursor"
//	@Param    count     query  string    false  "exact: count all rows"  Enums(exact)
//	@Param    format    query  string    false  "goes before Accept"  Enums(json, csv, arrow, parquet)
//	@Param    shape     query  string    false  "rows: a bare array"  Enums(envelope, rows)
//	@Param    bom       query  bool      false  "csv with a byte order mark, for spreadsheets"
//	@Success  200  {object}  wire.List[wire.Finding]
//	@Failure  404  {object}  problem.Details
//	@Router   /v1/datasets/{id}/findings [get]
func (s *Server) getFindings(c *gin.Context) error {
	d, err := s.dataset(c)
	if err != nil {
		return err
	}
	rows, err := s.findingTable(c.Request.Context(), d)
	if err != nil {
		return err
	}
	return s.tableAnswer(c, tableRequest{
		table: "findings", tag: d.FindingsBlob, keep: keepForever, filters: []string{"severity", "code", "file"},
		parts: []tablePart{{id: d.ID, open: func(context.Context) (Table, error) { return rows, nil }}},
	})
}

// findingTable reads the findings of a dataset as rows.
func (s *Server) findingTable(ctx context.Context, d store.Dataset) (Table, error) {
	r, err := s.blobs.Open(ctx, d.FindingsBlob)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	data, err := io.ReadAll(r)
	if err != nil {
		return nil, err
	}
	var t inMemory
	for line := range bytes.Lines(data) {
		t = append(t, bytes.TrimSuffix(line, []byte("\n")))
	}
	return t, nil
}

// findingsOf returns the first findings of a dataset.
func (s *Server) findingsOf(ctx context.Context, d store.Dataset) ([]wire.Finding, error) {
	r, err := s.blobs.Open(ctx, d.FindingsBlob)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	var out []wire.Finding
	for dec := json.NewDecoder(bufio.NewReader(r)); len(out) < problem.MaxFindings; {
		var f wire.Finding
		if err := dec.Decode(&f); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return nil, err
		}
		out = append(out, f)
	}
	return out, nil
}

// inMemory is a table whose rows are all there.
type inMemory [][]byte

func (t inMemory) Rows() int64 { return int64(len(t)) }

func (t inMemory) JSON(_ context.Context, first, end int64) ([][]byte, error) {
	return t[first:end], nil
}

func (t inMemory) Close() error { return nil }
