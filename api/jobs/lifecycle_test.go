package jobs

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"sheetwash/api/blobs"
	"sheetwash/api/store"
	"sheetwash/api/store/storetest"
)

func dismissed(t *testing.T, b *bench) {
	running, goOn := make(chan string, 10), make(chan struct{})
	work := good(b.blobs)
	whole := work.Dataset
	work.Dataset = func(ctx context.Context, a store.Analysis, all []store.AnalysisDataset, position int) (string, json.RawMessage, error) {
		running <- a.ID
		<-goOn
		return whole(ctx, a, all, position)
	}
	q := b.queue(work, func(c *Config) { c.Workers = 1 })
	a := b.submit(q, "dismissed", 2)
	b.start(q)
	<-running
	storetest.Write(t, b.store, func(ctx context.Context, tx *store.Tx) error {
		_, err := tx.DismissAnalysis(ctx, store.Everything, a.ID, 0)
		return err
	})
	close(goOn)
	next := b.submit(q, "the next", 1)
	if next = b.over(next.ID); next.State != store.AnalysisSuccessful {
		t.Errorf("the next analysis is %+v", next)
	}
	a = b.over(a.ID)
	if a.State != store.AnalysisDismissed || a.Done != 0 {
		t.Errorf("the dismissed analysis is %+v", a)
	}
	if len(running) != 1 {
		t.Errorf("%d more datasets were worked on, want that of the next analysis", len(running))
	}
}

func stopped(t *testing.T, b *bench) {
	running := make(chan struct{}, 10)
	work := good(b.blobs)
	work.Dataset = func(ctx context.Context, _ store.Analysis, _ []store.AnalysisDataset, _ int) (string, json.RawMessage, error) {
		running <- struct{}{}
		<-ctx.Done()
		return "", nil, ctx.Err()
	}
	q := b.queue(work, func(c *Config) { c.times.timeout = time.Minute; c.times.rescue = 2 * time.Minute })
	a := b.submit(q, "stopped", 1)
	for range attempts + 1 { // a stop is no attempt
		if err := q.Start(context.Background()); err != nil {
			t.Fatal(err)
		}
		<-running
		ctx, cancel := context.WithTimeout(context.Background(), 10*time.Millisecond)
		if err := q.Stop(ctx); err != nil {
			t.Fatalf("stop: %v", err)
		}
		cancel()
		if h, err := q.Health(context.Background()); err != nil || h.Waiting != 1 || h.Running != 0 {
			t.Fatalf("after the stop: %+v, %v; want the job waiting", h, err)
		}
		q = b.queue(work, func(c *Config) { c.times.timeout = time.Minute; c.times.rescue = 2 * time.Minute })
	}
	b.start(b.queue(good(b.blobs)))
	if a = b.over(a.ID); a.State != store.AnalysisSuccessful || a.Failed != 0 {
		t.Errorf("the analysis is %+v", a)
	}
}

// kill makes jobs look as if their worker was killed while it had them, at an
// attempt that is the last or not.
func (b *bench) kill(attempt, of int, ago time.Duration) {
	b.t.Helper()
	at := fmt.Sprintf("strftime('%%Y-%%m-%%d %%H:%%M:%%f', 'now', '-%f seconds')", ago.Seconds())
	if b.store.Dialect() == store.PostgreSQL {
		at = fmt.Sprintf("clock_timestamp() - interval '%f seconds'", ago.Seconds())
	}
	result, err := b.store.DB().Exec(fmt.Sprintf("UPDATE river_job SET state = 'running', attempt = %d, max_attempts = %d, attempted_at = %s WHERE state = 'available'", attempt, of, at))
	if err != nil {
		b.t.Fatal(err)
	}
	if n, err := result.RowsAffected(); err != nil || n == 0 {
		b.t.Fatalf("%d jobs were killed, %v", n, err)
	}
}

func takenUp(t *testing.T, b *bench) {
	q := b.queue(good(b.blobs))
	a := b.submit(q, "taken up", 3)
	b.kill(attempts, attempts, time.Minute) // a kill is no attempt
	b.start(q)
	if a = b.over(a.ID); a.State != store.AnalysisSuccessful || a.Failed != 0 {
		t.Errorf("the analysis is %+v", a)
	}
	// A worker that knows that it is alone does not wait.
	alone := b.queue(good(b.blobs), func(c *Config) { c.Alone = true; c.times.rescue = time.Hour })
	next := b.submit(alone, "taken up at once", 3)
	b.kill(1, attempts, 0)
	b.start(alone)
	if next = b.over(next.ID); next.State != store.AnalysisSuccessful {
		t.Errorf("the analysis is %+v", next)
	}
}

func killedEachTime(t *testing.T, b *bench) {
	q := b.queue(good(b.blobs))
	a := b.submit(q, "killed", 2)
	b.kill(attempts+killsForgiven, attempts+killsForgiven, time.Minute)
	b.start(q)
	if a = b.over(a.ID); a.Failed != 2 || a.Done != 2 {
		t.Errorf("the analysis is %+v", a)
	}
	parts, err := b.store.AnalysisDatasets(context.Background(), store.Everything, a.ID)
	if err != nil || !strings.Contains(string(parts[1].Problem), "the worker ended each time") {
		t.Errorf("the problem is %s, %v", parts[1].Problem, err)
	}
}

func foldKilledEachTime(t *testing.T, b *bench) {
	q := b.queue(good(b.blobs))
	a := b.submit(q, "fold killed", 1)
	storetest.Write(t, b.store, func(ctx context.Context, tx *store.Tx) error {
		if _, err := tx.SQL().ExecContext(ctx, "DELETE FROM river_job"); err != nil {
			return err
		}
		if _, err := tx.StartAnalysis(ctx, a.ID); err != nil {
			return err
		}
		wrote, err := q.finishDataset(ctx, tx, a.ID, 0, storetest.Digest("part"), nil)
		if !wrote {
			t.Error("the part was not written")
		}
		return err
	})
	b.kill(attempts+killsForgiven, attempts+killsForgiven, time.Minute)
	b.start(q)
	if a = b.over(a.ID); a.State != store.AnalysisFailed || !strings.Contains(string(a.Problem), "the worker ended each time") {
		t.Errorf("the analysis is %+v with problem %s", a, a.Problem)
	}
}

// twice enqueues every job of an analysis a second time, while it is worked on and
// after: nothing of it changes.
func twice(t *testing.T, b *bench) {
	ctx := context.Background()
	q := b.queue(good(b.blobs))
	a := b.submit(q, "twice", 4)
	again := func() {
		t.Helper()
		storetest.Write(t, b.store, func(ctx context.Context, tx *store.Tx) error { return q.Submit(ctx, tx, a) })
	}
	again()
	b.start(q)
	a = b.over(a.ID)
	events, err := b.store.ProgressAfter(ctx, store.Everything, a.ID, 0, 100)
	if err != nil || len(events) != 4+3 {
		t.Errorf("%d events, %v; want accepted, running, 4 datasets, successful", len(events), err)
	}
	again()
	if _, err := q.client.Insert(ctx, foldArgs{a.ID}, nil); err != nil {
		t.Fatal(err)
	}
	if _, err := q.client.Insert(ctx, foldArgs{store.NewID()}, nil); err != nil { // of an analysis that is not there
		t.Fatal(err)
	}
	for deadline := time.Now().Add(60 * time.Second); ; {
		h, err := q.Health(ctx)
		if err != nil {
			t.Fatal(err)
		}
		if h.Waiting+h.Running == 0 {
			break
		}
		if time.Now().After(deadline) {
			t.Fatalf("the queue is not empty: %+v", h)
		}
		time.Sleep(5 * time.Millisecond)
	}
	if got := b.over(a.ID); got.Revision != a.Revision {
		t.Errorf("the jobs' second run changed the analysis from %+v to %+v", a, got)
	}
}

func swept(t *testing.T, b *bench) {
	ctx := context.Background()
	put := func(text string, age time.Duration) string {
		t.Helper()
		kept, err := b.blobs.Put(ctx, strings.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		paths, err := filepath.Glob(filepath.Join(filepath.Dir(t.TempDir()), "*", "blobs", kept.Digest[:2], kept.Digest))
		if err != nil || len(paths) != 1 {
			t.Fatalf("the blob is at %q, %v", paths, err)
		}
		at := time.Now().Add(-age)
		if err := os.Chtimes(paths[0], at, at); err != nil {
			t.Fatal(err)
		}
		return kept.Digest
	}
	storetest.Datasets(t, b.store, b.season, "swept", 1)
	used := put("file of swept 0", 48*time.Hour)
	fresh, orphan := put("fresh", time.Hour), put("orphan", 48*time.Hour)
	q := b.queue(Work{})
	if err := q.Sweep(ctx); err != nil {
		t.Fatal(err)
	}
	for digest, want := range map[string]error{used: nil, fresh: nil, orphan: blobs.ErrNotFound} {
		if _, err := b.blobs.Stat(ctx, digest); !errors.Is(err, want) {
			t.Errorf("after the sweep %s: %v, want %v", digest, err, want)
		}
	}
}

func health(t *testing.T, b *bench) {
	ctx := context.Background()
	q := b.queue(good(b.blobs))
	if h, err := q.Health(ctx); err != nil || h != (Health{}) {
		t.Errorf("an empty queue: %+v, %v", h, err)
	}
	a := b.submit(q, "health", 3)
	time.Sleep(20 * time.Millisecond)
	if h, err := q.Health(ctx); err != nil || h.Waiting != 3 || h.OldestAge < 10*time.Millisecond || h.OldestAge > time.Minute || !h.Fetched.IsZero() {
		t.Errorf("a queue that nobody works on: %+v, %v", h, err)
	}
	b.start(q)
	b.over(a.ID)
	if h, err := q.Health(ctx); err != nil || time.Since(h.Fetched) > time.Minute {
		t.Errorf("a queue that is worked on: %+v, %v", h, err)
	}
	if err := b.queue(Work{}).Start(ctx); err == nil {
		t.Error("a queue without work starts")
	}
}
