package report_test

import (
	"io"
	"testing"

	"sheetwash/api/report"
)

// BenchmarkWriteSeason writes the hydrograph and the plot results of a season of
// 10,000 plots with 30 bottles each.
func BenchmarkWriteSeason(b *testing.B) {
	a := many(300_000)
	a.Plots = a.Plots[:250_000]
	for _, f := range report.Formats() {
		b.Run(string(f), func(b *testing.B) {
			for b.Loop() {
				for _, table := range []string{"hydrograph", "plot_results"} {
					if err := report.Write(io.Discard, a, table, report.Options{Format: f}); err != nil {
						b.Fatal(err)
					}
				}
			}
		})
	}
}
