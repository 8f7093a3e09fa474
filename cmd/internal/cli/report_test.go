package cli

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// report writes a page for the season, each event and each run, refuses to replace
// them, and writes the same bytes for any number of jobs.
func TestReport(t *testing.T) {
	inSeason(t)
	data, one, two := "testdata/demo-season/04-pell-farm", "one", "two"
	if r := run(t, "report", data, "--out", one, "--figures", "svg", "--jobs", "1", "--units", "us"); r.code != exitDone || !strings.Contains(r.err, "season.html") {
		t.Fatalf("exit %d: %s", r.code, r.err)
	}
	if r := run(t, "report", data, "--out", one); r.code != exitConflict {
		t.Errorf("the second time: exit %d, want %d", r.code, exitConflict)
	}
	r := run(t, "report", data, "--out", two, "--figures", "svg", "--jobs", "3", "--units", "us", "--json")
	var answer struct{ Files []string }
	if err := json.Unmarshal([]byte(r.out), &answer); err != nil || r.code != exitDone {
		t.Fatalf("exit %d: %v", r.code, err)
	}
	for _, want := range []string{"season.html", "event-pell-farm.html", "run-pf-1.html", "run-pf-2.html", "figures/event-pell-farm-water.svg"} {
		a, err := os.ReadFile(filepath.Join(one, want))
		if err != nil {
			t.Fatal(err)
		}
		b, err := os.ReadFile(filepath.Join(two, want))
		if err != nil || string(a) != string(b) {
			t.Errorf("%s depends on the number of jobs (%v)", want, err)
		}
	}
	if len(answer.Files) < 20 {
		t.Errorf("only %d files are listed", len(answer.Files))
	}
	for _, bad := range [][]string{{"report", data}, {"report", data, "--out", "-"}, {"report", data, "--out", two, "--figures", "gif"}, {"report", data, "--out", two, "--units", "cgs"}} {
		if r := run(t, bad...); r.code != exitUsage {
			t.Errorf("%v: exit %d, want %d", bad, r.code, exitUsage)
		}
	}
}

// A word that a shell would take apart is quoted.
func TestQuoted(t *testing.T) {
	for word, want := range map[string]string{"demo-season": "demo-season", "my data": "'my data'", "it's": `'it'\''s'`, "": "''", "volume_rel=0.01": "volume_rel=0.01"} {
		if got := quoted(word); got != want {
			t.Errorf("quoted(%q) = %s, want %s", word, got, want)
		}
	}
}
