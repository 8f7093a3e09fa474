package jobs

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"

	"github.com/riverqueue/river"

	"sheetwash/api/store"
)

// foldArgs name an analysis all of whose datasets are through.
type foldArgs struct {
	AnalysisID string `json:"analysis_id"`
}

// Kind implements river.JobArgs.
func (foldArgs) Kind() string { return "fold_analysis" }

type foldWorker struct {
	river.WorkerDefaults[foldArgs]
	queue *Queue
}

// Work implements river.Worker: it folds the parts of an analysis into its tables.
func (w *foldWorker) Work(ctx context.Context, job *river.Job[foldArgs]) error {
	q, id := w.queue, job.Args.AnalysisID
	var tables []store.ResultTable
	var provenance json.RawMessage
	problem := internal(fmt.Sprintf("The results could not be put together in %d attempts.", attempts))
	work := func(ctx context.Context) error {
		a, parts, err := q.begin(ctx, id)
		if err != nil {
			return err
		}
		if a.Over() {
			return errOver
		}
		tables, provenance, err = q.Work.Fold(ctx, a, parts)
		var r Rejection
		if errors.As(err, &r) {
			problem = r.Problem
		}
		return err
	}
	record := func(ctx context.Context, tx *store.Tx) (bool, error) {
		f, err := tx.FinishAnalysis(ctx, id, tables, provenance)
		return f.Wrote, err
	}
	giveUp := func(ctx context.Context, tx *store.Tx) (bool, error) {
		f, err := tx.FailAnalysis(ctx, id, problem)
		return f.Wrote, err
	}
	return attempt(ctx, q, job, work, record, giveUp)
}
