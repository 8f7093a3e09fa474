package columnar_test

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"testing"

	"github.com/apache/arrow/go/v17/arrow"

	"sheetwash/ingest/columnar"
	"sheetwash/ingest/issue"
	"sheetwash/ingest/table"
)

// content is a table as a test sees it: every wanted cell as text, "∅" for null.
type content struct {
	fields []table.Field
	rows   [][]string
	kinds  []table.Kind
	first  int64
	issues []issue.Issue
}

func (c *content) codes() []issue.Code {
	var codes []issue.Code
	for _, i := range c.issues {
		codes = append(codes, i.Code)
	}
	return codes
}

// read reads a whole file. A nil want is everything.
func read(t testing.TB, data []byte, opt columnar.Options, workers int, want []string) *content {
	t.Helper()
	c, err := readAll(context.Background(), data, opt, workers, want)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func readAll(ctx context.Context, data []byte, opt columnar.Options, workers int, want []string) (*content, error) {
	tab, err := columnar.Open(ctx, "day/x.arrow", "x", columnar.Source{Data: data}, opt)
	if err != nil {
		return nil, err
	}
	defer tab.Close()
	c := &content{fields: tab.Fields()}
	var all issue.List
	all.AddAll(tab.Issues())
	var wanted []bool
	if want != nil {
		for _, f := range c.fields {
			wanted = append(wanted, slices.Contains(want, f.Name))
		}
	}
	type part struct {
		rows   [][]string
		kinds  []table.Kind
		first  int64
		issues *issue.List
	}
	err = tab.Scan(ctx, table.ScanOptions{Workers: workers, Want: wanted}, func(b *table.Batch) any {
		p := part{first: b.Row(0), issues: &b.Issues}
		for i := range b.N {
			var row []string
			for k := range b.Cols {
				if wanted == nil || wanted[k] {
					row = append(row, cell(&b.Cols[k], i))
				}
			}
			p.rows = append(p.rows, row)
		}
		for k := range b.Cols {
			p.kinds = append(p.kinds, b.Cols[k].Kind)
		}
		return p
	}, func(r any) {
		p := r.(part)
		all.AddAll(p.issues)
		if p.rows == nil {
			return
		}
		if c.first == 0 {
			c.first = p.first
		} else if p.first != c.first+int64(len(c.rows)) {
			panic(fmt.Sprintf("batch starts at row %d after %d rows", p.first, len(c.rows)))
		}
		c.rows, c.kinds = append(c.rows, p.rows...), p.kinds
	})
	c.issues = all.All()
	return c, err
}

func cell(c *table.Column, i int) string {
	switch {
	case c.IsNull(i):
		return "∅"
	case c.Kind == table.Float:
		return strconv.FormatFloat(c.Float[i], 'g', -1, 64)
	case c.Kind == table.Int:
		return strconv.FormatInt(c.Int[i], 10)
	case c.Kind == table.Bool:
		return strconv.FormatBool(c.Bool[i])
	case c.Kind == table.Dict:
		return c.Words[c.Codes[i]]
	default:
		return string(c.Bytes(i))
	}
}

// Every type that a column may have, in every format that can hold it. The wanted
// texts follow from the definition of each type: a timestamp counts from the start of
// 1970 in UTC, a date its days, a decimal is its whole number over 10^scale.
func TestTypes(t *testing.T) {
	us := arrow.Microsecond
	dict := func(index, value arrow.DataType) arrow.DataType {
		return &arrow.DictionaryType{IndexType: index, ValueType: value}
	}
	for _, tt := range []struct {
		name   string
		dt     arrow.DataType
		json   string // cells, as the library's JSON reader takes them
		want   []string
		kind   table.Kind
		unit   string
		noteIs issue.Code
		noPq   bool // v17 has no writer for it
	}{
		{name: "int8", dt: arrow.PrimitiveTypes.Int8, json: `[1,null,-128]`, want: []string{"1", "∅", "-128"}, kind: table.Int},
		{name: "int16", dt: arrow.PrimitiveTypes.Int16, json: `[1,null,-32768]`, want: []string{"1", "∅", "-32768"}, kind: table.Int},
		{name: "int32", dt: arrow.PrimitiveTypes.Int32, json: `[1,null,-7]`, want: []string{"1", "∅", "-7"}, kind: table.Int},
		{name: "int64", dt: arrow.PrimitiveTypes.Int64, json: `[1,null,-7]`, want: []string{"1", "∅", "-7"}, kind: table.Int},
		{name: "uint8", dt: arrow.PrimitiveTypes.Uint8, json: `[1,null,255]`, want: []string{"1", "∅", "255"}, kind: table.Int},
		{name: "uint16", dt: arrow.PrimitiveTypes.Uint16, json: `[1,null,65535]`, want: []string{"1", "∅", "65535"}, kind: table.Int},
		{name: "uint32", dt: arrow.PrimitiveTypes.Uint32, json: `[1,null,4294967295]`, want: []string{"1", "∅", "4294967295"}, kind: table.Int},
		{name: "uint64", dt: arrow.PrimitiveTypes.Uint64, json: `[1,null,7]`, want: []string{"1", "∅", "7"}, kind: table.Int},
		{name: "float16", dt: arrow.FixedWidthTypes.Float16, json: `[0.5,null,-2]`, want: []string{"0.5", "∅", "-2"}, kind: table.Float},
		{name: "float32", dt: arrow.PrimitiveTypes.Float32, json: `[0.5,null,-2]`, want: []string{"0.5", "∅", "-2"}, kind: table.Float},
		{name: "float64", dt: arrow.PrimitiveTypes.Float64, json: `[0.1,null,-2e300]`, want: []string{"0.1", "∅", "-2e+300"}, kind: table.Float},
		{name: "bool", dt: arrow.FixedWidthTypes.Boolean, json: `[true,null,false]`, want: []string{"true", "∅", "false"}, kind: table.Bool},
		{name: "utf8", dt: arrow.BinaryTypes.String, json: `["a",null,"é"]`, want: []string{"a", "∅", "é"}, kind: table.Text},
		{name: "large_utf8", dt: arrow.BinaryTypes.LargeString, json: `["a",null,""]`, want: []string{"a", "∅", ""}, kind: table.Text},
		{name: "string_view", dt: arrow.BinaryTypes.StringView, json: `["short",null,"longer than twelve bytes"]`, want: []string{"short", "∅", "longer than twelve bytes"}, kind: table.Text, noPq: true},
		{name: "dict of int8", dt: dict(arrow.PrimitiveTypes.Int8, arrow.BinaryTypes.String), json: `["a",null,"b"]`, want: []string{"a", "∅", "b"}, kind: table.Dict},
		{name: "dict of uint64", dt: dict(arrow.PrimitiveTypes.Uint64, arrow.BinaryTypes.String), json: `["a",null,"b"]`, want: []string{"a", "∅", "b"}, kind: table.Dict},
		{name: "dict of numbers", dt: dict(arrow.PrimitiveTypes.Int16, arrow.PrimitiveTypes.Float64), json: `[1.5,null,1.5]`, want: []string{"1.5", "∅", "1.5"}, kind: table.Float},
		{name: "decimal128", dt: &arrow.Decimal128Type{Precision: 10, Scale: 3}, json: `["12.345",null,"-0.001"]`, want: []string{"12.345", "∅", "-0.001"}, kind: table.Text},
		{name: "decimal256", dt: &arrow.Decimal256Type{Precision: 40, Scale: 2}, json: `["12.34",null,"-1.50"]`, want: []string{"12.34", "∅", "-1.50"}, kind: table.Text, noPq: true},
		{name: "date32", dt: arrow.FixedWidthTypes.Date32, json: `["2031-05-14",null,"1969-12-31"]`, want: []string{"2031-05-14", "∅", "1969-12-31"}, kind: table.Text},
		{name: "date64", dt: arrow.FixedWidthTypes.Date64, json: `["2031-05-14",null,"1969-12-31"]`, want: []string{"2031-05-14", "∅", "1969-12-31"}, kind: table.Text},
		{name: "time32", dt: arrow.FixedWidthTypes.Time32ms, json: `["10:05:00.250",null,"00:00:00"]`, want: []string{"10:05:00.25", "∅", "00:00:00"}, kind: table.Text},
		{name: "time64", dt: arrow.FixedWidthTypes.Time64us, json: `["10:05:00.000001",null,"23:59:59"]`, want: []string{"10:05:00.000001", "∅", "23:59:59"}, kind: table.Text},
		{name: "timestamp", dt: &arrow.TimestampType{Unit: us}, json: `["2031-05-14T10:05:00",null,"2031-05-14T10:05:00.5"]`, want: []string{"2031-05-14T10:05:00", "∅", "2031-05-14T10:05:00.5"}, kind: table.Text},
		{name: "timestamp UTC", dt: &arrow.TimestampType{Unit: us, TimeZone: "UTC"}, json: `["2031-05-14T10:05:00Z",null,"2031-05-14T10:05:00Z"]`, want: []string{"2031-05-14T10:05:00Z", "∅", "2031-05-14T10:05:00Z"}, kind: table.Text},
		{name: "timestamp with an offset", dt: &arrow.TimestampType{Unit: us, TimeZone: "+01:00"}, json: `["2031-05-14T09:05:00Z",null,"2031-05-14T10:05:00Z"]`, want: []string{"2031-05-14T10:05:00+01:00", "∅", "2031-05-14T11:05:00+01:00"}, kind: table.Text},
		{name: "timestamp of no zone", dt: &arrow.TimestampType{Unit: us, TimeZone: "Basin/Corrin"}, json: `[1,null,0]`, want: []string{"1970-01-01T00:00:00.000001Z", "∅", "1970-01-01T00:00:00Z"}, kind: table.Text, noteIs: columnar.CodeZone},
		{name: "duration", dt: arrow.FixedWidthTypes.Duration_ms, json: `[1500,null,-250]`, want: []string{"1.5", "∅", "-0.25"}, kind: table.Float, unit: "s", noPq: true},
		{name: "null", dt: arrow.Null, json: `[null,null,null]`, want: []string{"∅", "∅", "∅"}, kind: table.Text},
		{name: "binary", dt: arrow.BinaryTypes.Binary, json: `["YQ==",null,"Yg=="]`, want: []string{"a", "∅", "b"}, kind: table.Text, noteIs: columnar.CodeType},
	} {
		for _, f := range fileFormats {
			if f.parquet && tt.noPq {
				continue
			}
			t.Run(tt.name+" as "+f.name, func(t *testing.T) {
				data := f.write(t, oneColumn(t, tt.dt, tt.json))
				c := read(t, data, columnar.Options{}, 2, nil)
				var got []string
				for _, r := range c.rows {
					got = append(got, r[0])
				}
				if !slices.Equal(got, tt.want) {
					t.Fatalf("cells %q, want %q; issues %v", got, tt.want, c.issues)
				}
				if kind := c.kinds[0]; kind != tt.kind && !(f.parquet && (tt.kind == table.Text || tt.kind == table.Dict)) {
					t.Errorf("kind %d, want %d", kind, tt.kind)
				}
				if c.fields[0] != (table.Field{Name: "cell", Unit: tt.unit}) {
					t.Errorf("field %+v", c.fields[0])
				}
				var notes []issue.Code
				if tt.noteIs != "" {
					notes = []issue.Code{tt.noteIs}
				}
				if !slices.Equal(c.codes(), notes) {
					t.Errorf("issues %v, want %v", c.issues, notes)
				}
			})
		}
	}
}

// NaN and infinities are what stands in the file; the decoder of the cells says
// what they mean.
func TestNotANumber(t *testing.T) {
	values := []float64{math.NaN(), math.Inf(1), math.Inf(-1), 1}
	for _, f := range fileFormats {
		c := read(t, f.write(t, floats(values)), columnar.Options{}, 1, nil)
		var got []string
		for _, r := range c.rows {
			got = append(got, r[0])
		}
		if want := []string{"NaN", "+Inf", "-Inf", "1"}; !slices.Equal(got, want) || len(c.issues) != 0 {
			t.Errorf("%s: %q, want %q; issues %v", f.name, got, want, c.issues)
		}
	}
}
