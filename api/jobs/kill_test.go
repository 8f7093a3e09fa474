package jobs

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"sheetwash/api/blobs"
	"sheetwash/api/store"
	"sheetwash/api/store/storetest"
)

// kills is how often TestKill kills the process; KILLS=200 kills it oftener.
func kills(t *testing.T) int {
	n := 20
	if text := os.Getenv("KILLS"); text != "" {
		if _, err := fmt.Sscan(text, &n); err != nil {
			t.Fatal(err)
		}
	}
	return n
}

// A process that uploads, submits and works on one data folder is killed again and
// again at random moments. Whatever it acknowledged is there, is analysed, and is
// there once.
func TestKill(t *testing.T) {
	t.Parallel()
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 0))
	folder := t.TempDir()
	c := childConfig{SQLite: filepath.Join(folder, "records.sqlite"), Blobs: filepath.Join(folder, "blobs"),
		Works: true, Uploads: true, Pause: time.Millisecond}
	setUp := storetest.Open(t, store.Config{SQLitePath: c.SQLite})
	c.Season = storetest.Season(t, setUp, "killed").ID
	if err := setUp.Close(); err != nil {
		t.Fatal(err)
	}

	var acknowledged []string
	for i := range kills(t) {
		c.Name = fmt.Sprint("kill ", i)
		k := startChild(t, c)
		// Every life gets something done, so that no job is under way at every kill
		// and given up.
		for line := ""; !strings.HasPrefix(line, "analysis"); {
			var ok bool
			if line, ok = <-k.lines; !ok {
				t.Fatal("the process ended by itself")
			}
			acknowledged = append(acknowledged, line)
		}
		time.Sleep(time.Duration(random.IntN(100_000)) * time.Microsecond)
		k.kill()
		acknowledged = append(acknowledged, k.acknowledged()...)
	}
	c.Uploads = false
	startChild(t, c)
	s := storetest.Open(t, store.Config{SQLitePath: c.SQLite})
	b, err := blobs.OpenFiles(c.Blobs)
	if err != nil {
		t.Fatal(err)
	}
	datasets, analyses := checkAcknowledged(t, s, b, acknowledged)
	t.Logf("%d kills; %d datasets and %d analyses acknowledged", kills(t), datasets, analyses)
	if datasets == 0 || analyses == 0 {
		t.Error("nothing was acknowledged: the kills come too early to show anything")
	}
	checkOnce(t, s, c.Season)
	checkDatabase(t, s)
}

// checkAcknowledged checks that what was acknowledged is there, and that each
// analysis ends with its tables.
func checkAcknowledged(t *testing.T, s *store.Store, b blobs.Blobs, lines []string) (datasets, analyses int) {
	t.Helper()
	ctx := context.Background()
	for _, line := range lines {
		words := strings.Fields(line)
		switch {
		case len(words) == 3 && words[0] == "dataset":
			datasets++
			if d, err := s.Dataset(ctx, store.Everything, words[1]); err != nil || d.SHA256 != words[2] {
				t.Errorf("lost: %s is %+v, %v", line, d, err)
			}
			readBlob(t, b, words[2])
		case len(words) == 2 && words[0] == "analysis":
			analyses++
			a, err := waitOver(s, words[1])
			if err != nil || a.State != store.AnalysisSuccessful || a.Failed != 0 {
				t.Errorf("lost: %s is %+v, %v", line, a, err)
			}
		}
	}
	return datasets, analyses
}

func readBlob(t *testing.T, b blobs.Blobs, digest string) string {
	t.Helper()
	r, err := b.Open(context.Background(), digest)
	if err != nil {
		t.Errorf("lost: blob %s: %v", digest, err)
		return ""
	}
	defer r.Close()
	data, err := io.ReadAll(r)
	if err != nil {
		t.Errorf("damaged: blob %s: %v", digest, err)
	}
	return string(data)
}

// checkOnce checks that nothing of a season is there twice: no bytes as two
// datasets, and each analysis with one event for each thing that happened once, and
// one set of tables.
func checkOnce(t *testing.T, s *store.Store, seasonID string) {
	t.Helper()
	ctx := context.Background()
	f := store.Filter{Seasons: []string{seasonID}}
	seen := map[string]string{}
	for p := (store.Page{Limit: 500}); ; {
		list, err := s.Datasets(ctx, store.Everything, f, p)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range list.Rows {
			if seen[d.SHA256] != "" {
				t.Errorf("doubled: datasets %s and %s are the same bytes", seen[d.SHA256], d.ID)
			}
			seen[d.SHA256] = d.ID
		}
		if p.After = list.Next; !list.More {
			break
		}
	}
	for p := (store.Page{Limit: 500}); ; {
		list, err := s.Analyses(ctx, store.Everything, f, p)
		if err != nil {
			t.Fatal(err)
		}
		for _, a := range list.Rows {
			a, err := waitOver(s, a.ID) // one that was committed but not acknowledged ends as well
			if err != nil {
				t.Fatal(err)
			}
			events, err := s.ProgressAfter(ctx, store.Everything, a.ID, 0, 1000)
			if err != nil || len(events) != a.Total+3 {
				t.Errorf("doubled: analysis %s of %d datasets has %d events, %v", a.ID, a.Total, len(events), err)
			}
			if tables, err := s.ResultTables(ctx, store.Everything, a.ID); err != nil || len(tables) != 1 {
				t.Errorf("analysis %s has %d tables, %v; want 1", a.ID, len(tables), err)
			}
		}
		if p.After = list.Next; !list.More {
			break
		}
	}
}

// checkDatabase asks SQLite whether its file is whole.
func checkDatabase(t *testing.T, s *store.Store) {
	t.Helper()
	var said string
	if err := s.ReadDB().QueryRow("PRAGMA integrity_check").Scan(&said); err != nil || said != "ok" {
		t.Errorf("integrity_check says %q, %v", said, err)
	}
	rows, err := s.ReadDB().Query("PRAGMA foreign_key_check")
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	if rows.Next() || rows.Err() != nil {
		t.Errorf("foreign_key_check finds rows, %v", rows.Err())
	}
}

// Two workers and one process that only submits share a PostgreSQL: 200 datasets,
// one worker killed in the middle.
func TestWorkersOnPostgreSQL(t *testing.T) {
	t.Parallel()
	if !storetest.HasPostgres(t) {
		return
	}
	config := storetest.Postgres(t)
	b := newBench(t, config)
	c := childConfig{Postgres: config.PostgresDSN, Blobs: filepath.Join(t.TempDir(), "blobs"), Works: true, Pause: 10 * time.Millisecond}
	killed, _ := startChild(t, c), startChild(t, c)
	const n = 200
	a := b.submit(b.queue(Work{}), "shared", n)
	for { // until the middle
		got, err := b.store.Analysis(context.Background(), store.Everything, a.ID)
		if err != nil {
			t.Fatal(err)
		}
		if got.Done >= n/2 {
			break
		}
		time.Sleep(time.Millisecond)
	}
	killed.kill()
	if a = b.over(a.ID); a.State != store.AnalysisSuccessful || a.Done != n || a.Failed != 0 {
		t.Errorf("the analysis is %+v", a)
	}
	checkOnce(t, b.store, b.season.ID)
	kept, err := blobs.OpenFiles(c.Blobs)
	if err != nil {
		t.Fatal(err)
	}
	tables, err := b.store.ResultTables(context.Background(), store.Everything, a.ID)
	if err != nil || len(tables) != 1 {
		t.Fatalf("the tables are %+v, %v", tables, err)
	}
	lines := strings.Split(strings.TrimSpace(readBlob(t, kept, tables[0].Blob)), "\n")
	for i, line := range lines {
		if !strings.HasPrefix(line, fmt.Sprint(i, " done ")) {
			t.Errorf("line %d of the table is %q", i, line)
		}
	}
	if len(lines) != n {
		t.Errorf("the table has %d lines, want %d", len(lines), n)
	}
	t.Logf("200 datasets by two workers, one of them killed, in %v", a.FinishedAt.Sub(*a.StartedAt).Round(time.Millisecond))
}

// A second process on the same data folder is turned away.
func TestOneProcessPerFolder(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	c := childConfig{SQLite: filepath.Join(folder, "records.sqlite"), Blobs: filepath.Join(folder, "blobs"), Works: true}
	k := startChild(t, c)
	config := store.Config{SQLitePath: c.SQLite, Exclusive: true}
	if s, err := store.Open(context.Background(), config); err == nil {
		t.Error("a second process opened the folder", s.Close())
	}
	k.kill()
	storetest.Open(t, config) // its lock ends with the process
}
