package report_test

import (
	"io"
	"runtime"
	"testing"

	"sheetwash/analysis/result"
	"sheetwash/api/report"
)

// The hydrograph of a logger may have a million rows. They stand in memory once, as
// steps of their course, and are made into rows by the block while they are written:
// what writing allocates does not grow with their number.
func TestHydrographIsWrittenInBlocks(t *testing.T) {
	allocated := func(a *result.Analysis, f report.Format) uint64 {
		t.Helper()
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		if err := report.Write(io.Discard, a, "hydrograph", report.Options{Format: f, Workers: 2}); err != nil {
			t.Fatal(err)
		}
		runtime.ReadMemStats(&after)
		return after.TotalAlloc - before.TotalAlloc
	}
	few, lots := many(30_000), many(300_000)
	for _, f := range []report.Format{report.CSV, report.JSON} {
		allocated(few, f) // what is allocated once
		if a, b := allocated(few, f), allocated(lots, f); b > a+a/2 {
			t.Errorf("%s: ten times the rows allocate %d bytes instead of %d", f, b, a)
		}
	}
}
