package jobs

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"sheetwash/api/blobs"
	"sheetwash/api/store"
	"sheetwash/api/store/storetest"
)

// brisk are times for tests: what takes seconds in the field takes parts of one.
var brisk = times{timeout: 20 * time.Second, rescue: 30 * time.Second, maintain: 200 * time.Millisecond, sweep: time.Hour,
	cooldown: time.Millisecond, poll: 20 * time.Millisecond, retry: func(int) time.Duration { return 0 }}

// bench is a queue with its store and blobs under test.
type bench struct {
	t      *testing.T
	store  *store.Store
	blobs  blobs.Blobs
	season store.Season
	log    bytes.Buffer
}

func newBench(t *testing.T, c store.Config) *bench {
	t.Helper()
	b := &bench{t: t, store: storetest.Open(t, c)}
	var err error
	if b.blobs, err = blobs.OpenFiles(filepath.Join(t.TempDir(), "blobs")); err != nil {
		t.Fatal(err)
	}
	b.season = storetest.Season(t, b.store, "jobs")
	return b
}

// queue makes a queue that is stopped at the end of the test.
func (b *bench) queue(work Work, change ...func(*Config)) *Queue {
	b.t.Helper()
	c := Config{Store: b.store, Blobs: b.blobs, Work: work, Workers: 2, times: brisk}
	for _, f := range change {
		f(&c)
	}
	q, err := New(c)
	if err != nil {
		b.t.Fatal(err)
	}
	return q
}

func (b *bench) start(q *Queue) {
	b.t.Helper()
	if err := q.Start(context.Background()); err != nil {
		b.t.Fatal(err)
	}
	b.t.Cleanup(func() {
		ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
		defer cancel()
		if err := q.Stop(ctx); err != nil {
			b.t.Errorf("stop the queue: %v", err)
		}
	})
}

// submit makes an analysis over n new datasets and enqueues it.
func (b *bench) submit(q *Queue, name string, n int) (a store.Analysis) {
	b.t.Helper()
	datasets := storetest.Datasets(b.t, b.store, b.season, name, n)
	storetest.Write(b.t, b.store, func(ctx context.Context, tx *store.Tx) (err error) {
		a, err = tx.CreateAnalysis(ctx, store.Everything, store.Analysis{SeasonID: b.season.ID}, storetest.IDs(datasets))
		if err != nil {
			return err
		}
		return q.Submit(ctx, tx, a)
	})
	return a
}

// over waits until an analysis is over.
func (b *bench) over(id string) store.Analysis {
	b.t.Helper()
	a, err := waitOver(b.store, id)
	if err != nil {
		b.t.Fatal(err)
	}
	return a
}

func waitOver(s *store.Store, id string) (store.Analysis, error) {
	for deadline := time.Now().Add(60 * time.Second); ; {
		a, err := s.Analysis(context.Background(), store.Everything, id)
		if err != nil || a.Over() {
			return a, err
		}
		if time.Now().After(deadline) {
			return a, fmt.Errorf("analysis %s is not over: %+v", id, a)
		}
		time.Sleep(2 * time.Millisecond)
	}
}

// good is work that always succeeds: a part names its dataset, the one table lists
// the parts.
func good(b blobs.Blobs) Work {
	return Work{
		Dataset: func(ctx context.Context, _ store.Analysis, all []store.AnalysisDataset, position int) (string, json.RawMessage, error) {
			kept, err := b.Put(ctx, strings.NewReader("part of "+all[position].DatasetID))
			return kept.Digest, nil, err
		},
		Fold: func(ctx context.Context, a store.Analysis, parts []store.AnalysisDataset) ([]store.ResultTable, json.RawMessage, error) {
			var table strings.Builder
			for _, p := range parts {
				fmt.Fprintf(&table, "%d %s %s\n", p.Position, p.State, p.PartBlob)
			}
			kept, err := b.Put(ctx, strings.NewReader(table.String()))
			if err != nil {
				return nil, nil, err
			}
			return []store.ResultTable{{Table: "plot_results", Encoding: "json-si", Blob: kept.Digest, Bytes: kept.Bytes, Rows: int64(len(parts))}}, json.RawMessage(`{}`), nil
		},
	}
}

// parts of the suite, run on every database.
var suite = []struct {
	name string
	test func(*testing.T, *bench)
}{
	{"an analysis is done", analysisDone},
	{"bad data fail a dataset, not the analysis", badData},
	{"an error is tried again", triedAgain},
	{"what fails each time fails the dataset", failsEachTime},
	{"a panic is an error", panics},
	{"an attempt has its time", timesOut},
	{"a fold can reject", foldRejects},
	{"a fold that fails each time fails the analysis", foldFails},
	{"a dismissed analysis is left alone", dismissed},
	{"a stop returns jobs to the queue", stopped},
	{"a job of a killed worker is taken up", takenUp},
	{"a job whose worker is killed each time fails", killedEachTime},
	{"a fold whose worker is killed each time fails", foldKilledEachTime},
	{"doing jobs twice writes nothing", twice},
	{"blobs without a record are swept", swept},
	{"health", health},
}

func TestSQLite(t *testing.T) {
	t.Parallel()
	runSuite(t, storetest.SQLiteCopies(t))
}

func TestPostgreSQL(t *testing.T) {
	t.Parallel()
	if storetest.HasPostgres(t) {
		runSuite(t, storetest.PostgresCopies(t))
	}
}

func runSuite(t *testing.T, fresh func(testing.TB) store.Config) {
	for _, part := range suite {
		t.Run(part.name, func(t *testing.T) {
			t.Parallel() // they mostly wait
			part.test(t, newBench(t, fresh(t)))
		})
	}
}

func analysisDone(t *testing.T, b *bench) {
	var mu sync.Mutex
	seen := map[string]int{}
	q := b.queue(good(b.blobs), func(c *Config) {
		c.Observe = func(o Observed) {
			mu.Lock()
			defer mu.Unlock()
			seen[o.Kind+" "+o.Outcome]++
			if o.Wait < 0 || o.Run <= 0 {
				t.Errorf("observed %+v", o)
			}
		}
	})
	a := b.submit(q, "done", 5)
	if got, err := b.store.Analysis(context.Background(), store.Everything, a.ID); err != nil || got.State != store.AnalysisAccepted {
		t.Errorf("before the start: %+v, %v", got, err)
	}
	b.start(q)
	a = b.over(a.ID)
	if a.State != store.AnalysisSuccessful || a.Done != 5 || a.Failed != 0 || a.StartedAt == nil || a.Provenance == nil {
		t.Errorf("the analysis is %+v", a)
	}
	mu.Lock()
	defer mu.Unlock()
	if seen["analyse_dataset done"] != 5 {
		t.Errorf("observed %v, want 5 datasets done", seen)
	}
	tables, err := b.store.ResultTables(context.Background(), store.Everything, a.ID)
	if err != nil || len(tables) != 1 || tables[0].Rows != 5 {
		t.Errorf("the tables are %+v, %v", tables, err)
	}
}

func badData(t *testing.T, b *bench) {
	work := good(b.blobs)
	whole := work.Dataset
	work.Dataset = func(ctx context.Context, a store.Analysis, all []store.AnalysisDataset, position int) (string, json.RawMessage, error) {
		switch position {
		case 0:
			return "", json.RawMessage(`{"code":"data_rejected","detail":"as a problem"}`), nil
		case 1:
			return "", nil, fmt.Errorf("wrapped: %w", Rejection{json.RawMessage(`{"code":"data_rejected","detail":"as an error"}`)})
		}
		return whole(ctx, a, all, position)
	}
	q := b.queue(work)
	a := b.submit(q, "bad", 3)
	b.start(q)
	if a = b.over(a.ID); a.State != store.AnalysisSuccessful || a.Failed != 2 || a.Done != 3 {
		t.Errorf("the analysis is %+v", a)
	}
	parts, err := b.store.AnalysisDatasets(context.Background(), store.Everything, a.ID)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []string{`{"code":"data_rejected","detail":"as a problem"}`, `{"code":"data_rejected","detail":"as an error"}`, ""} {
		if string(parts[i].Problem) != want {
			t.Errorf("the problem of dataset %d is %s, want %s", i, parts[i].Problem, want)
		}
	}
}
