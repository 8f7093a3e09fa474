package season_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/analysis/season"
)

// seasonOf returns the rows of a season: every treatment once more often than
// plots in each run, one run per event, a tenth of the plots without runoff.
func seasonOf(events, treatments, plots int) []result.PlotRow {
	r := rand.New(rand.NewPCG(7, 11))
	var rows []result.PlotRow
	for e := range events {
		for t := range treatments {
			for p := range plots {
				dry := r.IntN(10) == 0
				for _, m := range result.Catalogue() {
					if m.Of != "plot" {
						continue
					}
					row := result.PlotRow{
						Subject: &result.Subject{Dataset: fmt.Sprintf("event-%03d", e), Season: "2025", Event: fmt.Sprintf("event-%03d", e), Run: "r1",
							Plot: fmt.Sprintf("t%03dp%d", t, p), Treatment: fmt.Sprintf("treatment-%03d", t)},
						Metric: m.ID, Method: "m", Headline: true,
						Unit: m.SI, Level: 0.95,
						Estimate: result.Estimate{Value: quantity.Some(10 + 5*r.Float64()), U: quantity.Some(0.5), UShared: quantity.Some(0.2), Censored: result.Observed},
					}
					if dry && m.Kind == result.Skewed {
						row.Value = quantity.Some(0)
					}
					if dry && (m.ID == result.TimeToRunoff || m.ID == result.SteadyInfiltrationRate) {
						row.Value, row.Censored = quantity.Some(60), result.Right
					}
					rows = append(rows, row)
				}
			}
		}
	}
	return rows
}

// 10,000 plots in 12 events.
func BenchmarkTreatments(b *testing.B) {
	for _, c := range []struct{ events, treatments, plots int }{{12, 5, 4}, {12, 208, 4}, {12, 8, 104}, {1, 1, 10000}} {
		rows := seasonOf(c.events, c.treatments, c.plots)
		b.Run(fmt.Sprintf("plots=%d/treatments=%d", c.events*c.treatments*c.plots, c.treatments), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := season.Treatments(rows, 0.95); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// 1,000 treatments in 12 events with the full default path: 48,000 plots, every metric.
func BenchmarkSummarise(b *testing.B) {
	rows := seasonOf(12, 1000, 4)
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := season.Summarise(rows, season.Settings{Level: 0.95, Workers: 2}); err != nil {
			b.Fatal(err)
		}
	}
}
