package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"sheetwash/api/blobs"
	"sheetwash/api/jobs"
	"sheetwash/api/store"
	"sheetwash/api/store/storetest"
	"sheetwash/cmd/internal/config"
)

// A worker takes what waits in the queue, and ends with exit 0 when it is told to.
func TestWorker(t *testing.T) {
	c := config.Default()
	c.Data = t.TempDir()
	s := storetest.Open(t, store.Config{SQLitePath: c.Records()})
	season := storetest.Season(t, s, "worked on")
	datasets := storetest.Datasets(t, s, season, "worked on", 3)
	queue, err := jobs.New(jobs.Config{Store: s})
	if err != nil {
		t.Fatal(err)
	}
	var a store.Analysis
	storetest.Write(t, s, func(ctx context.Context, tx *store.Tx) (err error) {
		if a, err = tx.CreateAnalysis(ctx, store.Everything, store.Analysis{SeasonID: season.ID}, storetest.IDs(datasets)); err != nil {
			return err
		}
		return queue.Submit(ctx, tx, a)
	})
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	var log bytes.Buffer
	ended := make(chan error, 1)
	go func() { ended <- (&streams{err: &log, env: func(string) string { return "" }}).work(ctx, c, foldOnly) }()
	for deadline := time.Now().Add(60 * time.Second); !a.Over(); time.Sleep(5 * time.Millisecond) {
		if a, err = s.Analysis(ctx, store.Everything, a.ID); err != nil || time.Now().After(deadline) {
			t.Fatalf("the analysis is %+v, %v", a, err)
		}
	}
	if a.State != store.AnalysisSuccessful {
		t.Errorf("the analysis is %+v", a)
	}
	second := run(t, "worker", "--data", c.Data)
	if second.code != exitConflict || !strings.Contains(second.err, "data folder") {
		t.Errorf("a second worker on the folder said %v", second)
	}
	stop()
	if err := <-ended; err != nil {
		t.Errorf("the stopped worker ended with %v", err)
	}
	for _, line := range strings.Split(strings.TrimSpace(log.String()), "\n") {
		if !json.Valid([]byte(line)) {
			t.Errorf("the log has the line %q", line)
		}
	}
	if !strings.Contains(log.String(), "worker started") || !strings.Contains(log.String(), "worker stops") {
		t.Errorf("the log is %s", log.String())
	}
}

// foldOnly is work that computes nothing.
func foldOnly(config.Config, *store.Store, blobs.Blobs) (jobs.Work, error) {
	return jobs.Work{
		Dataset: func(context.Context, store.Analysis, []store.AnalysisDataset, int) (string, json.RawMessage, error) {
			return storetest.Digest("part"), nil, nil
		},
		Fold: func(context.Context, store.Analysis, []store.AnalysisDataset) ([]store.ResultTable, json.RawMessage, error) {
			return nil, nil, nil
		},
	}, nil
}

func TestWorkerRefusals(t *testing.T) {
	folder := t.TempDir()
	file := filepath.Join(folder, "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if said := run(t, "worker", "--data", file); said.code != exitIO {
		t.Errorf("a file as the folder: %v", said)
	}
	if said := run(t, "worker", "now"); said.code != exitUsage {
		t.Errorf("an argument: %v", said)
	}
	c := config.Default()
	c.Data = filepath.Join(folder, "data")
	away := errors.New("no work")
	err := (&streams{err: &bytes.Buffer{}, env: func(string) string { return "" }}).work(context.Background(), c,
		func(config.Config, *store.Store, blobs.Blobs) (jobs.Work, error) { return jobs.Work{}, away })
	if !errors.Is(err, away) {
		t.Errorf("work that can't be had: %v", err)
	}
}

// The work of the worker is that of the engine.
func TestComputing(t *testing.T) {
	c := config.Default()
	c.Data = t.TempDir()
	s := storetest.Open(t, store.Config{SQLitePath: c.Records()})
	b, err := blobs.OpenFiles(c.Blobs())
	if err != nil {
		t.Fatal(err)
	}
	if w, err := computing(c, s, b); err != nil || w.Dataset == nil || w.Fold == nil {
		t.Errorf("the work is %+v, %v", w, err)
	}
}
