package cli

import (
	"context"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"
)

// running is a service that a test has started as a person would.
type running struct {
	address string
	log     *lines
	stop    func() int // and the exit code
}

// lines is standard error, which the test reads while it is written.
type lines struct {
	mu   sync.Mutex
	text strings.Builder
}

func (l *lines) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.Write(p)
}

func (l *lines) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.String()
}

var listening = regexp.MustCompile(`Listening on (http://\S+),`)

// serving starts the command and waits until it is ready.
func serving(t *testing.T, args ...string) *running {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	r := &running{log: &lines{}}
	code := make(chan int, 1)
	args = append([]string{"serve", "--listen", "127.0.0.1:0", "--metrics", "off"}, args...)
	go func() {
		code <- Execute(ctx, Process{Args: args, In: strings.NewReader(""), Out: io.Discard, Err: r.log, Env: func(string) string { return "" }})
	}()
	r.stop = sync.OnceValue(func() int { cancel(); return <-code })
	t.Cleanup(func() { r.stop() })
	for end := time.Now().Add(30 * time.Second); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		if m := listening.FindStringSubmatch(r.log.String()); m != nil {
			r.address = m[1]
			if res, err := http.Get(r.address + "/readyz"); err == nil {
				res.Body.Close()
				if res.StatusCode == 200 {
					return r
				}
			}
		}
	}
	t.Fatalf("not ready: %s", r.log)
	return nil
}

// Every line of the quickstart works as it stands.
func TestQuickstart(t *testing.T) {
	r := serving(t, "--demo", "--data", t.TempDir())
	page, err := os.ReadFile("../../../docs/quickstart.md")
	if err != nil {
		t.Fatal(err)
	}
	blocks := strings.Split(string(page), "```sh\n")[1:]
	if len(blocks) < 10 {
		t.Fatalf("%d blocks of lines", len(blocks))
	}
	for _, b := range blocks {
		text, _, _ := strings.Cut(b, "```")
		c := exec.Command("bash", "-c", strings.ReplaceAll(text, "http://127.0.0.1:8080", r.address))
		c.Dir = "../../.."
		if out, err := c.CombinedOutput(); err != nil {
			t.Errorf("%s: %v\n%.600s", text, err, out)
		}
	}
	if code := r.stop(); code != exitDone {
		t.Errorf("exit code %d: %s", code, r.log)
	}
}

// The folder stays; what was there is there after a new start, and one process
// uses it at a time.
func TestServeAgain(t *testing.T) {
	dir := t.TempDir()
	first := serving(t, "--demo", "--data", dir)
	second := run(t, "serve", "--listen", "127.0.0.1:0", "--metrics", "off", "--data", dir)
	if second.code != exitConflict {
		t.Errorf("a second process ends with %d: %s", second.code, second.err)
	}
	want := get(t, first.address+"/v1/results/plot_results?season=Demo%20season%20(invented)&format=csv")
	if code := first.stop(); code != exitDone {
		t.Errorf("exit code %d: %s", code, first.log)
	}
	again := serving(t, "--demo", "--data", dir)
	if have := get(t, again.address+"/v1/results/plot_results?season=Demo%20season%20(invented)&format=csv"); have != want || len(have) < 1000 {
		t.Errorf("%d bytes after a new start, %d before", len(have), len(want))
	}
}

// The service and the command line give the same tables, to the byte.
func TestServiceIsTheCommandLine(t *testing.T) {
	dir := t.TempDir()
	r := serving(t, "--demo", "--data", filepath.Join(dir, "data"))
	if res := run(t, "analyze", "../../../testdata/demo-season", "--out", filepath.Join(dir, "out"), "--format", "csv,json,parquet"); res.code != exitDone {
		t.Fatalf("analyze ends with %d: %s", res.code, res.err)
	}
	for _, table := range []string{"hydrograph", "plot_results", "fits", "treatment_results", "comparisons", "calibrations"} {
		for _, format := range []string{"csv", "parquet", "json"} {
			want, err := os.ReadFile(filepath.Join(dir, "out", table+"."+format))
			if err != nil {
				t.Fatal(err)
			}
			query := "format=" + format
			if format == "json" {
				query = "shape=rows"
			}
			if have := get(t, r.address+"/v1/results/"+table+"?season=Demo%20season%20(invented)&"+query); have != string(want) {
				t.Errorf("%s.%s: %d bytes over HTTP, %d on disk", table, format, len(have), len(want))
			}
		}
	}
}

// Elsewhere than on this machine there is no start before there is a key.
func TestServeWantsAKey(t *testing.T) {
	dir := t.TempDir()
	res := run(t, "serve", "--listen", "0.0.0.0:0", "--metrics", "off", "--data", dir)
	if res.code != exitUsage || !strings.Contains(res.err, "make a key first") {
		t.Errorf("ends with %d: %s", res.code, res.err)
	}
	for _, args := range [][]string{
		{"--listen", "nowhere"}, {"--metrics", "0.0.0.0:1"}, {"--log", "loud"}, {"--config", filepath.Join(dir, "none.yaml")}, {"extra"},
	} {
		if res := run(t, append([]string{"serve", "--data", dir}, args...)...); res.code != exitUsage {
			t.Errorf("%v ends with %d: %s", args, res.code, res.err)
		}
	}
}

func get(t *testing.T, address string) string {
	t.Helper()
	res, err := http.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	data, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != 200 {
		t.Fatalf("%s: %d %v %.300s", address, res.StatusCode, err, data)
	}
	return string(data)
}
