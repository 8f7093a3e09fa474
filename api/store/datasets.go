package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
)

var datasetList = listing[Dataset]{
	from: "datasets WHERE 1 = 1",
	columns: "id, season_id, COALESCE(event_id, ''), name, sha256, bytes, files, state, errors, warnings, notes, " +
		"findings_blob, calibrations_blob, created_by, created_at, updated_at, deleted_at, revision",
	id:      "id",
	season:  "season_id",
	filters: map[string][]string{"seasons": {"season_id"}, "events": {"event_id"}, "datasets": {"id", "name"}, "states": {"state"}},
	at:      "created_at",
	changed: "updated_at",
	sorts:   map[string]sortBy{"name": {column: "name"}, "created": {"created_at", true}},
	read: func(scan scanner) (d Dataset, err error) {
		return d, scan(&d.ID, &d.SeasonID, &d.EventID, &d.Name, &d.SHA256, &d.Bytes, asJSON{&d.Files}, &d.State, &d.Errors, &d.Warnings, &d.Notes,
			&d.FindingsBlob, &d.CalibrationsBlob, &d.CreatedBy, instant{&d.CreatedAt}, instant{&d.UpdatedAt}, maybe{&d.DeletedAt}, &d.Revision)
	},
}

// Datasets lists datasets. Filters: Seasons, Events (by id), Datasets, States, From,
// To, ChangedSince. Sorts: id, name, created.
func (r *Reader) Datasets(ctx context.Context, s Scope, f Filter, p Page) (List[Dataset], error) {
	if len(f.States) == 0 {
		f.States = []string{DatasetAccepted, DatasetRejected}
	}
	return datasetList.page(ctx, r, s, f, p)
}

// Dataset returns one dataset, a deleted one too, or ErrNotFound.
func (r *Reader) Dataset(ctx context.Context, s Scope, id string) (Dataset, error) {
	return datasetList.get(ctx, r, s, id)
}

// DatasetByDigest returns the dataset of these bytes in a season and event (empty:
// of no event) that is not deleted, or ErrNotFound.
func (r *Reader) DatasetByDigest(ctx context.Context, s Scope, seasonID, eventID, sha256 string) (Dataset, error) {
	q := statement{}
	q.add("SELECT " + datasetList.columns + " FROM datasets WHERE ")
	q.scope("season_id", s)
	q.add(" AND season_id = ? AND COALESCE(event_id, '') = ? AND sha256 = ? AND state <> 'deleted'", seasonID, eventID, sha256)
	return one(ctx, r, q, datasetList.read)
}

// InsertDataset writes a dataset with its rows into a season and event in scope
// (ErrNotFound otherwise). If the same bytes are there already, it writes nothing
// and returns the first dataset and false. Every blob must be kept already. State
// is DatasetAccepted or DatasetRejected; the store gives times, revision, the ids
// that are empty, and what the rows inherit from the dataset. Plots name their run
// by its RunID, or by Event and Run when that is empty.
func (t *Tx) InsertDataset(ctx context.Context, s Scope, new Dataset, rows DatasetRows) (Dataset, bool, error) {
	if _, err := t.Season(ctx, s.owned(), new.SeasonID); err != nil {
		return Dataset{}, false, fmt.Errorf("find the season: %w", err)
	}
	if new.EventID != "" {
		if e, err := t.Event(ctx, s.owned(), new.EventID); err != nil {
			return Dataset{}, false, fmt.Errorf("find the event: %w", err)
		} else if e.SeasonID != new.SeasonID {
			return Dataset{}, false, fmt.Errorf("find the event in the season: %w", ErrNotFound)
		}
	}
	now := t.now()
	new.ID, new.Revision, new.CreatedAt, new.UpdatedAt, new.DeletedAt = or(new.ID, NewID), 1, now, now, nil
	q := statement{}
	q.add("INSERT INTO datasets (id, season_id, event_id, name, sha256, bytes, files, state, errors, warnings, notes, "+
		"findings_blob, calibrations_blob, created_by, created_at, updated_at, revision) "+
		"VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, 1) ON CONFLICT DO NOTHING",
		new.ID, new.SeasonID, orNull(new.EventID), new.Name, new.SHA256, new.Bytes, jsonText(new.Files), new.State, new.Errors, new.Warnings, new.Notes,
		new.FindingsBlob, new.CalibrationsBlob, new.CreatedBy, micros(now), micros(now))
	n, err := t.exec(ctx, q)
	if err != nil {
		return Dataset{}, false, fmt.Errorf("write the dataset: %w", gone(err))
	}
	if n == 0 {
		first, err := t.DatasetByDigest(ctx, s.owned(), new.SeasonID, new.EventID, new.SHA256)
		if errors.Is(err, ErrNotFound) {
			err = fmt.Errorf("%w: a dataset with the id %s exists", ErrConflict, new.ID)
		}
		return first, false, err
	}
	blobs := []string{new.FindingsBlob, new.CalibrationsBlob}
	for _, f := range new.Files {
		blobs = append(blobs, f.SHA256)
	}
	if err := t.useBlobs(ctx, new.ID, blobs); err != nil {
		return Dataset{}, false, err
	}
	return new, true, t.insertRows(ctx, new, rows)
}

// DeleteDataset leaves a tombstone: rows go, and the blobs that no other record
// names. Errors: ErrNotFound, ErrRevision, ErrConflict (deleted already).
func (t *Tx) DeleteDataset(ctx context.Context, s Scope, id string, revision int64) (Dataset, error) {
	d, err := t.Dataset(ctx, s.owned(), id)
	if err != nil {
		return Dataset{}, fmt.Errorf("find the dataset: %w", err)
	}
	if d.State == DatasetDeleted {
		return Dataset{}, fmt.Errorf("delete the dataset: %w", ErrConflict)
	}
	now := t.now()
	q := statement{}
	q.add("UPDATE datasets SET state = 'deleted', files = '[]', findings_blob = '', calibrations_blob = '', deleted_at = ?, ", micros(now))
	q.revise(now)
	if err := changeOne(ctx, t, &datasetList, s, q, id, revision); err != nil {
		return Dataset{}, fmt.Errorf("delete the dataset: %w", err)
	}
	for _, text := range []string{
		"DELETE FROM plots WHERE dataset_id = ?", "DELETE FROM runs WHERE dataset_id = ?",
		"DELETE FROM calibrations WHERE dataset_id = ?", "DELETE FROM blob_uses WHERE owner = ?",
	} {
		q := statement{}
		q.add(text, id)
		if _, err := t.exec(ctx, q); err != nil {
			return Dataset{}, fmt.Errorf("delete the rows of the dataset: %w", err)
		}
	}
	return t.Dataset(ctx, s.owned(), id)
}

// or is a text, or a fresh one where it is empty.
func or(text string, fresh func() string) string {
	if text == "" {
		return fresh()
	}
	return text
}

// orNull keeps an empty reference as a missing one.
func orNull(id string) any {
	if id == "" {
		return nil
	}
	return id
}

// jsonText is how a list is kept.
func jsonText[T any](list []T) string {
	if list == nil {
		return "[]"
	}
	data, err := json.Marshal(list)
	if err != nil { // lists of texts and numbers always have a JSON form
		return "[]"
	}
	return string(data)
}

// asJSON reads kept JSON.
type asJSON struct{ to any }

// Scan implements sql.Scanner.
func (j asJSON) Scan(value any) error {
	switch text := value.(type) {
	case string:
		return json.Unmarshal([]byte(text), j.to)
	case []byte:
		return json.Unmarshal(text, j.to)
	}
	return fmt.Errorf("JSON is kept as %T", value)
}
