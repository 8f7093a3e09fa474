package readings

import (
	"context"
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"sheetwash/ingest/readings/loggerfile"
	"sheetwash/ingest/table"
)

// BenchmarkReduce reads and reduces an invented logger file of 5,000,000 rows
// and 8 columns (280 MB), which it writes first, plot by plot and second by
// second, on all processors and on one.
//
//	go test -run '^$' -bench Reduce ./ingest/readings
func BenchmarkReduce(b *testing.B) {
	for _, order := range []struct {
		name      string
		timeMajor bool
	}{{"plot-by-plot", false}, {"second-by-second", true}} {
		b.Run(order.name, func(b *testing.B) {
			layout := loggerfile.Layout{Rows: 5_000_000, TimeMajor: order.timeMajor}
			path := filepath.Join(b.TempDir(), "readings.csv")
			size := writeFile(b, path, layout)
			for _, workers := range []int{1, runtime.GOMAXPROCS(0)} {
				b.Run("workers="+string(rune('0'+workers%10)), func(b *testing.B) {
					b.SetBytes(size)
					for b.Loop() {
						reduceFile(b, path, workers, layout)
					}
					b.ReportMetric(float64(layout.Rows)*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mrows/s")
					b.ReportMetric(peakMB(), "peak-MB")
				})
			}
		})
	}
}

func writeFile(b *testing.B, path string, layout loggerfile.Layout) int64 {
	f, err := os.Create(path)
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	if err := loggerfile.Write(f, layout); err != nil {
		b.Fatal(err)
	}
	info, err := f.Stat()
	if err != nil {
		b.Fatal(err)
	}
	return info.Size()
}

func reduceFile(b *testing.B, path string, workers int, layout loggerfile.Layout) {
	f, err := os.Open(path)
	if err != nil {
		b.Fatal(err)
	}
	t, err := table.OpenText(path, "", f, table.TextOptions{})
	if err != nil {
		b.Fatal(err)
	}
	defer t.Close()
	got, err := Reduce(context.Background(), loggerfile.Bind(t), Options{Workers: workers, Unit: loggerfile.Unit})
	if err != nil {
		b.Fatal(err)
	}
	if got.Rows != int64(layout.Rows) || len(got.Series) != layout.Plots() || got.Issues.Errors() > 0 {
		b.Fatalf("%d rows, %d series, %d errors", got.Rows, len(got.Series), got.Issues.Errors())
	}
}
