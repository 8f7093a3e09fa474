package store

import (
	"context"
	"encoding/json"
	"fmt"
)

// Finished is what a write of a worker did. Wrote is false when the work was done
// already or the analysis is over; then nothing was written.
type Finished struct {
	Wrote     bool
	Remaining int // datasets still pending
	Analysis  Analysis
}

// StartAnalysis makes an accepted analysis running; any other stays as it is.
func (t *Tx) StartAnalysis(ctx context.Context, id string) (Analysis, error) {
	a, err := t.hold(ctx, id)
	if err != nil || a.State != AnalysisAccepted {
		return a, err
	}
	now := t.now()
	a.State, a.StartedAt = AnalysisRunning, &now
	return t.save(ctx, a)
}

// FinishDataset records the part of a pending dataset of a running analysis, or
// why there is none when partBlob is empty. Whoever brings Remaining to 0 enqueues
// the fold in the same transaction; it happens once.
func (t *Tx) FinishDataset(ctx context.Context, id string, position int, partBlob string, problem json.RawMessage) (Finished, error) {
	a, err := t.hold(ctx, id)
	if err != nil || a.State != AnalysisRunning {
		return Finished{Remaining: a.Total - a.Done, Analysis: a}, err
	}
	state := PartDone
	if partBlob == "" {
		state = PartFailed
	}
	q := statement{}
	q.add("UPDATE analysis_datasets SET state = ?, part_blob = ?, problem = ? WHERE analysis_id = ? AND position = ? AND state = 'pending'",
		state, partBlob, text(problem), id, position)
	n, err := t.exec(ctx, q)
	if err != nil {
		return Finished{}, fmt.Errorf("record the part: %w", err)
	}
	if n == 0 {
		return Finished{Remaining: a.Total - a.Done, Analysis: a}, nil
	}
	if err := t.useBlobs(ctx, id, []string{partBlob}); err != nil {
		return Finished{}, err
	}
	a.Done++
	if state == PartFailed {
		a.Failed++
	}
	a, err = t.save(ctx, a)
	return Finished{err == nil, a.Total - a.Done, a}, err
}

// FinishAnalysis makes a running analysis successful, with its tables. ErrConflict
// when a dataset is still pending.
func (t *Tx) FinishAnalysis(ctx context.Context, id string, tables []ResultTable, provenance json.RawMessage) (Finished, error) {
	a, err := t.hold(ctx, id)
	if err != nil || a.State != AnalysisRunning {
		return Finished{Remaining: a.Total - a.Done, Analysis: a}, err
	}
	if a.Done != a.Total {
		return Finished{}, fmt.Errorf("finish the analysis: %w", ErrConflict)
	}
	rows := batch{head: "INSERT INTO result_tables (analysis_id, table_name, encoding, blob, bytes, row_count) VALUES ", width: 6}
	blobs := []string{}
	for _, r := range tables {
		rows.add(id, r.Table, r.Encoding, r.Blob, r.Bytes, r.Rows)
		blobs = append(blobs, r.Blob)
	}
	if err := rows.write(ctx, t); err != nil {
		return Finished{}, fmt.Errorf("record the tables: %w", err)
	}
	if err := t.useBlobs(ctx, id, blobs); err != nil {
		return Finished{}, err
	}
	now := t.now()
	a.State, a.FinishedAt, a.Provenance = AnalysisSuccessful, &now, provenance
	a, err = t.save(ctx, a)
	return Finished{err == nil, 0, a}, err
}

// FailAnalysis makes an analysis that is not over failed.
func (t *Tx) FailAnalysis(ctx context.Context, id string, problem json.RawMessage) (Finished, error) {
	a, err := t.hold(ctx, id)
	if err != nil || a.Over() {
		return Finished{Remaining: a.Total - a.Done, Analysis: a}, err
	}
	now := t.now()
	a.State, a.FinishedAt, a.Problem = AnalysisFailed, &now, problem
	a, err = t.save(ctx, a)
	return Finished{err == nil, a.Total - a.Done, a}, err
}

// DismissAnalysis withdraws an analysis in any state but dismissed (ErrConflict).
// Its tables are no longer named, so that their blobs go. Revision 0 is any. Other
// errors: ErrNotFound, ErrRevision.
func (t *Tx) DismissAnalysis(ctx context.Context, s Scope, id string, revision int64) (Analysis, error) {
	if _, err := t.Analysis(ctx, s.owned(), id); err != nil {
		return Analysis{}, fmt.Errorf("find the analysis: %w", err)
	}
	a, err := t.hold(ctx, id)
	switch {
	case err != nil:
		return Analysis{}, err
	case revision != 0 && a.Revision != revision:
		return Analysis{}, fmt.Errorf("dismiss the analysis: %w", ErrRevision)
	case a.State == AnalysisDismissed:
		return Analysis{}, fmt.Errorf("dismiss the analysis: %w", ErrConflict)
	}
	for _, text := range []string{
		"DELETE FROM result_tables WHERE analysis_id = ?", "DELETE FROM blob_uses WHERE owner = ?",
		"UPDATE analysis_datasets SET part_blob = '' WHERE analysis_id = ?",
	} {
		q := statement{}
		q.add(text, id)
		if _, err := t.exec(ctx, q); err != nil {
			return Analysis{}, fmt.Errorf("dismiss the analysis: %w", err)
		}
	}
	now := t.now()
	a.State = AnalysisDismissed
	if a.FinishedAt == nil {
		a.FinishedAt = &now
	}
	return t.save(ctx, a)
}

// hold reads an analysis and keeps others from changing it until the transaction
// ends: what follows from its state stays true.
func (t *Tx) hold(ctx context.Context, id string) (Analysis, error) {
	if err := t.lock(ctx, "analyses", id); err != nil {
		return Analysis{}, fmt.Errorf("hold the analysis: %w", err)
	}
	a, err := t.Analysis(ctx, Everything, id)
	if err != nil {
		return Analysis{}, fmt.Errorf("find the analysis: %w", err)
	}
	return a, nil
}

// save writes a changed analysis that is held, and its event.
func (t *Tx) save(ctx context.Context, a Analysis) (Analysis, error) {
	a.UpdatedAt = t.now()
	a.Revision++
	q := statement{}
	q.add("UPDATE analyses SET state = ?, provenance = ?, done = ?, failed = ?, updated_at = ?, started_at = ?, finished_at = ?, problem = ?, revision = ?, progress_seq = progress_seq + 1 WHERE id = ?",
		a.State, text(a.Provenance), a.Done, a.Failed, micros(a.UpdatedAt), perhaps(a.StartedAt), perhaps(a.FinishedAt), text(a.Problem), a.Revision, a.ID)
	if _, err := t.exec(ctx, q); err != nil {
		return Analysis{}, fmt.Errorf("change the analysis: %w", err)
	}
	return a, t.appendProgress(ctx, a)
}

// appendProgress adds the event of a change, under the number that the change gave
// the analysis.
func (t *Tx) appendProgress(ctx context.Context, a Analysis) error {
	data, err := json.Marshal(struct {
		State  string `json:"state"`
		Done   int    `json:"done"`
		Total  int    `json:"total"`
		Failed int    `json:"failed"`
	}{a.State, a.Done, a.Total, a.Failed})
	if err != nil {
		return err
	}
	q := statement{}
	q.add("INSERT INTO progress_events (analysis_id, seq, at, data) SELECT id, progress_seq, CAST(? AS bigint), CAST(? AS text) FROM analyses WHERE id = ?",
		micros(a.UpdatedAt), string(data), a.ID)
	if _, err := t.exec(ctx, q); err != nil {
		return fmt.Errorf("write the event: %w", err)
	}
	return nil
}

// ProgressAfter returns at most limit changes of an analysis after the given one,
// 0 for all, or ErrNotFound. Every change of an analysis is one event.
func (r *Reader) ProgressAfter(ctx context.Context, s Scope, id string, seq int64, limit int) ([]ProgressEvent, error) {
	if _, err := r.Analysis(ctx, s, id); err != nil {
		return nil, err
	}
	q := statement{}
	q.add("SELECT analysis_id, seq, at, data FROM progress_events WHERE analysis_id = ? AND seq > ? ORDER BY seq LIMIT ?", id, seq, max(1, limit))
	return all(ctx, r, q, func(scan scanner) (e ProgressEvent, err error) {
		return e, scan(&e.AnalysisID, &e.Seq, instant{&e.At}, raw{&e.Data})
	})
}
