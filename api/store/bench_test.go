package store_test

import (
	"context"
	"testing"

	"sheetwash/api/store"
	"sheetwash/api/store/storetest"
)

// BenchmarkRead reads what a request for a stored table needs: its analysis and the
// place of the table; and a page of 100 plots.
func BenchmarkRead(b *testing.B) {
	b.Run("SQLite", func(b *testing.B) { benchmarkRead(b, storetest.SQLite(b)) })
	if storetest.HasPostgres(b) {
		b.Run("PostgreSQL", func(b *testing.B) { benchmarkRead(b, storetest.Postgres(b)) })
	}
}

func benchmarkRead(b *testing.B, c store.Config) {
	ctx := context.Background()
	s := storetest.Open(b, c)
	season := storetest.Season(b, s, "benchmark")
	a := storetest.Analysis(b, s, season, storetest.Datasets(b, s, season, "benchmark", 100))
	scope := store.Scope{Seasons: []string{season.ID}, Published: true}
	b.Run("record", func(b *testing.B) {
		for b.Loop() {
			if _, err := s.Analysis(ctx, scope, a.ID); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("page", func(b *testing.B) {
		for b.Loop() {
			if _, err := s.Plots(ctx, scope, store.Filter{Seasons: []string{season.ID}}, store.Page{Limit: 100}); err != nil {
				b.Fatal(err)
			}
		}
	})
}
