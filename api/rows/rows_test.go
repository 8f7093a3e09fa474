package rows_test

import (
	"bytes"
	"errors"
	"iter"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/analysis/result"
	"sheetwash/api/report"
	"sheetwash/api/rows"
)

func all(list ...string) iter.Seq2[[]byte, error] {
	return func(yield func([]byte, error) bool) {
		for _, r := range list {
			if !yield([]byte(r), nil) {
				return
			}
		}
	}
}

func TestCells(t *testing.T) {
	for row, want := range map[string][]string{
		`{"a":1}`:                           {"1"},
		`{"a":null,"b":-1.5e-7,"c":true}`:   {"null", "-1.5e-7", "true"},
		`{"a":"x,y","b":"q\"}\\","c":"\\"}`: {`"x,y"`, `"q\"}\\"`, `"\\"`},
		`{"a":"","b":""}`:                   {`""`, `""`},
	} {
		cells, err := rows.Cells(nil, []byte(row))
		var got []string
		for _, c := range cells {
			got = append(got, string(c))
		}
		if err != nil || !slices.Equal(got, want) {
			t.Errorf("%s gives %q, %v", row, got, err)
		}
	}
	for _, row := range []string{``, `{`, `{}`, `[1]`, `{"a"}`, `{"a":}`, `{"a":{"b":1}}`, `{"a":"x}`, `{"a":1,}`, `{"a":1 "b":2}`, `{a:1}`, `{"a":"\`} {
		if _, err := rows.Cells(nil, []byte(row)); !errors.Is(err, rows.ErrRow) {
			t.Errorf("%s gives %v", row, err)
		}
	}
}

// FuzzCells: no row makes it panic, and cells are parts of the row.
func FuzzCells(f *testing.F) {
	for _, row := range []string{`{"a":1,"b":"x\"y"}`, `{"a":null}`, `{"a":"\\`, `{"":"":`} {
		f.Add([]byte(row))
	}
	f.Fuzz(func(t *testing.T, row []byte) {
		cells, err := rows.Cells(nil, row)
		if err != nil && !errors.Is(err, rows.ErrRow) {
			t.Fatal(err)
		}
		n := 0
		for _, c := range cells {
			n += len(c)
		}
		if n > len(row) {
			t.Fatalf("%d bytes of cells from %d", n, len(row))
		}
	})
}

func TestFilter(t *testing.T) {
	table, _ := report.Find("treatment_results", report.SI)
	var b bytes.Buffer
	a := &result.Analysis{Treatments: []result.TreatmentRow{{Scope: "all", Treatment: "ley", Metric: result.RainDepth, Statistic: "mean", Headline: true, Flags: result.Flags{"n_small", "held_share=0.5"}}}}
	if err := report.Write(&b, a, table.Name, report.Options{Format: report.JSON}); err != nil {
		t.Fatal(err)
	}
	row := bytes.Split(b.Bytes(), []byte("\n"))[1]
	for _, tt := range []struct {
		wanted map[string][]string
		match  bool
	}{
		{nil, true},
		{map[string][]string{"treatment": {"ley"}}, true},
		{map[string][]string{"treatment": {"bare", "ley"}, "scope": {"all"}}, true},
		{map[string][]string{"treatment": {"le"}}, false},
		{map[string][]string{"treatment": {"ley"}, "scope": {"season:2031"}}, false},
		{map[string][]string{"headline": {"true"}}, true},
		{map[string][]string{"headline": {"false"}}, false},
		{map[string][]string{"flags": {"held_share"}}, true},
		{map[string][]string{"flags": {"n_small"}}, true},
		{map[string][]string{"flags": {"small"}}, false},
		{map[string][]string{"letters": {"a"}}, false},
	} {
		f, unknown := rows.NewFilter(table, tt.wanted)
		ok, err := f.Match(row)
		if unknown != "" || err != nil || ok != tt.match {
			t.Errorf("%v: %v, unknown %q, %v", tt.wanted, ok, unknown, err)
		}
	}
	if _, unknown := rows.NewFilter(table, map[string][]string{"stream": {"x"}}); unknown != "stream" {
		t.Errorf("unknown is %q", unknown)
	}
}

// An error among the rows ends each writer with it.
func TestWritersPassErrorsOn(t *testing.T) {
	broken := errors.New("broken")
	table, _ := report.Find("findings", report.SI)
	bad := func(yield func([]byte, error) bool) { yield(nil, broken) }
	damaged := all(`{"a":1}`)
	var b bytes.Buffer
	for name, write := range map[string]func(iter.Seq2[[]byte, error]) error{
		"csv":   func(r iter.Seq2[[]byte, error]) error { _, err := rows.WriteCSV(&b, table, r, false); return err },
		"json":  func(r iter.Seq2[[]byte, error]) error { _, err := rows.WriteJSON(&b, r); return err },
		"arrow": func(r iter.Seq2[[]byte, error]) error { _, err := rows.WriteArrow(&b, table, report.SI, r); return err },
		"parquet": func(r iter.Seq2[[]byte, error]) error {
			_, err := rows.WriteParquet(&b, table, report.SI, r)
			return err
		},
	} {
		if err := write(bad); !errors.Is(err, broken) {
			t.Errorf("%s: %v", name, err)
		}
		if err := write(damaged); name != "json" && !errors.Is(err, rows.ErrRow) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Whatever text and numbers stand in the rows, CSV and Parquet made from stored rows
// are those that report writes from the results, to the byte.
func TestFormatsAreThoseOfReport(t *testing.T) {
	table, _ := report.Find("findings", report.SI)
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.String(), rapid.StringMatching(`'*[=+@-].*`), rapid.SampledFrom([]string{"", "\"", ",", "\n", "\t", "\\", "\u2028", "\x00"}))
		a := &result.Analysis{}
		for range rapid.IntRange(0, 20).Draw(t, "rows") {
			a.Findings = append(a.Findings, result.Finding{
				Dataset: text.Draw(t, "dataset"), Code: text.Draw(t, "code"), Severity: "error", Value: text.Draw(t, "value"),
				Row: rapid.Int64Range(0, 1<<53).Draw(t, "row"), Message: text.Draw(t, "message"),
			})
		}
		write := func(f report.Format) []byte {
			var b bytes.Buffer
			if err := report.Write(&b, a, table.Name, report.Options{Format: f}); err != nil {
				t.Fatal(err)
			}
			return b.Bytes()
		}
		stored := func(yield func([]byte, error) bool) {
			lines := bytes.Split(write(report.JSON), []byte("\n"))
			for _, l := range lines[1 : len(lines)-2] {
				if !yield(bytes.TrimSuffix(l, []byte(",")), nil) {
					return
				}
			}
		}
		var csv, parquet, json bytes.Buffer
		n, err := rows.WriteCSV(&csv, table, stored, false)
		if err != nil || int(n) != len(a.Findings) || !bytes.Equal(csv.Bytes(), write(report.CSV)) {
			t.Fatalf("csv: %d rows, %v\n%q\n%q", n, err, csv.Bytes(), write(report.CSV))
		}
		if _, err := rows.WriteJSON(&json, stored); err != nil || !bytes.Equal(json.Bytes(), write(report.JSON)) {
			t.Fatalf("json: %v\n%s\n%s", err, json.Bytes(), write(report.JSON))
		}
		if rapid.IntRange(0, 9).Draw(t, "parquet") > 0 { // its writer is slow to start
			return
		}
		if _, err := rows.WriteParquet(&parquet, table, report.SI, stored); err != nil || !bytes.Equal(parquet.Bytes(), write(report.Parquet)) {
			t.Fatalf("parquet: %v", err)
		}
	})
}
