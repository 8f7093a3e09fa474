package jobs

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"log/slog"
	"strings"
	"testing"
	"time"

	"sheetwash/api/blobs"
	"sheetwash/api/store"
	"sheetwash/api/store/storetest"
)

// The usual times keep their order: an attempt and its record end before its job
// counts as left by a killed worker.
func TestUsualTimes(t *testing.T) {
	t.Parallel()
	for _, d := range []store.Dialect{store.SQLite, store.PostgreSQL} {
		u := usual(d)
		if u.timeout+recordLimit >= u.rescue {
			t.Errorf("%v: an attempt of %v and its record of %v may take longer than %v", d, u.timeout, recordLimit, u.rescue)
		}
		if u.poll <= 0 || u.cooldown > u.poll {
			t.Errorf("%v: polls every %v, at most every %v", d, u.poll, u.cooldown)
		}
	}
	var all time.Duration
	for attempt := 1; attempt < attempts; attempt++ {
		if patience(attempt) <= 0 || attempt > 1 && patience(attempt) <= patience(attempt-1) {
			t.Errorf("after attempt %d the wait is %v", attempt, patience(attempt))
		}
		all += patience(attempt)
	}
	if all < 90*time.Second || patience(attempts) != patience(attempts-1) {
		t.Errorf("all waits are %v, that after the last %v", all, patience(attempts))
	}
}

// With the usual times and one worker per processor an analysis is done as well.
func TestUsualQueue(t *testing.T) {
	t.Parallel()
	b := newBench(t, storetest.SQLite(t))
	q := b.queue(good(b.blobs), func(c *Config) { c.times, c.Workers, c.Alone = times{}, 0, true })
	a := b.submit(q, "usual", 3)
	b.start(q)
	if a = b.over(a.ID); a.State != store.AnalysisSuccessful {
		t.Errorf("the analysis is %+v", a)
	}
}

// Work that returns neither a part nor a problem is at fault itself.
func TestNeither(t *testing.T) {
	t.Parallel()
	b := newBench(t, storetest.SQLite(t))
	work := good(b.blobs)
	work.Dataset = func(context.Context, store.Analysis, []store.AnalysisDataset, int) (string, json.RawMessage, error) {
		return "", nil, nil
	}
	q := b.queue(work)
	a := b.submit(q, "neither", 1)
	b.start(q)
	if a = b.over(a.ID); a.Failed != 1 {
		t.Errorf("the analysis is %+v", a)
	}
}

// Where the record of the last attempt cannot be written the analysis stays open,
// and is settled as soon as the database takes records again.
func TestRecordsFail(t *testing.T) {
	t.Parallel()
	b := newBench(t, storetest.SQLite(t))
	exec := func(text string) {
		t.Helper()
		if _, err := b.store.DB().Exec(text); err != nil {
			t.Fatal(err)
		}
	}
	exec("CREATE TRIGGER full BEFORE UPDATE ON analysis_datasets BEGIN SELECT RAISE(ABORT, 'the disk is full'); END")
	q := b.queue(good(b.blobs))
	a := b.submit(q, "full", 1)
	b.start(q)
	for deadline := time.Now().Add(60 * time.Second); ; time.Sleep(10 * time.Millisecond) {
		var n int
		if err := b.store.ReadDB().QueryRow("SELECT COUNT(*) FROM river_job WHERE state = 'discarded'").Scan(&n); err != nil || time.Now().After(deadline) {
			t.Fatalf("the job was not given up: %v", err)
		}
		if n == 1 {
			break
		}
	}
	if got, err := b.store.Analysis(context.Background(), store.Everything, a.ID); err != nil || got.Over() {
		t.Errorf("meanwhile the analysis is %+v, %v", got, err)
	}
	exec("DROP TRIGGER full")
	if a = b.over(a.ID); a.Failed != 1 || a.Done != 1 {
		t.Errorf("the analysis is %+v", a)
	}
}

// A fold that cannot be enqueued takes the record of the last part with it.
func TestFoldNotEnqueued(t *testing.T) {
	t.Parallel()
	b := newBench(t, storetest.SQLite(t))
	q := b.queue(good(b.blobs))
	a := b.submit(q, "not enqueued", 1)
	if _, err := b.store.DB().Exec("CREATE TRIGGER full BEFORE INSERT ON river_job BEGIN SELECT RAISE(ABORT, 'the disk is full'); END"); err != nil {
		t.Fatal(err)
	}
	ctx := context.Background()
	if err := b.store.InTx(ctx, func(tx *store.Tx) error {
		_, err := q.finishDataset(ctx, tx, a.ID, 0, storetest.Digest("part"), nil)
		return err
	}); err == nil {
		t.Error("a part without its fold was recorded")
	}
	if err := b.store.InTx(ctx, func(tx *store.Tx) error { return q.Submit(ctx, tx, a) }); err == nil {
		t.Error("an analysis without its jobs was recorded")
	}
	if got, err := b.store.Analysis(ctx, store.Everything, a.ID); err != nil || got.Done != 0 || got.State != store.AnalysisAccepted {
		t.Errorf("the analysis is %+v, %v", got, err)
	}
}

// The regular sweep forgets old answers and orphans, and goes on after an error.
func TestRegularSweep(t *testing.T) {
	t.Parallel()
	b := newBench(t, storetest.SQLite(t))
	ctx := context.Background()
	if _, _, err := b.store.BeginIdempotent(ctx, store.Request{Key: "old"}, time.Minute); err != nil {
		t.Fatal(err)
	}
	if _, err := b.store.DB().Exec("UPDATE idempotent_requests SET expires_at = 1"); err != nil {
		t.Fatal(err)
	}
	away := &absent{Blobs: b.blobs}
	q := b.queue(good(b.blobs), func(c *Config) { c.times.sweep = 5 * time.Millisecond; c.Blobs = away })
	b.start(q)
	for deadline := time.Now().Add(60 * time.Second); ; time.Sleep(5 * time.Millisecond) {
		var n int
		if err := b.store.ReadDB().QueryRow("SELECT COUNT(*) FROM idempotent_requests").Scan(&n); err != nil || time.Now().After(deadline) {
			t.Fatalf("%d old requests are left, %v", n, err)
		}
		if n == 0 {
			break
		}
	}
	if err := q.Sweep(ctx); !errors.Is(err, errAway) {
		t.Errorf("a sweep of blobs that are away: %v", err)
	}
}

// absent are blobs that cannot be listed.
type absent struct{ blobs.Blobs }

func (absent) List(context.Context, func(blobs.Blob) error) error { return errAway }

// A store that has gone is an error everywhere, not a panic.
func TestStoreGone(t *testing.T) {
	t.Parallel()
	b := newBench(t, storetest.SQLite(t))
	ctx := context.Background()
	q := b.queue(good(b.blobs), func(c *Config) { c.Alone = true })
	kept, err := b.blobs.Put(ctx, strings.NewReader("old"))
	if err != nil {
		t.Fatal(err)
	}
	old := aged{b.blobs, kept.Digest}
	for _, db := range []*sql.DB{b.store.DB(), b.store.ReadDB()} {
		if err := db.Close(); err != nil {
			t.Fatal(err)
		}
	}
	_, health := q.Health(ctx)
	q.Blobs = old
	for what, err := range map[string]error{"health": health, "rescue": q.rescue(ctx, 0), "abandoned": q.settleAbandoned(ctx), "sweep": q.Sweep(ctx), "start": q.Start(ctx)} {
		if err == nil {
			t.Errorf("%s: no error", what)
		}
	}
	if _, err := b.blobs.Stat(ctx, kept.Digest); err != nil {
		t.Errorf("a sweep that cannot ask for records deleted a blob: %v", err)
	}
	if _, _, err := q.begin(ctx, "a"); err == nil {
		t.Error("begin: no error")
	}
}

// aged are blobs one of which looks old.
type aged struct {
	blobs.Blobs
	digest string
}

func (a aged) List(_ context.Context, do func(blobs.Blob) error) error {
	return do(blobs.Blob{Digest: a.digest, Modified: time.Now().Add(-48 * time.Hour)})
}

// Of the library only warnings reach the log.
func TestWarnings(t *testing.T) {
	t.Parallel()
	var out bytes.Buffer
	log := slog.New(warnings{slog.NewJSONHandler(&out, &slog.HandlerOptions{Level: slog.LevelDebug})}).With("a", 1).WithGroup("g")
	log.Info("chatter")
	log.Warn("trouble", "b", 2)
	if text := out.String(); strings.Contains(text, "chatter") || !strings.Contains(text, `"a":1,"g":{"b":2}`) {
		t.Errorf("the log is %s", text)
	}
}
