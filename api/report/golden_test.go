package report_test

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"testing"

	"sheetwash/api/report"
)

var update = flag.Bool("update", false, "write the golden files anew")

// golden compares with a file below testdata, or writes it with -update.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s differs from the golden file; got\n%s", name, got)
	}
}

// The text formats of every table in both systems of units.
func TestTextTables(t *testing.T) {
	for _, u := range []report.Units{report.SI, report.US} {
		for _, f := range []report.Format{report.CSV, report.JSON} {
			for _, table := range report.Tables(u) {
				var b bytes.Buffer
				if err := report.Write(&b, sample(), table.Name, report.Options{Format: f, Units: u}); err != nil {
					t.Fatal(err)
				}
				golden(t, u.String()+"/"+f.FileName(table.Name), b.Bytes())
			}
		}
	}
}

// An analysis without rows still has all tables: a header, an empty array.
func TestEmptyTables(t *testing.T) {
	for _, table := range report.Tables(report.SI) {
		var b bytes.Buffer
		if err := report.Write(&b, &emptyAnalysis, table.Name, report.Options{Format: report.CSV}); err != nil {
			t.Fatal(err)
		}
		if lines := bytes.Count(b.Bytes(), []byte("\n")); lines != 1 {
			t.Errorf("%s without rows has %d lines, want the header alone", table.Name, lines)
		}
		b.Reset()
		if err := report.Write(&b, &emptyAnalysis, table.Name, report.Options{Format: report.JSON}); err != nil {
			t.Fatal(err)
		}
		if got := b.String(); got != "[\n]\n" {
			t.Errorf("%s without rows is %q as JSON", table.Name, got)
		}
	}
}

// The bytes do not depend on the number of workers.
func TestWorkersDoNotMatter(t *testing.T) {
	a := many(10_000)
	for _, f := range report.Formats() {
		var want []byte
		for _, workers := range []int{1, 2, 8} {
			var b bytes.Buffer
			if err := report.Write(&b, a, "hydrograph", report.Options{Format: f, Workers: workers}); err != nil {
				t.Fatal(err)
			}
			if want == nil {
				want = bytes.Clone(b.Bytes())
			}
			if !bytes.Equal(b.Bytes(), want) {
				t.Errorf("%s differs with %d workers", f, workers)
			}
		}
	}
}
