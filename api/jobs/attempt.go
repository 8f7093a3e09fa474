package jobs

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"runtime/debug"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riverdatabasesql"
	"github.com/riverqueue/river/riverdriver/riversqlite"
	"github.com/riverqueue/river/rivertype"

	"sheetwash/api/store"
)

// recordLimit is how long the result of an attempt may take to be written down. An
// attempt and its record end before the job counts as abandoned.
const recordLimit = 10 * time.Second

// Outcomes of an attempt.
const (
	OutcomeDone     = "done"     // recorded
	OutcomeRejected = "rejected" // bad data, recorded as failed
	OutcomeNothing  = "nothing"  // done already, or the analysis is over
	OutcomeRetry    = "retry"    // an error, to be tried again
	OutcomeFailed   = "failed"   // an error for the last time, recorded as failed
	OutcomeStopped  = "stopped"  // the program stops; back into the queue
)

// Observed is one attempt at a job.
type Observed struct {
	Kind      string        // "analyse_dataset" or "fold_analysis"
	Outcome   string        // one of the above
	Wait, Run time.Duration // since it could run, and while it ran
}

// attempt runs one attempt at a job: work does it, record writes its result down in
// a transaction of its own and says whether that wrote anything; give up writes
// down that there is no result.
func attempt[T river.JobArgs](ctx context.Context, q *Queue, job *river.Job[T], work func(context.Context) error, record, giveUp func(context.Context, *store.Tx) (bool, error)) error {
	start := time.Now()
	outcome, err := q.outcome(ctx, job.JobRow, work, completing(q, job, record), completing(q, job, giveUp))
	if q.Observe != nil {
		q.Observe(Observed{job.Kind, outcome, max(0, start.Sub(job.ScheduledAt)), time.Since(start)})
	}
	if outcome == OutcomeStopped {
		return river.JobSnooze(0)
	}
	return err
}

// completing adds to a record that the job is completed, so that both commit
// together: a worker killed after the commit leaves nothing to be done again.
func completing[T river.JobArgs](q *Queue, job *river.Job[T], record func(context.Context, *store.Tx) (bool, error)) func(context.Context, *store.Tx) (bool, error) {
	return func(ctx context.Context, tx *store.Tx) (bool, error) {
		wrote, err := record(ctx, tx)
		if err != nil {
			return false, err
		}
		if q.Store.Dialect() == store.PostgreSQL {
			_, err = river.JobCompleteTx[*riverdatabasesql.Driver](ctx, tx.SQL(), job)
		} else {
			_, err = river.JobCompleteTx[*riversqlite.Driver](ctx, tx.SQL(), job)
		}
		if errors.Is(err, rivertype.ErrNotFound) {
			err = nil // rescued meanwhile: the next attempt finds it done
		}
		return wrote, err
	}
}

func (q *Queue) outcome(ctx context.Context, job *rivertype.JobRow, work func(context.Context) error, record, giveUp func(context.Context, *store.Tx) (bool, error)) (string, error) {
	outcome := OutcomeDone
	err := guarded(ctx, work)
	switch {
	case errors.Is(err, errOver):
		return OutcomeNothing, nil
	case errors.As(err, new(Rejection)):
		outcome, record = OutcomeRejected, giveUp
	case err == nil:
	case errors.Is(ctx.Err(), context.Canceled):
		return OutcomeStopped, nil
	case job.Attempt < job.MaxAttempts:
		return OutcomeRetry, err
	default:
		q.Log.ErrorContext(ctx, "job given up", "kind", job.Kind, "job", job.ID, "attempts", job.Attempt, "err", err)
		outcome, record = OutcomeFailed, giveUp
	}
	wrote, err := q.record(ctx, record)
	switch {
	case err != nil:
		return OutcomeRetry, err
	case !wrote:
		return OutcomeNothing, nil
	}
	return outcome, nil
}

// record writes a result down, also when the time of the attempt is over.
func (q *Queue) record(ctx context.Context, do func(context.Context, *store.Tx) (bool, error)) (wrote bool, err error) {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), recordLimit)
	defer cancel()
	err = q.Store.InTx(ctx, func(tx *store.Tx) (err error) {
		wrote, err = do(ctx, tx)
		return err
	})
	return wrote, err
}

// errOver says that there is nothing to do.
var errOver = errors.New("the work is done already")

// guarded makes a panic of the work an error with its stack.
func guarded(ctx context.Context, work func(context.Context) error) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("panic: %v\n%s", p, debug.Stack())
		}
	}()
	return work(ctx)
}

// internal is the problem of work that failed by no fault of the data.
func internal(detail string) json.RawMessage {
	data, err := json.Marshal(struct {
		Title     string `json:"title"`
		Status    int    `json:"status"`
		Detail    string `json:"detail"`
		Code      string `json:"code"`
		Retryable bool   `json:"retryable"`
	}{"Internal error", 500, detail, "internal", true})
	if err != nil { // texts and numbers always have a JSON form
		return json.RawMessage(`{"code":"internal"}`)
	}
	return data
}
