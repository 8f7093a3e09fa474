package columnar_test

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/compress"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"

	"sheetwash/ingest/columnar"
	"sheetwash/ingest/table"
)

const benchRows = 5_000_000

// BenchmarkScan reads and reduces logger readings as the reducer of package
// readings does: sum, count and last time per run, plot and channel.
func BenchmarkScan(b *testing.B) {
	dir := b.TempDir()
	for _, name := range []string{"readings.arrow", "readings.parquet"} {
		path := filepath.Join(dir, name)
		if err := writeReadings(path, benchRows, false); err != nil {
			b.Fatal(err)
		}
		info, err := os.Stat(path)
		if err != nil {
			b.Fatal(err)
		}
		for _, workers := range []int{1, 2} {
			b.Run(fmt.Sprintf("%s/workers=%d", name, workers), func(b *testing.B) {
				b.SetBytes(info.Size())
				for b.Loop() {
					sums, err := reduce(context.Background(), path, workers)
					if err != nil || len(sums) != 60*6*4 {
						b.Fatal(len(sums), err)
					}
				}
				b.ReportMetric(benchRows*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
			})
		}
	}
}

type key struct{ run, plot, channel string }

type sum struct {
	n           int64
	value, last float64
}

// reduce groups by run, plot and channel.
func reduce(ctx context.Context, path string, workers int) (map[key]sum, error) {
	t, err := columnar.Open(ctx, filepath.Base(path), "readings", columnar.Source{Path: path}, columnar.Options{})
	if err != nil {
		return nil, err
	}
	defer t.Close()
	at := map[string]int{}
	for i, f := range t.Fields() {
		at[f.Name] = i
	}
	want := make([]bool, len(t.Fields()))
	for _, name := range []string{"run", "plot", "time", "channel", "value"} {
		i, ok := at[name]
		if !ok {
			return nil, fmt.Errorf("no column %s: %v", name, t.Issues().All())
		}
		want[i] = true
	}
	sums := map[key]sum{}
	var rooms sync.Pool
	var bad error
	err = t.Scan(ctx, table.ScanOptions{Workers: workers, Want: want}, func(b *table.Batch) any {
		for _, i := range b.Issues.All() {
			return i
		}
		room, _ := rooms.Get().(*[]sum)
		return groupBatch(b, at, room)
	}, func(r any) {
		switch r := r.(type) {
		case partial:
			for i, s := range *r.sums {
				if s.n == 0 {
					continue
				}
				k := key{r.runs[i/len(r.channels)/len(r.plots)], r.plots[i/len(r.channels)%len(r.plots)], r.channels[i%len(r.channels)]}
				have := sums[k]
				sums[k] = sum{have.n + s.n, have.value + s.value, max(have.last, s.last)}
			}
			rooms.Put(r.sums)
		case error:
			bad = r
		}
	})
	return sums, errors.Join(err, bad)
}

type partial struct {
	runs, plots, channels []string
	sums                  *[]sum
}

func groupBatch(b *table.Batch, at map[string]int, room *[]sum) any {
	run, plot, channel := &b.Cols[at["run"]], &b.Cols[at["plot"]], &b.Cols[at["channel"]]
	if run.Kind != table.Dict || plot.Kind != table.Dict || channel.Kind != table.Dict {
		return fmt.Errorf("row %d: a text column came without codes", b.Row(0))
	}
	values, times := b.Cols[at["value"]].Float, b.Cols[at["time"]].Float
	n := len(run.Words) * len(plot.Words) * len(channel.Words)
	if room == nil || cap(*room) < n {
		room = new([]sum)
		*room = make([]sum, n)
	}
	sums := (*room)[:n]
	clear(sums)
	plots, channels := int32(len(plot.Words)), int32(len(channel.Words))
	for i := range b.N {
		s := &sums[(run.Codes[i]*plots+plot.Codes[i])*channels+channel.Codes[i]]
		s.n++
		s.value += values[i]
		s.last = max(s.last, times[i])
	}
	*room = sums
	return partial{run.Words, plot.Words, channel.Words, room}
}

// writeReadings writes n rows of invented logger readings, in the order in which
// loggers write: every plot and channel at one time, then the next time.
func writeReadings(path string, n int, zstd bool) error {
	dict := &arrow.DictionaryType{IndexType: arrow.PrimitiveTypes.Int32, ValueType: arrow.BinaryTypes.String}
	var text arrow.DataType = dict
	pq := strings.HasSuffix(path, ".parquet")
	if pq {
		text = arrow.BinaryTypes.String
	}
	schema := arrow.NewSchema([]arrow.Field{
		{Name: "run", Type: text}, {Name: "plot", Type: text},
		{Name: "time", Type: arrow.PrimitiveTypes.Float64, Metadata: arrow.MetadataFrom(map[string]string{"unit": "s"})},
		{Name: "channel", Type: text}, {Name: "value", Type: arrow.PrimitiveTypes.Float64},
		{Name: "unit", Type: text}, {Name: "battery", Type: arrow.PrimitiveTypes.Float64},
		{Name: "counter", Type: arrow.PrimitiveTypes.Int64},
	}, nil)
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer f.Close()
	var write func(arrow.Record) error
	var done func() error
	if pq {
		w, err := pqarrow.NewFileWriter(schema, f, parquet.NewWriterProperties(parquet.WithCompression(compress.Codecs.Zstd)), pqarrow.DefaultWriterProps())
		if err != nil {
			return err
		}
		write, done = w.Write, w.Close
	} else {
		opts := []ipc.Option{ipc.WithSchema(schema)}
		if zstd {
			opts = append(opts, ipc.WithZstd())
		}
		w, err := ipc.NewFileWriter(f, opts...)
		if err != nil {
			return err
		}
		write, done = w.Write, w.Close
	}
	const group = 1 << 17
	for start := 0; start < n; start += group {
		rec := readingsRecord(schema, start, min(n, start+group))
		if err := write(rec); err != nil {
			return err
		}
		rec.Release()
	}
	return done()
}

var channels = []string{"runoff_mass", "drainage_mass", "pressure", "soil_water"}
var channelUnits = []string{"g", "g", "kPa", "%"}

// words of a column: the same in every batch, as IPC files demand.
func readingsRecord(schema *arrow.Schema, start, end int) arrow.Record {
	b := array.NewRecordBuilder(memory.DefaultAllocator, schema)
	defer b.Release()
	app := func(col int, words []string, at func(i int) int) {
		switch fb := b.Field(col).(type) {
		case *array.StringBuilder:
			for i := start; i < end; i++ {
				fb.Append(words[at(i)])
			}
		case *array.BinaryDictionaryBuilder:
			sb := array.NewStringBuilder(memory.DefaultAllocator)
			sb.AppendValues(words, nil)
			if err := fb.InsertStringDictValues(sb.NewStringArray()); err != nil {
				panic(err)
			}
			for i := start; i < end; i++ {
				if err := fb.AppendString(words[at(i)]); err != nil {
					panic(err)
				}
			}
		}
	}
	runs, plots := make([]string, 60), make([]string, 6)
	for i := range runs {
		runs[i] = fmt.Sprintf("AM-%d", i+1)
	}
	for i := range plots {
		plots[i] = fmt.Sprint(i + 1)
	}
	perRun := benchRows/60 + 1
	app(0, runs, func(i int) int { return i / perRun })
	app(1, plots, func(i int) int { return i / 4 % 6 })
	app(3, channels, func(i int) int { return i % 4 })
	app(5, channelUnits[1:], func(i int) int { return max(0, i%4-1) })
	for i := start; i < end; i++ {
		b.Field(2).(*array.Float64Builder).Append(float64(i % perRun / 24))
		b.Field(4).(*array.Float64Builder).Append(float64(i%perRun)*0.013 + float64(uint32(i)*2654435761%1000)/1000)
		b.Field(6).(*array.Float64Builder).Append(12.5 - float64(i%1000)/1000)
		b.Field(7).(*array.Int64Builder).Append(int64(i))
	}
	return b.NewRecord()
}
