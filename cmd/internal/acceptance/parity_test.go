package acceptance

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"sheetwash/analysis"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/ingest/columnar"
)

// usUnits are the units of a crew that measures in US customary units, with the
// factor from the units of the hand-worked files (exact by NIST SP 811).
var usUnits = map[string]struct {
	unit   string
	factor float64
}{
	"mm/h": {"in/h", 1 / 25.4}, "mm": {"in", 1 / 25.4}, "m2": {"ft2", 1 / 0.09290304}, "mL": {"fl oz", 1 / 29.5735295625},
	"g": {"oz", 1 / 28.349523125}, "min": {"s", 60}, "Cel": {"Cel", 1}, "kPa": {"psi", 1 / 6.894757293168361}, "%": {"%", 1}, "mg/L": {"g/L", 1e-3},
}

// form writes the tables of the hand-worked dataset in one way.
type form struct {
	name  string
	write func(t *testing.T, dir, table string, header []string, rows [][]string)
}

func forms() []form {
	return []form{
		{"US units", func(t *testing.T, dir, table string, header []string, rows [][]string) {
			h, r := inUS(t, header, rows)
			writeText(t, dir, table, h, r, ',')
		}},
		{"decimal comma", func(t *testing.T, dir, table string, header []string, rows [][]string) {
			var out [][]string
			for _, row := range rows {
				var cells []string
				for i, c := range row {
					if unitOf(header[i]) != "" {
						c = strings.ReplaceAll(c, ".", ",")
					}
					cells = append(cells, c)
				}
				out = append(out, cells)
			}
			writeText(t, dir, table, header, out, ';')
		}},
		{"Arrow", func(t *testing.T, dir, table string, header []string, rows [][]string) {
			writeColumns(t, dir, table+".arrow", columnar.ArrowFile, header, rows)
		}},
		{"Parquet", func(t *testing.T, dir, table string, header []string, rows [][]string) {
			writeColumns(t, dir, table+".parquet", columnar.Parquet, header, rows)
		}},
	}
}

// TestSameNumbersInEveryForm reads one dataset in SI, in US units, with decimal
// commas and semicolons, as Arrow and as Parquet: the results agree to 1e-9.
func TestSameNumbersInEveryForm(t *testing.T) {
	want := analyse(t, handWorked, analysis.DefaultPlan())
	for _, f := range forms() {
		t.Run(f.name, func(t *testing.T) {
			dir := filepath.Join(t.TempDir(), "hand-worked")
			if err := os.Mkdir(dir, 0o700); err != nil {
				t.Fatal(err)
			}
			for _, table := range []string{"runs", "plots", "samples", "cans"} {
				data, err := os.ReadFile(filepath.Join(handWorked, table+".csv"))
				if err != nil {
					t.Fatal(err)
				}
				rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
				if err != nil {
					t.Fatal(err)
				}
				f.write(t, dir, table, rows[0], rows[1:])
			}
			readings, err := os.ReadFile(filepath.Join(handWorked, "readings.csv")) // each has its unit in the row
			if err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(dir, "readings.csv"), readings, 0o600); err != nil {
				t.Fatal(err)
			}
			profile, err := os.ReadFile(filepath.Join(handWorked, "simulator.yaml"))
			if err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(dir, "simulator.yaml"), profile, 0o600); err != nil {
				t.Fatal(err)
			}
			equal(t, analyse(t, dir, analysis.DefaultPlan()), want)
		})
	}
}

func equal(t *testing.T, got, want *result.Analysis) {
	t.Helper()
	if len(got.Plots) != len(want.Plots) || len(got.Hydrograph) != len(want.Hydrograph) || len(got.Treatments) != len(want.Treatments) {
		t.Fatalf("%d, %d and %d rows, want %d, %d and %d", len(got.Plots), len(got.Hydrograph), len(got.Treatments), len(want.Plots), len(want.Hydrograph), len(want.Treatments))
	}
	near := func(what string, got, want quantity.Optional) {
		t.Helper()
		if got.OK != want.OK || math.Abs(got.V-want.V) > 1e-9*max(math.Abs(want.V), 1e-3) {
			t.Errorf("%s = %v, want %v", what, got, want)
		}
	}
	for i, w := range want.Plots {
		g := got.Plots[i]
		key := fmt.Sprint(w.Run, "/", w.Plot, " ", w.Metric, " ", w.Method)
		if g.Metric != w.Metric || g.Method != w.Method || g.Censored != w.Censored || g.Flags.String() != w.Flags.String() {
			t.Errorf("%s: row is %s %s %s %q", key, g.Metric, g.Method, g.Censored, g.Flags)
		}
		near(key, g.Value, w.Value)
		near(key+" u", g.U, w.U)
		near(key+" low", g.Low, w.Low)
		near(key+" high", g.High, w.High)
	}
	for i, w := range want.Treatments {
		near(fmt.Sprint(w.Scope, " ", w.Treatment, " ", w.Metric), got.Treatments[i].Value, w.Value)
	}
}

// unitOf returns the unit in the brackets of a header, "" where there is none.
func unitOf(header string) string {
	_, rest, ok := strings.Cut(header, "[")
	if !ok {
		return ""
	}
	return strings.TrimSuffix(rest, "]")
}

func inUS(t *testing.T, header []string, rows [][]string) ([]string, [][]string) {
	var h []string
	for _, c := range header {
		if u := unitOf(c); u != "" {
			c = strings.Replace(c, "["+u+"]", "["+usUnits[u].unit+"]", 1)
		}
		h = append(h, c)
	}
	var out [][]string
	for _, row := range rows {
		var cells []string
		for i, c := range row {
			if v, ok := number(c, header[i]); ok {
				c = strconv.FormatFloat(v*usUnits[unitOf(header[i])].factor, 'g', -1, 64)
			}
			cells = append(cells, c)
		}
		out = append(out, cells)
	}
	return h, out
}

// number returns a cell of a column with a unit; false for empty cells and words.
func number(cell, header string) (float64, bool) {
	if unitOf(header) == "" {
		return 0, false
	}
	v, err := strconv.ParseFloat(cell, 64)
	return v, err == nil
}

func writeText(t *testing.T, dir, table string, header []string, rows [][]string, comma rune) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.Comma = comma
	if err := w.WriteAll(append([][]string{header}, rows...)); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, table+".csv"), b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
}

// writeColumns writes numbers as floats with their unit as metadata. A column
// that has a word among its numbers (none, for the onset) is text.
func writeColumns(t *testing.T, dir, file string, f columnar.Format, header []string, rows [][]string) {
	var out columnar.OutTable
	for i, h := range header {
		name, _, _ := strings.Cut(h, " [")
		c := columnar.OutColumn{Name: name, Unit: unitOf(h), Kind: columnar.OutText}
		text := c.Unit == ""
		for _, row := range rows {
			v, ok := number(row[i], h)
			text = text || !ok && row[i] != ""
			c.Text, c.Float, c.Null = append(c.Text, row[i]), append(c.Float, v), append(c.Null, row[i] == "")
		}
		if text {
			c.Float = nil
		} else {
			c.Text, c.Kind = nil, columnar.OutFloat
		}
		out.Columns = append(out.Columns, c)
	}
	var b bytes.Buffer
	if err := columnar.Write(&b, f, &out); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, file), b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
}
