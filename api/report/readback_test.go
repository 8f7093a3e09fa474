package report_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"sheetwash/analysis/result"
	"sheetwash/api/report"
	"sheetwash/ingest/columnar"
	"sheetwash/ingest/table"
)

// emptyAnalysis has no rows at all.
var emptyAnalysis result.Analysis

// TestMain lets the test binary be the decoder of its own Parquet.
func TestMain(m *testing.M) {
	columnar.ChildMain()
	os.Exit(m.Run())
}

// cells is a table as text, numbers in their shortest form, missing cells empty.
type cells [][]string

// The four formats hold the same columns, rows and digits. CSV is read back by
// encoding/csv, JSON by encoding/json, Arrow and Parquet by the readers of
// package columnar.
func TestFormatsHoldTheSame(t *testing.T) {
	full := sample()
	for _, a := range []*result.Analysis{full, many(500), &emptyAnalysis} {
		for _, u := range []report.Units{report.SI, report.US} {
			for _, d := range report.Tables(u) {
				if a != full && u == report.US && d.Name != "hydrograph" && d.Name != "plot_results" {
					continue // each Parquet file is a process; these have no rows to convert
				}
				want := readCSV(t, write(t, a, d.Name, report.CSV, u))
				for f, got := range map[report.Format]cells{
					report.JSON:    readJSON(t, d, write(t, a, d.Name, report.JSON, u)),
					report.Arrow:   readColumnar(t, "t.arrow", write(t, a, d.Name, report.Arrow, u)),
					report.Parquet: readColumnar(t, "t.parquet", write(t, a, d.Name, report.Parquet, u)),
				} {
					compare(t, d.Name+" as "+string(f)+" in "+u.String(), got, want)
				}
			}
		}
	}
}

func write(t *testing.T, a *result.Analysis, table string, f report.Format, u report.Units) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := report.Write(&b, a, table, report.Options{Format: f, Units: u}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func compare(t *testing.T, what string, got, want cells) {
	t.Helper()
	if len(got) != len(want) {
		t.Errorf("%s: %d rows, CSV has %d", what, len(got), len(want))
		return
	}
	for r := range want {
		for c := range want[r] {
			if got[r][c] != want[r][c] {
				t.Errorf("%s: row %d column %s is %q, CSV has %q", what, r, want[0][c], got[r][c], want[r][c])
			}
		}
	}
}

// readCSV undoes the guard of text cells.
func readCSV(t *testing.T, data []byte) cells {
	t.Helper()
	rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rows {
		for c, text := range r {
			if rest, ok := strings.CutPrefix(text, "'"); ok {
				if bare := strings.TrimLeft(rest, "'"); bare != "" && strings.ContainsAny(bare[:1], "=+-@\t\r") {
					r[c] = rest
				}
			}
		}
	}
	return rows
}

func readJSON(t *testing.T, d report.Table, data []byte) cells {
	t.Helper()
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.UseNumber()
	var rows []map[string]any
	if err := dec.Decode(&rows); err != nil {
		t.Fatal(err)
	}
	out := cells{names(d)}
	for _, r := range rows {
		if len(r) != len(d.Columns) {
			t.Errorf("%s: a JSON row has %d members, want %d", d.Name, len(r), len(d.Columns))
		}
		var row []string
		for _, c := range d.Columns {
			row = append(row, jsonCell(t, r[c.Name]))
		}
		out = append(out, row)
	}
	return out
}

func names(d report.Table) []string {
	var out []string
	for _, c := range d.Columns {
		out = append(out, c.Name)
	}
	return out
}

func jsonCell(t *testing.T, v any) string {
	t.Helper()
	switch v := v.(type) {
	case nil:
		return ""
	case string:
		return v
	case bool:
		return strconv.FormatBool(v)
	case json.Number:
		return v.String()
	}
	t.Errorf("a JSON cell is a %T", v)
	return ""
}

func readColumnar(t *testing.T, name string, data []byte) cells {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
	tab, err := columnar.Open(context.Background(), path, name, columnar.Source{Path: path}, columnar.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := tab.Close(); err != nil {
			t.Error(err)
		}
	}()
	var header []string
	for _, f := range tab.Fields() {
		header = append(header, f.Name)
	}
	out := cells{header}
	err = tab.Scan(context.Background(), table.ScanOptions{Workers: 1}, func(b *table.Batch) any {
		var rows cells
		for i := range b.N {
			var row []string
			for c := range b.Cols {
				row = append(row, columnarCell(&b.Cols[c], i))
			}
			rows = append(rows, row)
		}
		return rows
	}, func(rows any) { out = append(out, rows.(cells)...) })
	if err != nil && !errors.Is(err, io.EOF) {
		t.Fatal(err)
	}
	for _, i := range tab.Issues().All() {
		t.Errorf("%s: %v", name, i)
	}
	return out
}

func columnarCell(c *table.Column, i int) string {
	if c.IsNull(i) {
		return ""
	}
	switch c.Kind {
	case table.Dict:
		return c.Words[c.Codes[i]]
	case table.Float:
		return shortest(c.Float[i])
	case table.Int:
		return strconv.FormatInt(c.Int[i], 10)
	case table.Bool:
		return strconv.FormatBool(c.Bool[i])
	}
	return string(c.Bytes(i))
}

// shortest is a second writing of the rule for digits: the shortest decimal that
// reads back, with an exponent outside 1e-6 to 1e21.
func shortest(v float64) string {
	f := byte('f')
	if a := math.Abs(v); a != 0 && (a < 1e-6 || a >= 1e21) {
		f = 'e'
	}
	return strconv.FormatFloat(v, f, -1, 64)
}
