package columnar_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"sheetwash/ingest/columnar"
	"sheetwash/ingest/issue"
	"sheetwash/ingest/table"
)

func testdata(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// Files of other writers. The wanted cells are what was put in: row i of the DuckDB
// files is AM-(i mod 3), i/2 minutes, 1.25 i or null where 5 divides i, and so on.
func TestOtherWriters(t *testing.T) {
	polars := [][]string{
		{"AM-1", "1", "0.5", "true", "AM-1"}, {"AM-2", "2", "∅", "false", "AM-2"},
		{"∅", "3", "-1.25", "∅", "∅"}, {"a longer name than twelve bytes", "4", "1e+300", "true", "a longer name than twelve bytes"},
	}
	var plain [][]string
	for _, r := range polars {
		plain = append(plain, r[:4])
	}
	for _, tt := range []struct {
		file string
		want [][]string
	}{
		{"polars_uncompressed.arrow", polars},
		{"polars_lz4.arrow", polars},
		{"polars_zstd.arrow", polars},
		{"polars.arrows", polars},
		{"polars.parquet", plain},
	} {
		if c := read(t, testdata(t, tt.file), columnar.Options{}, 2, nil); !slices.EqualFunc(c.rows, tt.want, slices.Equal) || len(c.issues) > 0 {
			t.Errorf("%s: %q, %v", tt.file, c.rows, c.issues)
		}
	}
	c := read(t, testdata(t, "duckdb_zstd.parquet"), columnar.Options{}, 2, nil)
	if len(c.rows) != 40 || c.first != 1 || len(c.issues) > 0 {
		t.Fatalf("%d rows from %d, %v", len(c.rows), c.first, c.issues)
	}
	if want := []string{"AM-1", "1", "0.5", "1.25", "false", "2031-05-15", "2031-05-14T10:05:01", "0.143"}; !slices.Equal(c.rows[1], want) {
		t.Errorf("row 2: %q, want %q", c.rows[1], want)
	}
	if c.rows[5][3] != "∅" {
		t.Errorf("row 6: %q", c.rows[5])
	}
	// What is not read is refused where it is asked for, and nowhere else.
	c = read(t, testdata(t, "duckdb_v2.parquet"), columnar.Options{}, 2, []string{"run", "plot", "day"})
	if len(c.rows) != 40 || len(c.issues) > 0 || !slices.Equal(c.rows[39], []string{"AM-0", "3", "2031-06-22"}) {
		t.Errorf("duckdb_v2.parquet: %d rows, %v", len(c.rows), c.issues)
	}
}

// One finding for each file that is not read, whatever the format.
func TestFindings(t *testing.T) {
	ipcFile, stream := fileFormats[0].write(t, mixed(10)), fileFormats[1].write(t, mixed(10))
	pq := fileFormats[4].write(t, mixed(10))
	extra := func(data []byte, at int, b byte) []byte {
		data = bytes.Clone(data)
		data[at] = b
		return data
	}
	for _, tt := range []struct {
		name   string
		data   []byte
		opt    columnar.Options
		want   issue.Code
		column string
	}{
		{name: "nothing", data: nil, want: columnar.CodeUnknown},
		{name: "text", data: []byte("run,plot\nAM-1,1\n"), want: columnar.CodeUnknown},
		{name: "Feather 1", data: []byte("FEA1....FEA1"), want: columnar.CodeCodec},
		{name: "encrypted Parquet", data: []byte("PARE....PARE"), want: columnar.CodeCodec},
		{name: "encrypted Parquet columns", data: append(bytes.Clone(pq[:len(pq)-1]), 'E'), want: columnar.CodeCodec},
		{name: "Parquet cut off", data: pq[:len(pq)-9], want: columnar.CodeTruncated},
		{name: "Parquet of 4 bytes", data: pq[:4], want: columnar.CodeTruncated},
		{name: "Parquet footer longer than the file", data: extra(pq, len(pq)-6, 0xFF), want: columnar.CodeCorrupt},
		{name: "Arrow cut off", data: ipcFile[:len(ipcFile)/2], want: columnar.CodeTruncated},
		{name: "Arrow of 8 bytes", data: ipcFile[:8], want: columnar.CodeTruncated},
		{name: "stream cut off", data: stream[:len(stream)-100], want: columnar.CodeTruncated},
		{name: "Arrow footer longer than the file", data: extra(ipcFile, len(ipcFile)-7, 1), want: columnar.CodeCorrupt},
		{name: "LZ4_RAW", data: testdata(t, "duckdb_lz4_raw.parquet"), want: columnar.CodeCodec, column: "run"},
		{name: "BYTE_STREAM_SPLIT", data: testdata(t, "duckdb_v2.parquet"), want: columnar.CodeCodec, column: "time"},
		{name: "more rows than allowed", data: testdata(t, "bomb.parquet"), opt: columnar.Options{MaxRows: 1e6}, want: columnar.CodeTooLarge},
		{name: "more rows than allowed in Arrow", data: ipcFile, opt: columnar.Options{MaxRows: 9}, want: columnar.CodeTooLarge},
		{name: "more bytes than allowed", data: fileFormats[2].write(t, mixed(5000)), opt: columnar.Options{MaxBytes: 1 << 10}, want: columnar.CodeTooLarge},
		{name: "no time at all", data: ipcFile, opt: columnar.Options{MaxTime: 1}, want: columnar.CodeTimeout},
		{name: "no time at all for Parquet", data: pq, opt: columnar.Options{MaxTime: 1}, want: columnar.CodeTimeout},
		{name: "a number that is too large", data: fileFormats[0].write(t, oneColumn(t, arrow.PrimitiveTypes.Uint64, `[1,18446744073709551615]`)), want: columnar.CodeType, column: "cell"},
		{name: "text that is not UTF-8", data: fileFormats[0].write(t, oneColumn(t, arrow.BinaryTypes.Binary, `["YQ==","/w=="]`)), want: columnar.CodeText, column: "cell"},
		{name: "text that is not UTF-8 in Parquet", data: fileFormats[4].write(t, oneColumn(t, arrow.BinaryTypes.Binary, `["YQ==","/w=="]`)), want: columnar.CodeText, column: "cell"},
		{name: "two columns of one name", data: fileFormats[0].write(t, twice(t)), want: columnar.CodeHeader, column: "cell"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c := read(t, tt.data, tt.opt, 2, nil)
			var errs []issue.Issue
			for _, i := range c.issues {
				if i.Severity == issue.Error {
					errs = append(errs, i)
				}
			}
			if len(errs) != 1 || errs[0].Code != tt.want || errs[0].Column != tt.column || errs[0].File != "day/x.arrow" {
				t.Fatalf("%v, want one %s", errs, tt.want)
			}
			if tt.column == "cell" && tt.want != columnar.CodeHeader && errs[0].Row != 2 {
				t.Errorf("row %d, want 2", errs[0].Row)
			}
		})
	}
}

// A stream whose last 8 bytes, the end mark, are missing is read, with a warning.
func TestStreamWithoutEnd(t *testing.T) {
	data := fileFormats[1].write(t, mixed(10))
	c := read(t, data[:len(data)-8], columnar.Options{}, 2, nil)
	if len(c.rows) != 10 || len(c.issues) != 1 || c.issues[0].Code != columnar.CodeTruncated || c.issues[0].Severity != issue.Warning {
		t.Errorf("%d rows, %v", len(c.rows), c.issues)
	}
}

func twice(t testing.TB) arrow.Record {
	one := oneColumn(t, arrow.PrimitiveTypes.Int8, `[1]`)
	f := one.Schema().Field(0)
	return array.NewRecord(arrow.NewSchema([]arrow.Field{f, f}, nil), []arrow.Array{one.Column(0), one.Column(0)}, 1)
}

// A column of a nested type is a note until it is asked for, and the columns around it
// are in their places.
func TestNestedColumns(t *testing.T) {
	for _, dt := range []arrow.DataType{
		arrow.ListOf(arrow.PrimitiveTypes.Int32),
		arrow.StructOf(arrow.Field{Name: "a", Type: arrow.BinaryTypes.String, Nullable: true}, arrow.Field{Name: "b", Type: arrow.PrimitiveTypes.Int8, Nullable: true}),
		arrow.FixedSizeListOf(2, arrow.PrimitiveTypes.Float32),
		&arrow.FixedSizeBinaryType{ByteWidth: 3},
		arrow.MapOf(arrow.BinaryTypes.String, arrow.PrimitiveTypes.Int8),
		arrow.LargeListOf(arrow.BinaryTypes.StringView),
		arrow.RunEndEncodedOf(arrow.PrimitiveTypes.Int32, arrow.PrimitiveTypes.Int8),
		arrow.SparseUnionOf([]arrow.Field{{Name: "a", Type: arrow.PrimitiveTypes.Int8, Nullable: true}}, []arrow.UnionTypeCode{0}),
	} {
		for _, f := range fileFormats[:5] {
			if f.parquet && (dt.ID() == arrow.RUN_END_ENCODED || dt.ID() == arrow.SPARSE_UNION || dt.ID() == arrow.LARGE_LIST) {
				continue // no such thing in Parquet
			}
			t.Run(dt.Name()+" as "+f.name, func(t *testing.T) {
				data := f.write(t, around(dt))
				c := read(t, data, columnar.Options{}, 1, []string{"before", "after"})
				if !slices.EqualFunc(c.rows, [][]string{{"1", "3"}, {"2", "4"}}, slices.Equal) {
					t.Errorf("rows %q", c.rows)
				}
				if len(c.issues) != 1 || c.issues[0].Code != columnar.CodeType || c.issues[0].Severity != issue.Note || c.issues[0].Column != "nested" {
					t.Errorf("issues %v, want a note", c.issues)
				}
				c = read(t, data, columnar.Options{}, 1, nil)
				if len(c.rows) != 0 || c.codes()[len(c.issues)-1] != columnar.CodeType || !slices.ContainsFunc(c.issues, func(i issue.Issue) bool { return i.Severity == issue.Error }) {
					t.Errorf("rows %q, issues %v, want an error", c.rows, c.issues)
				}
			})
		}
	}
}

// around is two rows of a column between two others.
func around(dt arrow.DataType) arrow.Record {
	schema := arrow.NewSchema([]arrow.Field{
		{Name: "before", Type: arrow.PrimitiveTypes.Int64}, {Name: "nested", Type: dt, Nullable: true}, {Name: "after", Type: arrow.PrimitiveTypes.Int64},
	}, nil)
	b := array.NewRecordBuilder(memory.DefaultAllocator, schema)
	defer b.Release()
	b.Field(0).(*array.Int64Builder).AppendValues([]int64{1, 2}, nil)
	b.Field(1).AppendEmptyValue()
	b.Field(1).AppendNull()
	b.Field(2).(*array.Int64Builder).AppendValues([]int64{3, 4}, nil)
	return b.NewRecord()
}

// An extension type has a meaning that we do not know.
func TestExtensionColumn(t *testing.T) {
	one := oneColumn(t, arrow.BinaryTypes.String, `["a"]`)
	f := one.Schema().Field(0)
	f.Metadata = arrow.MetadataFrom(map[string]string{"ARROW:extension:name": "corrin.place"})
	rec := array.NewRecord(arrow.NewSchema([]arrow.Field{f}, nil), []arrow.Array{one.Column(0)}, 1)
	c := read(t, fileFormats[0].write(t, rec), columnar.Options{}, 1, nil)
	if len(c.rows) != 0 || !slices.Contains(c.codes(), columnar.CodeType) {
		t.Errorf("rows %q, issues %v", c.rows, c.issues)
	}
}

// Batches, rows and findings are the same for any number of workers, and reading a
// column alone gives what reading all gives.
func TestWorkersAndProjection(t *testing.T) {
	for _, f := range fileFormats {
		data := f.write(t, mixed(70_001), mixed(10), mixed(9_000))
		whole := read(t, data, columnar.Options{}, 1, nil)
		if len(whole.rows) != 79_011 || whole.first != 1 || len(whole.issues) != 0 {
			t.Fatalf("%s: %d rows from %d, %v", f.name, len(whole.rows), whole.first, whole.issues)
		}
		if i := 70_001 + 4; !slices.Equal(whole.rows[i], []string{"AM-1", "plot 4", "1", "4", "true", "2031-05-16T10:05:00.004Z"}) {
			t.Errorf("%s: row %d is %q", f.name, i+1, whole.rows[i])
		}
		if two := read(t, data, columnar.Options{}, 3, nil); !slices.EqualFunc(two.rows, whole.rows, slices.Equal) {
			t.Errorf("%s: three workers give other rows", f.name)
		}
		part := read(t, data, columnar.Options{}, 2, []string{"plot", "count"})
		for i, r := range part.rows {
			if r[0] != whole.rows[i][1] || r[1] != whole.rows[i][3] {
				t.Fatalf("%s: row %d is %q, want %q", f.name, i+1, r, whole.rows[i])
			}
		}
		if u := whole.fields[2]; u.Unit != "s" {
			t.Errorf("%s: unit %q, want s", f.name, u.Unit)
		}
	}
}

// A fault in the middle ends the table there, at the same place for any number of
// workers.
func TestFaultInTheMiddle(t *testing.T) {
	good := fileFormats[0].write(t, mixed(200_000))
	at := bytes.LastIndex(good, []byte("plot 3plot 4"))
	good[at] = 0xFF
	var first *content
	for _, workers := range []int{1, 2, 3, 2} {
		c := read(t, good, columnar.Options{}, workers, nil)
		if first == nil {
			first = c
		}
		if len(c.rows) != 196_608 || len(c.issues) != 1 || c.issues[0] != first.issues[0] || c.issues[0].Code != columnar.CodeText || c.issues[0].Column != "plot" {
			t.Errorf("%d workers: %d rows, %v", workers, len(c.rows), c.issues)
		}
	}
	want := int64(199_999) // the last row whose number is 3 in sevens: 199,999 = 7·28,571 + 2, counted from 1
	for want%7 != 4 {
		want--
	}
	if first.issues[0].Row != want {
		t.Errorf("row %d, want %d", first.issues[0].Row, want)
	}
}

// In a stream a dictionary may grow or be replaced between batches; rows keep the
// words of their time.
func TestChangingDictionaries(t *testing.T) {
	dict := &arrow.DictionaryType{IndexType: arrow.PrimitiveTypes.Int8, ValueType: arrow.BinaryTypes.String}
	record := func(words ...string) arrow.Record {
		b := array.NewDictionaryBuilder(memory.DefaultAllocator, dict).(*array.BinaryDictionaryBuilder)
		for _, w := range words {
			if err := b.AppendString(w); err != nil {
				t.Fatal(err)
			}
		}
		return array.NewRecord(arrow.NewSchema([]arrow.Field{{Name: "cell", Type: dict}}, nil), []arrow.Array{b.NewArray()}, -1)
	}
	for _, deltas := range []bool{false, true} {
		data := ipcWriter(true, ipc.WithDictionaryDeltas(deltas))(t, record("a", "b"), record("a", "b", "c"), record("z"))
		c := read(t, data, columnar.Options{}, 3, nil)
		if got := fmt.Sprint(c.rows); got != "[[a] [b] [a] [b] [c] [z]]" || len(c.issues) > 0 {
			t.Errorf("deltas %v: %s, %v", deltas, got, c.issues)
		}
	}
}

// A reader that stops gets its error, and nothing goes on behind it.
func TestCancel(t *testing.T) {
	for _, f := range []fileFormat{fileFormats[0], fileFormats[4]} {
		tab, err := columnar.Open(context.Background(), "x", "x", columnar.Source{Data: f.write(t, mixed(300_000))}, columnar.Options{})
		if err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithCancel(context.Background())
		err = tab.Scan(ctx, table.ScanOptions{Workers: 2}, func(*table.Batch) any { cancel(); return nil }, func(any) {})
		if !errors.Is(err, context.Canceled) {
			t.Errorf("%s: %v", f.name, err)
		}
		if err := tab.Close(); err != nil {
			t.Error(err)
		}
	}
}

func TestOpenErrors(t *testing.T) {
	for _, path := range []string{filepath.Join(t.TempDir(), "missing.arrow"), t.TempDir()} {
		if _, err := columnar.Open(context.Background(), "x", "x", columnar.Source{Path: path}, columnar.Options{}); err == nil {
			t.Errorf("%s: no error", path)
		}
	}
}

func TestDetect(t *testing.T) {
	want := []columnar.Encoding{columnar.IPCFile, columnar.IPCStream, columnar.IPCFile, columnar.IPCStream, columnar.ParquetFile, columnar.ParquetFile, columnar.ParquetFile}
	for i, f := range fileFormats {
		data := f.write(t, mixed(3))
		if got := columnar.Detect(data[:columnar.HeadSize]); got != want[i] {
			t.Errorf("%s: %d, want %d", f.name, got, want[i])
		}
	}
	if got := columnar.Detect([]byte("run,plot")); got != columnar.NotColumnar {
		t.Errorf("text: %d", got)
	}
}
