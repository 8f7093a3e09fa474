package columnar_test

import (
	"bytes"
	"io"
	"strings"
	"testing"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/compress"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"
)

// fileFormat writes records with the library's own writers.
type fileFormat struct {
	name    string
	parquet bool
	write   func(t testing.TB, recs ...arrow.Record) []byte
}

var fileFormats = []fileFormat{
	{"ipc file", false, ipcWriter(false)},
	{"ipc stream", false, ipcWriter(true)},
	{"ipc file with zstd", false, ipcWriter(false, ipc.WithZstd())},
	{"ipc stream with lz4", false, ipcWriter(true, ipc.WithLZ4())},
	{"parquet", true, parquetWriter()},
	{"parquet with zstd and pages of version 2", true, parquetWriter(parquet.WithCompression(compress.Codecs.Zstd), parquet.WithDataPageVersion(parquet.DataPageV2))},
	{"parquet with snappy, no dictionary", true, parquetWriter(parquet.WithCompression(compress.Codecs.Snappy), parquet.WithDictionaryDefault(false))},
}

func ipcWriter(stream bool, opts ...ipc.Option) func(testing.TB, ...arrow.Record) []byte {
	return func(t testing.TB, recs ...arrow.Record) []byte {
		t.Helper()
		var b seekBuffer
		opts := append(opts[:len(opts):len(opts)], ipc.WithSchema(recs[0].Schema()))
		var w interface {
			Write(arrow.Record) error
			Close() error
		} = ipc.NewWriter(&b, opts...)
		if !stream {
			fw, err := ipc.NewFileWriter(&b, opts...)
			if err != nil {
				t.Fatal(err)
			}
			w = fw
		}
		for _, r := range recs {
			if err := w.Write(r); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
}

func parquetWriter(props ...parquet.WriterProperty) func(testing.TB, ...arrow.Record) []byte {
	return func(t testing.TB, recs ...arrow.Record) []byte {
		t.Helper()
		var b bytes.Buffer
		w, err := pqarrow.NewFileWriter(recs[0].Schema(), &b, parquet.NewWriterProperties(props...), pqarrow.NewArrowWriterProperties(pqarrow.WithStoreSchema()))
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range recs {
			if err := w.Write(r); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
}

// seekBuffer tells its position, which is all that the file writer asks.
type seekBuffer struct{ bytes.Buffer }

func (b *seekBuffer) Seek(offset int64, whence int) (int64, error) {
	if offset != 0 || whence != io.SeekCurrent {
		return 0, io.ErrUnexpectedEOF
	}
	return int64(b.Len()), nil
}

// oneColumn is a record of one column "cell".
func oneColumn(t testing.TB, dt arrow.DataType, json string) arrow.Record {
	t.Helper()
	arr, _, err := array.FromJSON(memory.DefaultAllocator, dt, strings.NewReader(json))
	if err != nil {
		t.Fatal(err)
	}
	schema := arrow.NewSchema([]arrow.Field{{Name: "cell", Type: dt, Nullable: true}}, nil)
	return array.NewRecord(schema, []arrow.Array{arr}, -1)
}

func floats(values []float64) arrow.Record {
	b := array.NewFloat64Builder(memory.DefaultAllocator)
	b.AppendValues(values, nil)
	schema := arrow.NewSchema([]arrow.Field{{Name: "cell", Type: arrow.PrimitiveTypes.Float64}}, nil)
	return array.NewRecord(schema, []arrow.Array{b.NewArray()}, -1)
}
