package columnar_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"math/rand/v2"
	"runtime"
	"testing"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"sheetwash/ingest/columnar"
)

// mixed is n rows of every kind of column that readings and samples have.
func mixed(n int) arrow.Record {
	dict := &arrow.DictionaryType{IndexType: arrow.PrimitiveTypes.Int16, ValueType: arrow.BinaryTypes.String}
	schema := arrow.NewSchema([]arrow.Field{
		{Name: "run", Type: dict, Nullable: true},
		{Name: "plot", Type: arrow.BinaryTypes.String, Nullable: true},
		{Name: "time", Type: arrow.PrimitiveTypes.Float64, Metadata: arrow.MetadataFrom(map[string]string{"unit": "s"})},
		{Name: "count", Type: arrow.PrimitiveTypes.Int64, Nullable: true},
		{Name: "ok", Type: arrow.FixedWidthTypes.Boolean, Nullable: true},
		{Name: "when", Type: &arrow.TimestampType{Unit: arrow.Millisecond, TimeZone: "UTC"}},
	}, nil)
	b := array.NewRecordBuilder(memory.DefaultAllocator, schema)
	defer b.Release()
	runs := b.Field(0).(*array.BinaryDictionaryBuilder)
	names := array.NewStringBuilder(memory.DefaultAllocator)
	names.AppendValues([]string{"AM-0", "AM-1", "AM-2"}, nil)
	if err := runs.InsertStringDictValues(names.NewStringArray()); err != nil {
		panic(err)
	}
	for i := range n {
		if i%11 == 3 {
			runs.AppendNull()
		} else if err := runs.AppendString(fmt.Sprintf("AM-%d", i%3)); err != nil {
			panic(err)
		}
		b.Field(1).(*array.StringBuilder).Append(fmt.Sprint("plot ", i%7))
		b.Field(2).(*array.Float64Builder).Append(float64(i) * 0.25)
		if i%5 == 0 {
			b.Field(3).AppendNull()
		} else {
			b.Field(3).(*array.Int64Builder).Append(int64(i))
		}
		b.Field(4).(*array.BooleanBuilder).Append(i%2 == 0)
		b.Field(5).(*array.TimestampBuilder).Append(arrow.Timestamp(1936692300000 + i))
	}
	return b.NewRecord()
}

// mutate returns a damaged copy: bits that flip, an end that is missing, or a
// length that lies.
func mutate(rng *rand.Rand, good []byte) []byte {
	bad := bytes.Clone(good)
	lies := []uint64{0, 1, 7, 0x7F, 0x80, 0xFFFF, 1 << 20, 1<<31 - 1, 1 << 31, 1<<32 - 1, 1 << 40, 1<<63 - 1, 1 << 63, 1<<64 - 1}
	switch rng.IntN(5) {
	case 0:
		return bad[:rng.IntN(len(bad))]
	case 1:
		for range 1 + rng.IntN(8) {
			bad[rng.IntN(len(bad))] ^= 1 << rng.IntN(8)
		}
	case 2: // a whole word, 8 bytes
		at := rng.IntN(len(bad)/8) * 8
		binary.LittleEndian.PutUint64(bad[at:min(at+8, len(bad))], lies[rng.IntN(len(lies))])
	case 3: // half a word
		at := rng.IntN(len(bad)/4) * 4
		binary.LittleEndian.PutUint32(bad[at:], uint32(lies[rng.IntN(len(lies))]))
	default: // in the last part, where footers are, or the first, where schemas are
		at := rng.IntN(min(len(bad), 1024))
		if rng.IntN(2) == 0 {
			at = len(bad) - 1 - at
		}
		bad[at] = byte(rng.Uint32())
	}
	return bad
}

// TestCorpus damages a valid file of each format in many ways. This process must
// live on, take little memory, and come to a table or a finding every time.
func TestCorpus(t *testing.T) {
	for k, f := range fileFormats {
		t.Run(f.name, func(t *testing.T) {
			t.Parallel()
			good := f.write(t, mixed(300), mixed(300))
			n := ipcMutations
			if f.parquet {
				n = parquetMutations
			}
			rng := rand.New(rand.NewPCG(20310514, uint64(k)))
			tables, findings := 0, 0
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			for i := range n {
				c, err := readAll(context.Background(), mutate(rng, good), columnar.Options{MaxBytes: corpusBytes, MaxRows: 1e6}, 2, nil)
				if err != nil {
					t.Fatalf("mutation %d: %v", i, err)
				}
				failed := false
				for _, is := range c.issues {
					failed = failed || is.Severity.String() == "error"
					if is.Message == "" || is.Code == "" || is.File == "" {
						t.Fatalf("mutation %d: empty finding %+v", i, is)
					}
				}
				switch {
				case failed:
					findings++
				case c.fields != nil:
					tables++
				default:
					t.Fatalf("mutation %d: neither a table nor a finding", i)
				}
			}
			runtime.ReadMemStats(&after)
			t.Logf("%d mutations: %d tables, %d findings; heap grew to %d MiB", n, tables, findings, after.HeapSys>>20)
			if grown := int64(after.HeapSys) - int64(before.HeapSys); grown > 1<<30 {
				t.Errorf("heap grew by %d bytes", grown)
			}
			if findings == 0 || tables == 0 && n >= 100 { // few may well all be damaged for good
				t.Errorf("%d tables, %d findings: the mutations test nothing", tables, findings)
			}
		})
	}
}
