package jobs

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"

	"github.com/riverqueue/river"

	"sheetwash/api/store"
)

// datasetArgs name one dataset of an analysis.
type datasetArgs struct {
	AnalysisID string `json:"analysis_id"`
	Position   int    `json:"position"`
}

// Kind implements river.JobArgs.
func (datasetArgs) Kind() string { return "analyse_dataset" }

// InsertOpts implements river.JobArgsWithInsertOpts: folds go first, so that an
// analysis that needs only its fold is not kept waiting by the next one.
func (datasetArgs) InsertOpts() river.InsertOpts { return river.InsertOpts{Priority: 2} }

type datasetWorker struct {
	river.WorkerDefaults[datasetArgs]
	queue *Queue
}

// Work implements river.Worker: it analyses one dataset and, when it was the last,
// enqueues the fold with its record.
func (w *datasetWorker) Work(ctx context.Context, job *river.Job[datasetArgs]) error {
	q, id, position := w.queue, job.Args.AnalysisID, job.Args.Position
	var part string
	problem := internal(fmt.Sprintf("The dataset could not be analysed in %d attempts.", attempts))
	work := func(ctx context.Context) error {
		a, all, err := q.begin(ctx, id)
		switch {
		case err != nil:
			return err
		case a.Over() || position >= len(all) || all[position].State != store.PartPending:
			return errOver
		}
		blob, bad, err := q.Work.Dataset(ctx, a, all, position)
		var r Rejection
		switch {
		case errors.As(err, &r):
			problem = r.Problem
			return err
		case err != nil:
			return err
		case bad != nil:
			problem = bad
			return Rejection{bad}
		case blob == "":
			return errors.New("the work returned neither a part nor a problem")
		}
		part = blob
		return nil
	}
	record := func(ctx context.Context, tx *store.Tx) (bool, error) {
		return q.finishDataset(ctx, tx, id, position, part, nil)
	}
	giveUp := func(ctx context.Context, tx *store.Tx) (bool, error) {
		return q.finishDataset(ctx, tx, id, position, "", problem)
	}
	return attempt(ctx, q, job, work, record, giveUp)
}

// begin reads an analysis and its datasets, and makes it running if nobody has.
func (q *Queue) begin(ctx context.Context, id string) (store.Analysis, []store.AnalysisDataset, error) {
	a, err := q.Store.Analysis(ctx, store.Everything, id)
	if err == nil && a.State == store.AnalysisAccepted {
		err = q.Store.InTx(ctx, func(tx *store.Tx) (err error) {
			a, err = tx.StartAnalysis(ctx, id)
			return err
		})
	}
	if errors.Is(err, store.ErrNotFound) {
		return a, nil, errOver
	}
	if err != nil {
		return a, nil, fmt.Errorf("begin with the analysis: %w", err)
	}
	all, err := q.Store.AnalysisDatasets(ctx, store.Everything, id)
	if err != nil {
		return a, nil, fmt.Errorf("read the datasets of the analysis: %w", err)
	}
	return a, all, nil
}

// finishDataset records a part, or why there is none, and enqueues the fold in the
// same transaction when it was the last: once, whoever else finishes datasets. The
// analysis may still wait for its start, if no attempt came as far as that.
func (q *Queue) finishDataset(ctx context.Context, tx *store.Tx, id string, position int, part string, problem json.RawMessage) (bool, error) {
	if _, err := tx.StartAnalysis(ctx, id); err != nil {
		return false, err
	}
	f, err := tx.FinishDataset(ctx, id, position, part, problem)
	if err != nil || !f.Wrote || f.Remaining > 0 {
		return f.Wrote, err
	}
	if _, err := q.client.InsertTx(ctx, tx.SQL(), foldArgs{id}, nil); err != nil {
		return false, fmt.Errorf("enqueue the fold: %w", err)
	}
	tx.AfterCommit(q.gate.wake)
	return true, nil
}
