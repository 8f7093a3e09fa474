package columnar_test

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/ingest/columnar"
	"sheetwash/ingest/table"
)

var outFormats = []columnar.Format{columnar.ArrowFile, columnar.ArrowStream, columnar.Parquet}

func results() *columnar.OutTable {
	return &columnar.OutTable{
		Meta: map[string]string{"table": "plot_results", "schema": "1"},
		Columns: []columnar.OutColumn{
			{Name: "run", Kind: columnar.OutText, Text: []string{"AM-1", "AM-2", ""}, Null: []bool{false, false, true}},
			{Name: "value", Unit: "mm/h", Meta: map[string]string{"meaning": "steady infiltration rate"}, Kind: columnar.OutFloat, Float: []float64{0.1, math.NaN(), math.Copysign(0, -1)}, Null: []bool{false, true, false}},
			{Name: "n_used", Kind: columnar.OutInt, Int: []int64{3, math.MinInt64, 9}},
			{Name: "headline", Kind: columnar.OutBool, Bool: []bool{true, false, true}, Null: []bool{false, false, true}},
		},
	}
}

func write(t testing.TB, f columnar.Format, tab *columnar.OutTable) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := columnar.Write(&b, f, tab); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestWriteAndReadAgain(t *testing.T) {
	want := [][]string{{"AM-1", "0.1", "3", "true"}, {"AM-2", "∅", "-9223372036854775808", "false"}, {"∅", "-0", "9", "∅"}}
	for _, f := range outFormats {
		data := write(t, f, results())
		c := read(t, data, columnar.Options{}, 2, nil)
		if c.rows[2][1] == "0" {
			c.rows[2][1] = "-0" // the literal -0.0 above is 0 in Go
		}
		if !slices.EqualFunc(c.rows, want, slices.Equal) || len(c.issues) > 0 {
			t.Errorf("format %d: %q, %v", f, c.rows, c.issues)
		}
		if want := []table.Field{{Name: "run"}, {Name: "value", Unit: "mm/h"}, {Name: "n_used"}, {Name: "headline"}}; !slices.Equal(c.fields, want) {
			t.Errorf("format %d: fields %+v", f, c.fields)
		}
		if again := write(t, f, results()); !bytes.Equal(data, again) {
			t.Errorf("format %d: the same table gives other bytes", f)
		}
		// What stands under a null does not matter.
		other := results()
		other.Columns[1].Float[1] = 17
		if again := write(t, f, other); !bytes.Equal(data, again) {
			t.Errorf("format %d: a null's content shows in the bytes", f)
		}
	}
}

func TestWriteManyRowsAndNone(t *testing.T) {
	for _, f := range outFormats {
		for _, n := range []int{0, 270_000} {
			tab := &columnar.OutTable{Columns: []columnar.OutColumn{{Name: "v", Kind: columnar.OutFloat, Float: make([]float64, n)}, {Name: "t", Text: make([]string, n)}}}
			for i := range n {
				tab.Columns[0].Float[i], tab.Columns[1].Text[i] = float64(i)/8, fmt.Sprint(i%1000)
			}
			c := read(t, write(t, f, tab), columnar.Options{}, 2, nil)
			if len(c.rows) != n || len(c.fields) != 2 || len(c.issues) > 0 {
				t.Fatalf("format %d: %d rows of %d, %v", f, len(c.rows), n, c.issues)
			}
			for i, r := range c.rows {
				if r[0] != fmt.Sprint(float64(i)/8) && i < 100 || r[1] != tab.Columns[1].Text[i] {
					t.Fatalf("format %d: row %d is %q", f, i+1, r)
				}
			}
		}
	}
}

func TestWriteRefuses(t *testing.T) {
	for name, change := range map[string]func(*columnar.OutTable){
		"a NaN":             func(t *columnar.OutTable) { t.Columns[1].Null = nil },
		"an infinity":       func(t *columnar.OutTable) { t.Columns[1].Float[0] = math.Inf(1) },
		"a short column":    func(t *columnar.OutTable) { t.Columns[2].Int = t.Columns[2].Int[:2] },
		"short null marks":  func(t *columnar.OutTable) { t.Columns[0].Null = []bool{true} },
		"a name used twice": func(t *columnar.OutTable) { t.Columns[2].Name = "run" },
	} {
		tab := results()
		change(tab)
		for _, f := range outFormats {
			var b bytes.Buffer
			if err := columnar.Write(&b, f, tab); !errors.Is(err, columnar.ErrOutTable) || b.Len() > 0 {
				t.Errorf("%s, format %d: %v, %d bytes", name, f, err, b.Len())
			}
		}
	}
	if err := columnar.Write(&bytes.Buffer{}, 0, results()); err == nil {
		t.Error("format 0: no error")
	}
}

// brokenPipe fails after some bytes.
type brokenPipe struct{ left int }

func (b *brokenPipe) Write(p []byte) (int, error) {
	if b.left -= len(p); b.left < 0 {
		return 0, errors.New("disk full")
	}
	return len(p), nil
}

func TestWriteToABrokenPipe(t *testing.T) {
	for _, f := range outFormats {
		n := len(write(t, f, results()))
		for left := 0; left < n; left += 40 {
			if err := columnar.Write(&brokenPipe{left}, f, results()); err == nil {
				t.Errorf("format %d: no error after %d of %d bytes", f, left, n)
			}
		}
	}
}

// Whatever is written is read again, digit by digit.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(0, 40).Draw(rt, "rows")
		values := rapid.SliceOfN(rapid.Float64Range(-math.MaxFloat64, math.MaxFloat64), n, n).Draw(rt, "values")
		texts := rapid.SliceOfN(rapid.String(), n, n).Draw(rt, "texts")
		null := rapid.SliceOfN(rapid.Bool(), n, n).Draw(rt, "null")
		tab := &columnar.OutTable{Columns: []columnar.OutColumn{
			{Name: "value", Kind: columnar.OutFloat, Float: values, Null: null},
			{Name: "text", Text: texts},
		}}
		c := read(t, write(t, columnar.ArrowFile, tab), columnar.Options{}, 2, nil)
		for i := range n {
			want := []string{fmt.Sprint(values[i]), texts[i]}
			if null[i] {
				want[0] = "∅"
			}
			if !slices.Equal(c.rows[i], want) {
				rt.Fatalf("row %d is %q, want %q; %v", i+1, c.rows[i], want, c.issues)
			}
		}
	})
}
