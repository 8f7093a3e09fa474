package jobs

import (
	"bufio"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"sheetwash/api/blobs"
	"sheetwash/api/store"
)

// childVariable makes the test binary a process that a test starts and kills: its
// value is a childConfig in JSON.
const childVariable = "SHEETWASH_JOBS_CHILD"

// childConfig is what a process under test does.
type childConfig struct {
	SQLite, Postgres, Blobs, Season string
	Works                           bool          // works on jobs
	Uploads                         bool          // uploads datasets and submits analyses until it is killed
	Name                            string        // of its datasets
	Pause                           time.Duration // how long a dataset takes
}

func TestMain(m *testing.M) {
	if text := os.Getenv(childVariable); text != "" {
		var c childConfig
		err := json.Unmarshal([]byte(text), &c)
		if err == nil {
			err = c.run()
		}
		fmt.Fprintln(os.Stderr, "child:", err)
		os.Exit(1)
	}
	flag.Parse()
	if err := flag.Set("test.parallel", "4"); err != nil { // the parts of the suite mostly wait
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	os.Exit(m.Run())
}

// run is the process: it ends only when it is killed, or with an error.
func (c childConfig) run() error {
	ctx := context.Background()
	s, err := store.Open(ctx, store.Config{SQLitePath: c.SQLite, PostgresDSN: c.Postgres, Exclusive: c.SQLite != ""})
	if err != nil {
		return err
	}
	b, err := blobs.OpenFiles(c.Blobs)
	if err != nil {
		return err
	}
	settings := Config{Store: s, Blobs: b, Workers: 2, Alone: c.SQLite != "", times: brisk}
	settings.times.timeout, settings.times.rescue = 2*time.Second, 3*time.Second
	if c.Works {
		settings.Work = slow(good(b), c.Pause)
	}
	q, err := New(settings)
	if err != nil {
		return err
	}
	if c.Works {
		if err := q.Start(ctx); err != nil {
			return err
		}
	}
	fmt.Println("ready")
	for i := 0; c.Uploads; i++ {
		if err := c.upload(ctx, s, b, q, i); err != nil {
			return err
		}
	}
	select {}
}

func slow(w Work, pause time.Duration) Work {
	whole := w.Dataset
	w.Dataset = func(ctx context.Context, a store.Analysis, all []store.AnalysisDataset, position int) (string, json.RawMessage, error) {
		time.Sleep(pause)
		return whole(ctx, a, all, position)
	}
	return w
}

// upload does what a handler does: bytes onto the disk, then the record with its
// jobs, then the acknowledgement, here a line.
func (c childConfig) upload(ctx context.Context, s *store.Store, b blobs.Blobs, q *Queue, i int) error {
	var a store.Analysis
	var datasets []store.Dataset
	for j := range 3 {
		name := fmt.Sprintf("%s %d %d", c.Name, i, j)
		kept, err := b.Put(ctx, strings.NewReader("bytes of "+name))
		if err != nil {
			return err
		}
		datasets = append(datasets, store.Dataset{SeasonID: c.Season, Name: name, SHA256: kept.Digest, State: store.DatasetAccepted,
			Files: []store.File{{Name: "samples.csv", SHA256: kept.Digest, Bytes: kept.Bytes}}})
	}
	err := s.InTx(ctx, func(tx *store.Tx) (err error) {
		var ids []string
		for i := range datasets {
			if datasets[i], _, err = tx.InsertDataset(ctx, store.Everything, datasets[i], store.DatasetRows{}); err != nil {
				return err
			}
			ids = append(ids, datasets[i].ID)
		}
		if a, err = tx.CreateAnalysis(ctx, store.Everything, store.Analysis{SeasonID: c.Season}, ids); err != nil {
			return err
		}
		return q.Submit(ctx, tx, a)
	})
	if err != nil {
		return err
	}
	for _, d := range datasets {
		fmt.Println("dataset", d.ID, d.SHA256)
	}
	_, err = fmt.Println("analysis", a.ID)
	return err
}

// child is a running process under test.
type child struct {
	command *exec.Cmd
	lines   chan string // what it acknowledged; closed at its end
}

// startChild starts a process and waits until it is ready.
func startChild(t *testing.T, c childConfig) *child {
	t.Helper()
	text, err := json.Marshal(c)
	if err != nil {
		t.Fatal(err)
	}
	program, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	k := &child{command: exec.Command(program), lines: make(chan string, 100_000)}
	k.command.Env = append(os.Environ(), childVariable+"="+string(text))
	k.command.Stderr = os.Stderr
	out, err := k.command.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := k.command.Start(); err != nil {
		t.Fatal(err)
	}
	go k.read(out)
	t.Cleanup(k.kill)
	select {
	case line := <-k.lines:
		if line != "ready" {
			t.Fatalf("the process is not ready but says %q", line)
		}
	case <-time.After(30 * time.Second):
		t.Fatal("the process is not ready")
	}
	return k
}

func (k *child) read(out io.Reader) {
	defer close(k.lines)
	for in := bufio.NewScanner(out); in.Scan(); {
		k.lines <- in.Text()
	}
}

var killing sync.Mutex

// kill ends the process at once, as a power failure would, and waits for its end.
func (k *child) kill() {
	killing.Lock()
	defer killing.Unlock()
	if k.command.ProcessState == nil {
		_ = k.command.Process.Kill()
		_ = k.command.Wait()
	}
}

// acknowledged are the lines that a killed process had written, each of them whole.
func (k *child) acknowledged() (lines []string) {
	for line := range k.lines {
		lines = append(lines, line)
	}
	return lines
}
