package mapping_test

import (
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"sheetwash/ingest/mapping"
)

func TestParse(t *testing.T) {
	m := parse(t, `
decimal: ","
delimiter: tab
encoding: cp1252
timezone: "+01:30"
missing: [NA, -99]
tables:
  samples:
    - file: .\bottles.csv
      missing: {x: missing}
      columns:
        run: Run No
        plot: {constant: 7}
        stream: {from: What, translate: {Oberfläche: runoff, "1": drainage}}
        end: {from: Uhrzeit, clock: true}
        volume: {from: Vol, unit: cc, missing: {"0": none}}
        analyte_nitrate: {from: NO3, unit: mg/l}
    - file: log_*.xlsx
      sheet: Blatt 1
      range: a9:f40
      columns: {run: {file_name: "log_(.+)"}, plot: P, stream: {constant: runoff}, end: E}
  runs:
    file: runs.csv
    join: {file: rain.csv, on: {Run No: id}}
    where: {Art: [a, b]}
    skip: {Art: ""}
    own_headers: true
    columns: {note: {compose: "{{x}} {A} and { B }"}}
  plots:
    file: wide.csv
    covariates: [Farbe]
    unpivot: {columns: "^v_(?P<end>[0-9]+)$", value: volume, drop_empty: false}
    columns: {run: r}
`)
	if want := (mapping.Format{Delimiter: "\t", Decimal: ",", Encoding: "windows-1252"}); m.Format != want {
		t.Errorf("format %+v, want %+v", m.Format, want)
	}
	if got := time.Date(2031, 5, 14, 10, 0, 0, 0, m.Zone).UTC().Format("15:04"); got != "08:30" {
		t.Errorf("zone: 10:00 is %s in UTC, want 08:30", got)
	}
	if got := strings.Join(m.Tables(), " "); got != "runs plots samples" {
		t.Errorf("tables %q: the order of the dictionary is wanted", got)
	}
	runs, plots, bottles, log := m.Sources[0], m.Sources[1], m.Sources[2], m.Sources[3]
	if !runs.OwnHeaders || plots.OwnHeaders || bottles.OwnHeaders {
		t.Error("headers are ours where own_headers says so, and not beside columns")
	}
	if want := []mapping.Piece{{Literal: "{x} "}, {Header: "A"}, {Literal: " and "}, {Header: "B"}}; !reflect.DeepEqual(runs.Columns[0].Compose, want) {
		t.Errorf("compose %+v, want %+v", runs.Columns[0].Compose, want)
	}
	if want := []mapping.KeyPair{{Here: "Run No", There: "id"}}; !reflect.DeepEqual(runs.Joins[0].On, want) {
		t.Errorf("join on %+v, want %+v", runs.Joins[0].On, want)
	}
	if !reflect.DeepEqual(runs.Where[0].Words, []string{"a", "b"}) || !reflect.DeepEqual(runs.Skip[0].Words, []string{""}) {
		t.Errorf("where %+v, skip %+v", runs.Where, runs.Skip)
	}
	if plots.Unpivot.DropEmpty || plots.Covariates[0] != "Farbe" {
		t.Errorf("plots: %+v", plots)
	}
	if bottles.File != "bottles.csv" || bottles.Line != 9 || *bottles.Columns[1].Constant != "7" {
		t.Errorf("bottles: file %q, line %d, plot %q", bottles.File, bottles.Line, *bottles.Columns[1].Constant)
	}
	if v := bottles.Columns[4]; v.Unit.Code != "mL" || v.Missing["0"] != mapping.NotHappened || !bottles.Columns[3].Clock {
		t.Errorf("volume %+v, end %+v", v, bottles.Columns[3])
	}
	if log.Range != "A9:F40" || log.Sheet != "Blatt 1" || log.Columns[0].FileName.String() != "log_(.+)" {
		t.Errorf("log: %+v", log.Location)
	}
	for file, want := range map[string]bool{"bottles.csv": true, "log_3.xlsx": true, "rain.csv": true, "runs.csv": true, "other.csv": false, "sub/log_3.xlsx": false} {
		if m.Uses(file) != want {
			t.Errorf("Uses(%s) = %v, want %v", file, !want, want)
		}
	}
}

// Each bad mapping is reported with its code at its line.
func TestParseFaults(t *testing.T) {
	source := func(s string) string { return "tables:\n  samples:\n    file: a.csv\n    " + s + "\n" }
	column := func(s string) string { return source("columns:\n      " + s) }
	for _, tt := range []struct {
		name, text string
		code       string
		line       int64
	}{
		{"empty", "", "mapping.syntax", 0},
		{"comments only", "# nothing\n", "mapping.syntax", 0},
		{"no YAML", "tables:\n  - a\n b: [", "mapping.syntax", 2},
		{"a tab", "tables:\n\tsamples: a\n", "mapping.syntax", 2},
		{"a list", "- a\n", "mapping.syntax", 1},
		{"a word", "hello\n", "mapping.syntax", 1},
		{"two documents", "tables: {}\n---\ntables: {}\n", "mapping.syntax", 2},
		{"no tables", "decimal: \".\"\n", "mapping.syntax", 1},
		{"unknown key", "decimals: \",\"\ntables: {}\n", "mapping.unknown_key", 1},
		{"key twice", "decimal: \".\"\ndecimal: \",\"\ntables: {}\n", "mapping.syntax", 2},
		{"unknown table", "tables:\n  bottles: {file: a.csv}\n", "mapping.unknown_key", 2},
		{"no source", "tables:\n  samples: []\n", "mapping.syntax", 2},
		{"a source that is a word", "tables:\n  samples: a.csv\n", "mapping.syntax", 2},
		{"no file", "tables:\n  samples:\n    sheet: a\n", "mapping.syntax", 3},
		{"unknown key of a source", source("colums: {}"), "mapping.unknown_key", 4},
		{"file outside", "tables:\n  samples:\n    file: ../a.csv\n", "mapping.value", 3},
		{"absolute file", "tables:\n  samples:\n    file: /etc/passwd\n", "mapping.value", 3},
		{"drive", "tables:\n  samples:\n    file: C:\\a.csv\n", "mapping.value", 3},
		{"bad pattern of files", "tables:\n  samples:\n    file: \"a[.csv\"\n", "mapping.value", 3},
		{"bad range", source("range: A9"), "mapping.value", 4},
		{"bad delimiter", source("delimiter: \"::\""), "mapping.value", 4},
		{"bad decimal", source("decimal: point"), "mapping.value", 4},
		{"bad encoding", source("encoding: ebcdic"), "mapping.value", 4},
		{"bad timezone", "timezone: Atlantis/Centre\ntables: {}\n", "mapping.value", 1},
		{"unknown column", column("volum: V"), "mapping.unknown_key", 5},
		{"unknown key of a column", column("volume: {from: V, units: mL}"), "mapping.unknown_key", 5},
		{"unknown unit", column("volume: {from: V, unit: furlong}"), "unit.unknown", 5},
		{"wrong dimension", column("volume: {from: V, unit: g}"), "unit.dimension", 5},
		{"unit of text", column("plot: {from: P, unit: g}"), "mapping.value", 5},
		{"nothing feeds it", column("volume: {unit: mL}"), "mapping.syntax", 5},
		{"two things feed it", column("volume: {from: V, constant: 3}"), "mapping.syntax", 5},
		{"null", column("volume:"), "mapping.value", 5},
		{"a list as header", column("volume: [a, b]"), "mapping.syntax", 5},
		{"open brace", column("plot: {compose: \"{a\"}"), "mapping.value", 5},
		{"compose of nothing", column("plot: {compose: \"a\"}"), "mapping.value", 5},
		{"translation into no word", column("stream: {from: S, translate: {a: runof}}"), "mapping.value", 5},
		{"clock of a volume", column("volume: {from: V, clock: true}"), "mapping.value", 5},
		{"clock maybe", column("end: {from: V, clock: maybe}"), "mapping.value", 5},
		{"meaning of a missing word", column("end: {from: V, missing: {NA: zero}}"), "mapping.value", 5},
		{"file_name without a group", column("run: {file_name: log}"), "mapping.value", 5},
		{"file_name that is no pattern", column("run: {file_name: \"(\"}"), "mapping.value", 5},
		{"covariates of samples", source("covariates: [a]"), "mapping.unknown_key", 4},
		{"join without key", source("join: {file: b.csv}"), "mapping.syntax", 4},
		{"join of a pattern", source("join: {file: \"*.csv\", on: run}"), "mapping.value", 4},
		{"join of nothing", source("join: a"), "mapping.syntax", 4},
		{"unpivot without columns", source("unpivot: {value: v}"), "mapping.syntax", 4},
		{"unpivot with a nameless group", source("unpivot: {columns: \"v_(.*)\", value: v}"), "mapping.value", 4},
		{"unpivot without value", source("unpivot: {columns: \"v_(?P<end>.*)\"}"), "mapping.syntax", 4},
		{"unpivot with both", source("unpivot: {columns: \"(?P<measure>.)_(?P<end>.*)\", value: v}"), "mapping.syntax", 4},
		{"where that is a word", source("where: a"), "mapping.syntax", 4},
		{"a key that is a list", "? [a]\n: b\ntables: {}\n", "mapping.syntax", 1},
		{"an alias bomb", "tables:\n  samples:\n    - &s {file: a.csv, columns: {" + bomb() + "}}\n" + strings.Repeat("    - *s\n", 4000), "mapping.syntax", 3},
	} {
		t.Run(tt.name, func(t *testing.T) {
			m, issues := mapping.Parse([]byte(tt.text), "mapping.yaml")
			if m != nil {
				t.Error("a faulty mapping was accepted")
			}
			for _, i := range issues.All() {
				if string(i.Code) == tt.code && i.Row == tt.line && i.File == "mapping.yaml" {
					return
				}
			}
			t.Errorf("want %s at line %d; got %v", tt.code, tt.line, issues.All())
		})
	}
}

func bomb() string {
	var all []string
	for i := range 40 {
		all = append(all, fmt.Sprintf("analyte_%d: {constant: 1}", i))
	}
	return strings.Join(all, ", ")
}

func FuzzParse(f *testing.F) {
	real, err := os.ReadFile(filepath.Join("..", "..", "testdata", "datasets", "twp-washoff-sand", "mapping.yaml"))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(real)
	for _, s := range []string{
		"tables: {samples: {file: a.csv}}", "tables: &a {samples: *a}", "tables:\n  runs: {file: a, join: {file: b, on: [c]}, unpivot: {columns: '(?P<measure>.)', drop_empty: false}}",
		"missing: {NA: none}\ntables: {plots: [{file: x, columns: {run: {compose: '{a}'}}}]}", "? - a\n: b", "!!binary a", "a: !!float .nan", "---",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		m, issues := mapping.Parse(data, "m")
		if (m == nil) != (issues.Errors() > 0) {
			t.Fatalf("map %v with %d errors", m, issues.Errors())
		}
		lines := int64(strings.Count(string(data), "\n")+strings.Count(string(data), "\r")+strings.Count(string(data), "\u2028")+strings.Count(string(data), "\u2029")+strings.Count(string(data), "\u0085")) + 1
		for _, i := range issues.All() {
			if i.Row < 0 || i.Row > lines {
				t.Fatalf("%v at line %d of %d", i, i.Row, lines)
			}
		}
	})
}
