package jobs

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/rivertype"

	"sheetwash/api/blobs"
	"sheetwash/api/store"
)

// orphanAge is how old a blob without a record must be to go: older than any
// upload that has yet to commit its record.
const orphanAge = 24 * time.Hour

// keepUp does what must be done now and then, in every process that works: each of
// these may happen twice, at the same time too.
func (q *Queue) keepUp(ctx context.Context) {
	maintain, sweep := time.NewTicker(q.times.maintain), time.NewTicker(q.times.sweep)
	defer maintain.Stop()
	defer sweep.Stop()
	for {
		var err error
		select {
		case <-ctx.Done():
			return
		case <-maintain.C:
			err = errors.Join(q.rescue(ctx, q.times.rescue), q.settleAbandoned(ctx))
		case <-sweep.C:
			_, forgetting := q.Store.ForgetIdempotent(ctx)
			err = errors.Join(forgetting, q.Sweep(ctx))
		}
		if err != nil && ctx.Err() == nil {
			q.Log.ErrorContext(ctx, "upkeep of the job queue", "err", err)
		}
	}
}

// Jobs that have been running for longer than a number of seconds return to the
// queue, and the kill of their worker costs no attempt, up to killsForgiven; after
// the last attempt they are discarded. Both clocks are the database's. The library
// has a rescuer of its own, which looks twice a minute and from one process alone;
// it is left on as well, for later.
const (
	rescueSQLite = `UPDATE river_job SET
    state = CASE WHEN attempt < max_attempts OR max_attempts < ? THEN 'available' ELSE 'discarded' END,
    finalized_at = CASE WHEN attempt < max_attempts OR max_attempts < ? THEN NULL ELSE strftime('%Y-%m-%d %H:%M:%f', 'now') END,
    max_attempts = CASE WHEN max_attempts < ? THEN max_attempts + 1 ELSE max_attempts END
WHERE state = 'running' AND attempted_at <= strftime('%Y-%m-%d %H:%M:%f', 'now', '-' || ? || ' seconds')`
	rescuePostgres = `UPDATE river_job SET
    state = CAST(CASE WHEN attempt < max_attempts OR max_attempts < $1 THEN 'available' ELSE 'discarded' END AS river_job_state),
    finalized_at = CASE WHEN attempt < max_attempts OR max_attempts < $2 THEN NULL ELSE clock_timestamp() END,
    max_attempts = CASE WHEN max_attempts < $3 THEN max_attempts + 1 ELSE max_attempts END
WHERE state = 'running' AND attempted_at <= clock_timestamp() - CAST($4 AS double precision) * interval '1 second'`
)

// killsForgiven is how many kills of its worker a job survives beyond its attempts:
// a server that is restarted often must finish its work, and a job that kills its
// worker must come to an end.
const killsForgiven = 10

// rescue returns jobs to the queue that a killed worker had.
func (q *Queue) rescue(ctx context.Context, age time.Duration) error {
	text := rescueSQLite
	if q.Store.Dialect() == store.PostgreSQL {
		text = rescuePostgres
	}
	const most = attempts + killsForgiven
	result, err := q.Store.DB().ExecContext(ctx, text, most, most, most, age.Seconds())
	if err != nil {
		return fmt.Errorf("rescue jobs: %w", err)
	}
	if n, err := result.RowsAffected(); err == nil && n > 0 {
		q.gate.wake()
		q.Log.WarnContext(ctx, "jobs of a killed worker return to the queue", "jobs", n)
	}
	return nil
}

// settleAbandoned records the failure of jobs that ended without a record: their
// worker was killed at each attempt, or could not reach the database at the last.
// Without it their analysis would never be over.
func (q *Queue) settleAbandoned(ctx context.Context) error {
	ended, err := q.client.JobList(ctx, river.NewJobListParams().
		Kinds(datasetArgs{}.Kind(), foldArgs{}.Kind()).
		States(rivertype.JobStateDiscarded, rivertype.JobStateCancelled).First(1000))
	if err != nil {
		return fmt.Errorf("list abandoned jobs: %w", err)
	}
	for _, job := range ended.Jobs {
		if err := q.Store.InTx(ctx, func(tx *store.Tx) error { return q.settle(ctx, tx, job) }); err != nil {
			return fmt.Errorf("record the failure of job %d: %w", job.ID, err)
		}
	}
	return nil
}

// settle records the failure of one job and deletes it, so that it is looked at
// once.
func (q *Queue) settle(ctx context.Context, tx *store.Tx, job *rivertype.JobRow) error {
	var args datasetArgs
	if err := json.Unmarshal(job.EncodedArgs, &args); err != nil {
		return err
	}
	var err error
	if job.Kind == (foldArgs{}).Kind() {
		_, err = tx.FailAnalysis(ctx, args.AnalysisID, internal("The results could not be put together: the worker ended each time."))
	} else {
		_, err = q.finishDataset(ctx, tx, args.AnalysisID, args.Position, "", internal("The dataset could not be analysed: the worker ended each time."))
	}
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return err
	}
	if _, err := q.client.JobDeleteTx(ctx, tx.SQL(), job.ID); err != nil && !errors.Is(err, rivertype.ErrNotFound) {
		return err
	}
	return nil
}

// Sweep deletes blobs that no record names and that were last put more than 24 h
// ago.
func (q *Queue) Sweep(ctx context.Context) error {
	if q.Blobs == nil {
		return nil
	}
	before := time.Now().Add(-orphanAge)
	var old []string
	flush := func() error {
		if len(old) == 0 {
			return nil
		}
		unused, err := q.Store.UnusedBlobs(ctx, old)
		old = old[:0]
		for _, digest := range unused {
			if err == nil {
				err = q.Blobs.DeleteOld(ctx, digest, before)
			}
		}
		return err
	}
	err := q.Blobs.List(ctx, func(b blobs.Blob) error {
		if b.Modified.Before(before) {
			old = append(old, b.Digest)
		}
		if len(old) < 500 {
			return nil
		}
		return flush()
	})
	if err == nil {
		err = flush()
	}
	if err != nil {
		return fmt.Errorf("sweep the blobs: %w", err)
	}
	return nil
}
