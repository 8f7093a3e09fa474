package columnar_test

import (
	"context"
	"testing"

	"sheetwash/ingest/columnar"
)

// small bounds what one input may take, so that many can be tried.
var small = columnar.Options{MaxRows: 100_000, MaxBytes: 16 << 20}

// FuzzIPC decodes Arrow files and streams in this process.
func FuzzIPC(f *testing.F) {
	for _, format := range fileFormats {
		if !format.parquet {
			f.Add(format.write(f, mixed(20), mixed(3)))
		}
	}
	for _, name := range []string{"polars_uncompressed.arrow", "polars_lz4.arrow", "polars_zstd.arrow", "polars.arrows"} {
		f.Add(testdata(f, name))
	}
	f.Fuzz(decodes)
}

// FuzzParquet decodes Parquet as a program does, in a child: what the library does
// there must reach this process as rows or a finding.
func FuzzParquet(f *testing.F) {
	for _, format := range fileFormats {
		if format.parquet {
			f.Add(format.write(f, mixed(20)))
		}
	}
	f.Add(testdata(f, "polars.parquet"))
	f.Fuzz(decodes)
}

func decodes(t *testing.T, data []byte) {
	if len(data) > 1<<20 {
		return
	}
	c, err := readAll(context.Background(), data, small, 2, nil)
	if err != nil {
		t.Fatal(err)
	}
	if c.fields == nil && len(c.issues) == 0 {
		t.Fatal("neither a table nor a finding")
	}
}
