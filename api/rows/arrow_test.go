package rows_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"testing"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"pgregory.net/rapid"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/api/report"
	"sheetwash/api/rows"
)

// A second reader, that of the Arrow library, finds in the stream the cells of the
// stored rows, and the units in the metadata of the fields.
func TestArrowStreamReadBack(t *testing.T) {
	for _, u := range []report.Units{report.SI, report.US} {
		table, _ := report.Find("hydrograph", u)
		rapid.Check(t, func(t *rapid.T) {
			number := rapid.Custom(func(t *rapid.T) quantity.Optional {
				if rapid.Bool().Draw(t, "missing") {
					return quantity.Optional{}
				}
				return quantity.Some(rapid.Float64Range(-math.MaxFloat32, math.MaxFloat32).Draw(t, "v"))
			})
			a := &result.Analysis{Hydrograph: []result.Course{{Dataset: rapid.String().Draw(t, "dataset"), Run: "R", Plot: "1", Stream: "runoff"}}}
			for range rapid.IntRange(0, 12).Draw(t, "rows") {
				a.Hydrograph[0].Steps = append(a.Hydrograph[0].Steps, result.Step{
					VolumeML: rapid.Float64Range(-1e250, 1e250).Draw(t, "volume"), InfiltrationMMH: number.Draw(t, "infiltration"), ConcentrationGL: number.Draw(t, "c"),
				})
			}
			var stored, stream bytes.Buffer
			if err := report.Write(&stored, a, table.Name, report.Options{Format: report.JSON, Units: u}); err != nil {
				t.Fatal(err)
			}
			lines := bytes.Split(stored.Bytes(), []byte("\n"))
			lines = lines[1 : len(lines)-2]
			var list []string
			for _, l := range lines {
				list = append(list, string(bytes.TrimSuffix(l, []byte(","))))
			}
			if n, err := rows.WriteArrow(&stream, table, u, all(list...)); err != nil || int(n) != len(list) {
				t.Fatalf("%d rows, %v", n, err)
			}
			compare(t, table, list, &stream)
		})
	}
}

func compare(t *rapid.T, table report.Table, list []string, stream *bytes.Buffer) {
	r, err := ipc.NewReader(stream)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Release()
	row := 0
	for r.Next() {
		rec := r.Record()
		for i := range int(rec.NumRows()) {
			var want map[string]any
			if err := json.Unmarshal([]byte(list[row]), &want); err != nil {
				t.Fatal(err)
			}
			for col, c := range table.Columns {
				field := rec.Schema().Field(col)
				if unit, _ := field.Metadata.GetValue("unit"); field.Name != c.Name || unit != c.Unit {
					t.Fatalf("field %s in %q, want %s in %q", field.Name, unit, c.Name, c.Unit)
				}
				if got := cell(rec.Column(col), i); got != want[c.Name] {
					t.Fatalf("row %d, %s: %v, want %v", row, c.Name, got, want[c.Name])
				}
			}
			row++
		}
	}
	if r.Err() != nil || row != len(list) {
		t.Fatalf("%d rows of %d, %v", row, len(list), r.Err())
	}
}

// cell is a cell as JSON decodes it.
func cell(column arrow.Array, i int) any {
	if column.IsNull(i) {
		return nil
	}
	switch c := column.(type) {
	case *array.String:
		return c.Value(i)
	case *array.Float64:
		return c.Value(i)
	case *array.Int64:
		return float64(c.Value(i))
	case *array.Boolean:
		return c.Value(i)
	}
	return fmt.Sprintf("%T", column)
}
