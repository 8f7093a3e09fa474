package jobs

import (
	"context"
	"encoding/json"
	"testing"

	"sheetwash/api/store"
	"sheetwash/api/store/storetest"
)

// BenchmarkAnalysis submits an analysis of 500 datasets, whose jobs do nothing, and
// waits for its end: what the queue itself costs. With two workers.
func BenchmarkAnalysis(b *testing.B) {
	b.Run("SQLite", func(b *testing.B) { benchmarkAnalysis(b, storetest.SQLite(b)) })
	if storetest.HasPostgres(b) {
		b.Run("PostgreSQL", func(b *testing.B) { benchmarkAnalysis(b, storetest.Postgres(b)) })
	}
}

func benchmarkAnalysis(b *testing.B, c store.Config) {
	const n = 500
	ctx := context.Background()
	s := storetest.Open(b, c)
	season := storetest.Season(b, s, "benchmark")
	ids := storetest.IDs(storetest.Datasets(b, s, season, "benchmark", n))
	q, err := New(Config{Store: s, Workers: 2, Alone: s.Dialect() == store.SQLite, Work: Work{
		Dataset: func(context.Context, store.Analysis, []store.AnalysisDataset, int) (string, json.RawMessage, error) {
			return storetest.Digest("part"), nil, nil
		},
		Fold: func(context.Context, store.Analysis, []store.AnalysisDataset) ([]store.ResultTable, json.RawMessage, error) {
			return nil, nil, nil
		},
	}})
	if err != nil {
		b.Fatal(err)
	}
	if err := q.Start(ctx); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		var a store.Analysis
		storetest.Write(b, s, func(ctx context.Context, tx *store.Tx) (err error) {
			if a, err = tx.CreateAnalysis(ctx, store.Everything, store.Analysis{SeasonID: season.ID}, ids); err != nil {
				return err
			}
			return q.Submit(ctx, tx, a)
		})
		if a, err := waitOver(s, a.ID); err != nil || a.State != store.AnalysisSuccessful {
			b.Fatalf("the analysis is %+v, %v", a, err)
		}
	}
	b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "jobs/s")
	if err := q.Stop(ctx); err != nil {
		b.Fatal(err)
	}
}
