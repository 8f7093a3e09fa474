//go:build unix

package main

import (
	"bytes"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"sheetwash/cmd/internal/demo"
)

// TestMain lets the test binary be the program.
func TestMain(m *testing.M) {
	if os.Getenv("SHEETWASH_TEST_PROGRAM") != "" || len(os.Args) > 1 && !strings.HasPrefix(os.Args[1], "-test.") {
		main()
	}
	os.Exit(m.Run())
}

// program starts the program on a season.
func program(t *testing.T, out string, args ...string) (*exec.Cmd, *bytes.Buffer) {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self, append([]string{"analyze", "season", "--jobs", "1", "--out", out}, args...)...)
	c.Env = append(os.Environ(), "SHEETWASH_TEST_PROGRAM=1")
	var text bytes.Buffer
	c.Stdout, c.Stderr = &text, &text
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	return c, &text
}

// longSeason writes three copies of the demo season below the working folder, so that
// there is time to stop its analysis.
func longSeason(t *testing.T) {
	t.Helper()
	t.Chdir(t.TempDir())
	files, err := demo.Files()
	if err != nil {
		t.Fatal(err)
	}
	for i := range 3 {
		for _, f := range files {
			p := filepath.Join("season", fmt.Sprintf("year-%02d", i), filepath.FromSlash(f.Path))
			if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(p, f.Data, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// waitFor waits until n finished datasets are kept, or the program has ended.
func waitFor(t *testing.T, out string, n int, ended <-chan error) {
	t.Helper()
	tick := time.NewTicker(2 * time.Millisecond)
	defer tick.Stop()
	for {
		select {
		case err := <-ended:
			t.Fatalf("the program ended before it could be stopped: %v", err)
		case <-tick.C:
			if kept, _ := filepath.Glob(filepath.Join(out, ".resume", "[0-9a-f]*")); len(kept) >= n {
				return
			}
		}
	}
}

// A run that is killed, and killed again, goes on from what it had finished, and
// ends with the bytes of a run that nobody stopped.
func TestKilledAndResumed(t *testing.T) {
	longSeason(t)
	whole, text := program(t, "whole")
	if err := whole.Wait(); err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	for _, n := range []int{1, 10, 20} {
		c, _ := program(t, "results", "--resume")
		ended := make(chan error, 1)
		go func() { ended <- c.Wait() }()
		waitFor(t, "results", n, ended)
		if err := c.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		<-ended
		if tables, _ := filepath.Glob("results/*.csv"); len(tables) > 0 {
			t.Errorf("a killed run left the tables %q", tables)
		}
	}
	last, text := program(t, "results", "--resume")
	if err := last.Wait(); err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	var taken int
	if i := strings.Index(text.String(), "Took "); i < 0 {
		t.Errorf("nothing was taken from the killed runs:\n%s", text)
	} else if _, err := fmt.Sscanf(text.String()[i:], "Took %d", &taken); err != nil || taken < 20 {
		t.Errorf("%d datasets were taken from the killed runs, want at least 20", taken)
	}
	if a, b := folder(t, "whole"), folder(t, "results"); !maps.Equal(a, b) {
		t.Error("the resumed run gives other files than the whole one")
	}
}

// A polite stop ends with the code of its signal and leaves no table.
func TestStopped(t *testing.T) {
	longSeason(t)
	for signal, code := range map[syscall.Signal]int{syscall.SIGINT: 130, syscall.SIGTERM: 143} {
		c, text := program(t, "results", "--resume")
		ended := make(chan error, 1)
		go func() { ended <- c.Wait() }()
		waitFor(t, "results", 1, ended)
		if err := c.Process.Signal(signal); err != nil {
			t.Fatal(err)
		}
		<-ended
		if got := c.ProcessState.ExitCode(); got != code {
			t.Errorf("%v: exit %d, want %d\n%s", signal, got, code, text)
		}
		if tables, _ := filepath.Glob("results/*.csv"); len(tables) > 0 {
			t.Errorf("%v left the tables %q", signal, tables)
		}
		if err := os.RemoveAll("results"); err != nil {
			t.Fatal(err)
		}
	}
}

func folder(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		data, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		out[e.Name()] = string(data)
	}
	return out
}
