package store

import (
	"context"
	"encoding/json"
	"fmt"
)

var analysisList = listing[Analysis]{
	from: "analyses WHERE 1 = 1",
	columns: "id, season_id, state, parameters, provenance, done, total, failed, created_by, created_at, updated_at, " +
		"started_at, finished_at, problem, revision",
	id:      "id",
	season:  "season_id",
	filters: map[string][]string{"seasons": {"season_id"}, "datasets": {"dataset_id"}, "states": {"state"}},
	via:     map[string]string{"datasets": "id IN (SELECT analysis_id FROM analysis_datasets WHERE "},
	at:      "created_at",
	changed: "updated_at",
	sorts:   map[string]sortBy{"created": {"created_at", true}},
	read: func(scan scanner) (a Analysis, err error) {
		return a, scan(&a.ID, &a.SeasonID, &a.State, raw{&a.Parameters}, raw{&a.Provenance}, &a.Done, &a.Total, &a.Failed, &a.CreatedBy,
			instant{&a.CreatedAt}, instant{&a.UpdatedAt}, maybe{&a.StartedAt}, maybe{&a.FinishedAt}, raw{&a.Problem}, &a.Revision)
	},
}

// Analyses lists analyses. Filters: Seasons, Datasets (by id), States, From, To,
// ChangedSince. Sorts: id, created.
func (r *Reader) Analyses(ctx context.Context, s Scope, f Filter, p Page) (List[Analysis], error) {
	return analysisList.page(ctx, r, s, f, p)
}

// Analysis returns one analysis, or ErrNotFound.
func (r *Reader) Analysis(ctx context.Context, s Scope, id string) (Analysis, error) {
	return analysisList.get(ctx, r, s, id)
}

// AnalysisDatasets returns the datasets of an analysis by position, or ErrNotFound.
func (r *Reader) AnalysisDatasets(ctx context.Context, s Scope, id string) ([]AnalysisDataset, error) {
	if _, err := r.Analysis(ctx, s, id); err != nil {
		return nil, err
	}
	q := statement{}
	q.add("SELECT p.analysis_id, p.dataset_id, p.position, p.state, p.part_blob, p.problem, d.state "+
		"FROM analysis_datasets AS p JOIN datasets AS d ON d.id = p.dataset_id WHERE p.analysis_id = ? ORDER BY p.position", id)
	return all(ctx, r, q, func(scan scanner) (p AnalysisDataset, err error) {
		return p, scan(&p.AnalysisID, &p.DatasetID, &p.Position, &p.State, &p.PartBlob, raw{&p.Problem}, &p.DatasetState)
	})
}

// CreateAnalysis writes an analysis over accepted datasets of its season, which
// must be in scope (ErrNotFound; ErrConflict for a dataset that is not accepted,
// not of the season, or named twice, and for none). It does not enqueue: see
// Queue.Submit of api/jobs.
func (t *Tx) CreateAnalysis(ctx context.Context, s Scope, new Analysis, datasetIDs []string) (Analysis, error) {
	if _, err := t.Season(ctx, s.owned(), new.SeasonID); err != nil {
		return Analysis{}, fmt.Errorf("find the season: %w", err)
	}
	if err := t.accepted(ctx, new.SeasonID, datasetIDs); err != nil {
		return Analysis{}, err
	}
	now := t.now()
	new = Analysis{ID: or(new.ID, NewID), SeasonID: new.SeasonID, State: AnalysisAccepted, Parameters: new.Parameters, Total: len(datasetIDs),
		CreatedBy: new.CreatedBy, CreatedAt: now, UpdatedAt: now, Revision: 1}
	if new.Parameters == nil {
		new.Parameters = json.RawMessage("{}")
	}
	q := statement{}
	q.add("INSERT INTO analyses (id, season_id, state, parameters, done, total, failed, created_by, created_at, updated_at, progress_seq, revision) "+
		"VALUES (?, ?, ?, ?, 0, ?, 0, ?, ?, ?, 1, 1)",
		new.ID, new.SeasonID, new.State, string(new.Parameters), new.Total, new.CreatedBy, micros(now), micros(now))
	if _, err := t.exec(ctx, q); err != nil {
		return Analysis{}, fmt.Errorf("write the analysis: %w", gone(err))
	}
	parts := batch{head: "INSERT INTO analysis_datasets (analysis_id, position, dataset_id, state, part_blob) VALUES ", width: 5}
	for i, id := range datasetIDs {
		parts.add(new.ID, i, id, PartPending, "")
	}
	if err := parts.write(ctx, t); err != nil {
		return Analysis{}, fmt.Errorf("write the datasets of the analysis: %w", gone(err))
	}
	return new, t.appendProgress(ctx, new)
}

// accepted checks that an analysis can be made of datasets.
func (t *Tx) accepted(ctx context.Context, seasonID string, ids []string) error {
	seen := map[string]bool{}
	for start := 0; start < len(ids); start += argumentsAtOnce {
		q := statement{}
		q.add("SELECT id FROM datasets WHERE season_id = ? AND state = 'accepted' AND ", seasonID)
		q.in("id", ids[start:min(start+argumentsAtOnce, len(ids))])
		found, err := all(ctx, &t.Reader, q, func(scan scanner) (id string, err error) { return id, scan(&id) })
		if err != nil {
			return fmt.Errorf("find the datasets: %w", err)
		}
		for _, id := range found {
			seen[id] = true
		}
	}
	if len(ids) == 0 {
		return fmt.Errorf("%w: the analysis has no dataset", ErrConflict)
	}
	for _, id := range ids {
		if !seen[id] {
			return fmt.Errorf("%w: dataset %s is not accepted in this season, or is named twice", ErrConflict, id)
		}
		seen[id] = false
	}
	return nil
}

// QueuedAnalyses counts a caller's analyses that are not over.
func (r *Reader) QueuedAnalyses(ctx context.Context, createdBy string) (int, error) {
	q := statement{}
	q.add("SELECT COUNT(*) FROM analyses WHERE created_by = ? AND state IN ('accepted', 'running')", createdBy)
	return one(ctx, r, q, func(scan scanner) (n int, err error) { return n, scan(&n) })
}

// raw reads kept JSON as it is; nil where it is missing.
type raw struct{ to *json.RawMessage }

// Scan implements sql.Scanner.
func (r raw) Scan(value any) error {
	*r.to = nil
	switch text := value.(type) {
	case nil:
	case string:
		*r.to = json.RawMessage(text)
	case []byte:
		*r.to = append(json.RawMessage{}, text...)
	default:
		return fmt.Errorf("JSON is kept as %T", value)
	}
	return nil
}

// text is how JSON that may be missing is kept.
func text(data json.RawMessage) any {
	if data == nil {
		return nil
	}
	return string(data)
}
