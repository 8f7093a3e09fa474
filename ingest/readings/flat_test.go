package readings

import (
	"context"
	"io"
	"runtime"
	"testing"

	"sheetwash/ingest/readings/loggerfile"
	"sheetwash/ingest/table"
)

// Memory does not grow with the file: eight times the rows, second by second and
// with as many bins as allowed, take no more than a few blocks of 1 MiB. The file
// is piped and never stands in memory or on disk.
func TestMemoryIsFlat(t *testing.T) {
	const plots = 300
	before := obtained(t, plots, 50_000)
	after := obtained(t, plots, 400_000)
	if grown := int64(after) - int64(before); grown > 12<<20 {
		t.Errorf("%d bytes more for 20 MB more", grown)
	}
}

// obtained reduces a file and returns the heap obtained from the system so far,
// which never shrinks.
func obtained(t *testing.T, plots, rows int) uint64 {
	t.Helper()
	r, w := io.Pipe()
	go func() {
		w.CloseWithError(loggerfile.Write(w, loggerfile.Layout{Rows: rows, PerPlot: rows / plots, TimeMajor: true}))
	}()
	tab, err := table.OpenText("readings.csv", "", r, table.TextOptions{})
	if err != nil {
		t.Fatal(err)
	}
	defer tab.Close()
	got, err := Reduce(context.Background(), loggerfile.Bind(tab), Options{Workers: 2, MaxBins: 5000, Unit: loggerfile.Unit})
	if err != nil || got.Rows != int64(rows) || len(got.Series) < plots {
		t.Fatalf("%d rows, %d series, %v", got.Rows, len(got.Series), err)
	}
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.HeapSys
}
