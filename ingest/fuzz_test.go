package ingest_test

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"

	"sheetwash/ingest"
	"sheetwash/ingest/issue"
)

// sane checks what holds of every outcome: a dataset or errors, not both, and
// places within the files.
func sane(t *testing.T, o *ingest.Outcome, rows int64) {
	t.Helper()
	errors := 0
	for _, i := range o.Issues {
		if i.Severity == issue.Error {
			errors++
		}
		if i.Row < 0 || i.Row > rows || i.Message == "" || i.Code == "" {
			t.Errorf("impossible finding %+v; the files have %d rows", i, rows)
		}
	}
	if (errors > 0) != (o.Dataset == nil) {
		t.Errorf("%d errors, and dataset %v", errors, o.Dataset != nil)
	}
}

// FuzzRead reads three tables of any bytes as a dataset.
func FuzzRead(f *testing.F) {
	f.Add([]byte(full["day/runs.csv"]), []byte(full["day/plots.csv"]), []byte(full["day/samples.csv"]))
	f.Add([]byte(goodRuns), []byte(goodPlots), []byte(goodSamples))
	f.Add([]byte("run;rain_duration\nR1;30,5\n"), []byte("run;plot;treatment;area\nR1;1;x;0,5\n"), []byte("\xef\xbb\xbfrun;plot;stream;end\nR1;1;runoff;1:00:00\n"))
	f.Fuzz(func(t *testing.T, runs, plots, samples []byte) {
		dir := t.TempDir()
		rows := int64(1)
		for name, data := range map[string][]byte{"runs.csv": runs, "plots.csv": plots, "samples.csv": samples} {
			rows = max(rows, int64(2+bytes.Count(data, []byte("\n"))+bytes.Count(data, []byte("\r"))))
			if err := os.WriteFile(filepath.Join(dir, name), data, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		sane(t, readOnly(t, dir, ingest.Options{Workers: 2}), rows)
	})
}

// FuzzArchive finds and reads what any bytes under the name of a zip hold.
func FuzzArchive(f *testing.F) {
	for _, files := range []map[string]string{dataset(""), dataset("a/b", "README.md", "x"), {"day.csv": goodJoined}} {
		var t testing.T
		f.Add(pack(&t, files))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		p := filepath.Join(t.TempDir(), "day.zip")
		if err := os.WriteFile(p, data, 0o600); err != nil {
			t.Fatal(err)
		}
		limits := ingest.Limits{Unpacked: 1 << 20, Members: 50}
		sources, _, err := ingest.Find([]string{p}, ingest.FindOptions{Limits: limits})
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range sources {
			o, err := ingest.Read(context.Background(), s, ingest.Options{Limits: limits})
			if err != nil {
				t.Fatal(err)
			}
			sane(t, o, 1<<40)
		}
	})
}
