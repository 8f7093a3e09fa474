package ingest_test

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"sheetwash/ingest"
)

// writeSeason writes one dataset of plots with samples each, ten plots to a run.
func writeSeason(b testing.TB, dir string, plots, samples int) (bytes int64) {
	b.Helper()
	write := func(name string, fill func(w *bufio.Writer)) {
		f, err := os.Create(filepath.Join(dir, name))
		if err != nil {
			b.Fatal(err)
		}
		w := bufio.NewWriter(f)
		fill(w)
		if err := w.Flush(); err != nil {
			b.Fatal(err)
		}
		info, err := f.Stat()
		if err != nil {
			b.Fatal(err)
		}
		bytes += info.Size()
		if err := f.Close(); err != nil {
			b.Fatal(err)
		}
	}
	write("runs.csv", func(w *bufio.Writer) {
		fmt.Fprintln(w, "run,event,intensity [mm/h],rain_duration [min]")
		for r := range plots / 10 {
			fmt.Fprintf(w, "R%d,field day %d,76,30\n", r, r/4)
		}
	})
	write("plots.csv", func(w *bufio.Writer) {
		fmt.Fprintln(w, "run,plot,treatment,area [m2],runoff_start [min]")
		for p := range plots {
			fmt.Fprintf(w, "R%d,P%d,treatment %d,0.75,1.5\n", p/10, p, p%7)
		}
	})
	write("samples.csv", func(w *bufio.Writer) {
		fmt.Fprintln(w, "run,plot,stream,start [min],end [min],volume [mL],sediment_mass [g]")
		for p := range plots {
			for s := range samples {
				fmt.Fprintf(w, "R%d,P%d,runoff,%d,%d,%d.5,%d.%02d\n", p/10, p, s, s+1, 600+(p+s)%50, 1+s%3, p%100)
			}
		}
	})
	return bytes
}

// BenchmarkRead reads 10,000 plots with 30 samples each from CSV to a dataset.
func BenchmarkRead(b *testing.B) {
	const plots, samples = 10_000, 30
	dir := b.TempDir()
	b.SetBytes(writeSeason(b, dir, plots, samples))
	for b.Loop() {
		sources, _, err := ingest.Find([]string{dir}, ingest.FindOptions{})
		if err != nil {
			b.Fatal(err)
		}
		o, err := ingest.Read(context.Background(), sources[0], ingest.Options{Workers: 2})
		if err != nil || o.Dataset == nil {
			b.Fatal(err, list(o.Issues))
		}
	}
	b.ReportMetric(float64(b.N)*plots*samples/b.Elapsed().Seconds(), "rows/s")
}
