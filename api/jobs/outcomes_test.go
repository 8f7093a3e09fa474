package jobs

import (
	"context"
	"encoding/json"
	"errors"
	"log/slog"
	"strings"
	"sync"
	"testing"
	"time"

	"sheetwash/api/blobs"
	"sheetwash/api/store"
)

// flaky is work whose dataset or fold fails until it was tried often enough.
func flaky(b blobs.Blobs, datasetTries, foldTries int, fail func() error) (Work, func() (datasets, folds int)) {
	var mu sync.Mutex
	var datasets, folds int
	next := func(n *int, enough int) error {
		mu.Lock()
		defer mu.Unlock()
		if *n++; *n < enough {
			return fail()
		}
		return nil
	}
	whole := good(b)
	return Work{
			Dataset: func(ctx context.Context, a store.Analysis, all []store.AnalysisDataset, position int) (string, json.RawMessage, error) {
				if err := next(&datasets, datasetTries); err != nil {
					return "", nil, err
				}
				return whole.Dataset(ctx, a, all, position)
			},
			Fold: func(ctx context.Context, a store.Analysis, parts []store.AnalysisDataset) ([]store.ResultTable, json.RawMessage, error) {
				if err := next(&folds, foldTries); err != nil {
					return nil, nil, err
				}
				return whole.Fold(ctx, a, parts)
			},
		}, func() (int, int) {
			mu.Lock()
			defer mu.Unlock()
			return datasets, folds
		}
}

var errAway = errors.New("the bucket is away")

func triedAgain(t *testing.T, b *bench) {
	work, tries := flaky(b.blobs, attempts, attempts, func() error { return errAway })
	q := b.queue(work)
	a := b.submit(q, "again", 1)
	b.start(q)
	if a = b.over(a.ID); a.State != store.AnalysisSuccessful || a.Failed != 0 {
		t.Errorf("the analysis is %+v", a)
	}
	if d, f := tries(); d != attempts || f != attempts {
		t.Errorf("%d and %d tries, want %d of each", d, f, attempts)
	}
}

func failsEachTime(t *testing.T, b *bench) {
	work, tries := flaky(b.blobs, 1000, 1, func() error { return errAway })
	q := b.queue(work, func(c *Config) { c.Log = slog.New(slog.NewJSONHandler(&b.log, nil)) })
	a := b.submit(q, "fails", 1)
	b.start(q)
	if a = b.over(a.ID); a.Failed != 1 || a.Done != 1 {
		t.Errorf("the analysis is %+v", a)
	}
	if d, _ := tries(); d != attempts {
		t.Errorf("%d tries, want %d", d, attempts)
	}
	parts, err := b.store.AnalysisDatasets(context.Background(), store.Everything, a.ID)
	if err != nil || !strings.Contains(string(parts[0].Problem), `"code":"internal"`) || strings.Contains(string(parts[0].Problem), "bucket") {
		t.Errorf("the problem is %s, %v; want the code internal without the cause", parts[0].Problem, err)
	}
}

func panics(t *testing.T, b *bench) {
	work, _ := flaky(b.blobs, 2, 2, func() error { panic("a slice ended early") })
	q := b.queue(work)
	a := b.submit(q, "panics", 1)
	b.start(q)
	if a = b.over(a.ID); a.State != store.AnalysisSuccessful || a.Failed != 0 {
		t.Errorf("the analysis is %+v", a)
	}
}

func timesOut(t *testing.T, b *bench) {
	work := good(b.blobs)
	work.Dataset = func(ctx context.Context, _ store.Analysis, _ []store.AnalysisDataset, _ int) (string, json.RawMessage, error) {
		<-ctx.Done()
		return "", nil, ctx.Err()
	}
	q := b.queue(work, func(c *Config) { c.times.timeout = 20 * time.Millisecond })
	a := b.submit(q, "slow", 1)
	b.start(q)
	if a = b.over(a.ID); a.Failed != 1 {
		t.Errorf("the analysis is %+v", a)
	}
}

func foldRejects(t *testing.T, b *bench) {
	work := good(b.blobs)
	work.Fold = func(context.Context, store.Analysis, []store.AnalysisDataset) ([]store.ResultTable, json.RawMessage, error) {
		return nil, nil, Rejection{json.RawMessage(`{"code":"data_rejected"}`)}
	}
	q := b.queue(work)
	a := b.submit(q, "rejects", 1)
	b.start(q)
	if a = b.over(a.ID); a.State != store.AnalysisFailed || string(a.Problem) != `{"code":"data_rejected"}` {
		t.Errorf("the analysis is %+v with problem %s", a, a.Problem)
	}
}

func foldFails(t *testing.T, b *bench) {
	work, tries := flaky(b.blobs, 1, 1000, func() error { return errAway })
	q := b.queue(work)
	a := b.submit(q, "fold fails", 1)
	b.start(q)
	if a = b.over(a.ID); a.State != store.AnalysisFailed || !strings.Contains(string(a.Problem), `"code":"internal"`) {
		t.Errorf("the analysis is %+v with problem %s", a, a.Problem)
	}
	if _, f := tries(); f != attempts {
		t.Errorf("%d tries, want %d", f, attempts)
	}
}
