package cli

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"sheetwash/cmd/internal/demo"
	"sheetwash/ingest/columnar"
)

var update = flag.Bool("update", false, "write the golden files anew")

// TestMain lets the test binary be the decoder of its own Parquet.
func TestMain(m *testing.M) {
	columnar.ChildMain()
	os.Exit(m.Run())
}

// said is what a command left: its exit code and both streams.
type said struct {
	code     int
	out, err string
}

// run runs a command in process.
func run(t *testing.T, args ...string) said {
	t.Helper()
	return runWith(t.Context(), "", args...)
}

func runWith(ctx context.Context, stdin string, args ...string) said {
	var out, err bytes.Buffer
	code := Execute(ctx, Process{Args: args, In: strings.NewReader(stdin), Out: &out, Err: &err, Env: func(string) string { return "" }})
	return said{code, out.String(), err.String()}
}

// String is what a golden file holds.
func (s said) String() string {
	return fmt.Sprintf("-- exit --\n%d\n-- stdout --\n%s-- stderr --\n%s", s.code, s.out, s.err)
}

// goldens is where the golden files of the command line are.
var goldens, _ = filepath.Abs("../../../testdata/golden/cli")

func golden(t *testing.T, name string, got string) {
	t.Helper()
	path := filepath.Join(goldens, name+".txt")
	if *update {
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s differs from its golden file (-update writes it anew); got\n%s", name, got)
	}
}

// seasonFiles is the demo season, made once.
var seasonFiles = sync.OnceValues(demo.Files)

// inSeason makes a temporary folder with the demo season under the path that the
// examples name, and two datasets of a kind of their own: refused and mixed.
func inSeason(t *testing.T) {
	t.Helper()
	t.Chdir(t.TempDir())
	season, err := seasonFiles()
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range season {
		write(t, filepath.Join("testdata/demo-season", f.Path), string(f.Data))
	}
	const runs, plots = "run,intensity [mm/h],rain_duration [min]\nR-1,70,30\n", "run,plot,treatment,area [m2]\nR-1,1,meadow fescue ley,0.5\nR-1,2,oak-wood litter,0.5\n"
	write(t, "refused/runs.csv", runs)
	write(t, "refused/plots.csv", plots)
	write(t, "refused/samples.csv", "run,plot,stream,start [min],end [min],volume [mL]\nR-1,1,runoff,0,10,12o\nR-1,1,runoff,10,20,-5\nR-1,9,runoff,0,10,100\n")
	write(t, "mixed/good/runs.csv", runs)
	write(t, "mixed/good/plots.csv", plots)
	write(t, "mixed/good/samples.csv", "run,plot,stream,start [min],end [min],volume [mL]\nR-1,1,runoff,0,10,120\nR-1,1,runoff,10,20,900\nR-1,1,runoff,20,30,1200\nR-1,2,runoff,0,30,0\n")
	write(t, "mixed/bad/runs.csv", runs)
	write(t, "mixed/bad/plots.csv", "run,plot,treatment,area [furlong]\nR-1,1,meadow fescue ley,0.5\n")
}

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// files reads every file below a folder.
func files(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		rel, _ := filepath.Rel(dir, path)
		out[filepath.ToSlash(rel)] = string(data)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}
