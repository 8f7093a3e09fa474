package storetest

import (
	"context"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/api/store"
)

// walks checks that a walk over pages, in any order and with pages of any length,
// meets every row that was there all the time, once, whatever is inserted and
// deleted meanwhile; and no row twice.
func walks(t *testing.T, s *store.Store) {
	rapid.Check(t, func(t *rapid.T) {
		ctx := context.Background()
		var season store.Season
		here := map[string]int64{}
		var order []string // ids of here, in the order of their making
		make1 := func(tx *store.Tx) error {
			name := rapid.SampledFrom([]string{"", "a", "b", "Ä", "zz"}).Draw(t, "name")
			e, err := tx.CreateEvent(ctx, store.Everything, store.Event{SeasonID: season.ID, Name: name, Date: "2026-05-0" + rapid.SampledFrom([]string{"1", "2"}).Draw(t, "day")})
			here[e.ID] = e.Revision
			order = append(order, e.ID)
			return err
		}
		write := func(do func(*store.Tx) error) {
			if err := s.InTx(ctx, do); err != nil {
				t.Fatalf("write: %v", err)
			}
		}
		write(func(tx *store.Tx) (err error) {
			if season, err = tx.CreateSeason(ctx, store.Season{Name: "walk"}); err != nil {
				return err
			}
			for range rapid.IntRange(0, 12).Draw(t, "rows") {
				if err := make1(tx); err != nil {
					return err
				}
			}
			return nil
		})
		stayed := slices.Clone(order)
		met := walk(t, s, season,
			rapid.SampledFrom([]string{"id", "-id", "name", "-name", "date", "-date", "created", "-created"}).Draw(t, "sort"),
			rapid.IntRange(1, 5).Draw(t, "limit"),
			func() {
				write(func(tx *store.Tx) error {
					for range rapid.IntRange(0, 2).Draw(t, "inserted") {
						if err := make1(tx); err != nil {
							return err
						}
					}
					for range rapid.IntRange(0, 2).Draw(t, "deleted") {
						if len(order) == 0 {
							return nil
						}
						i := rapid.IntRange(0, len(order)-1).Draw(t, "which")
						id := order[i]
						order = slices.Delete(order, i, i+1)
						stayed = slices.DeleteFunc(stayed, func(s string) bool { return s == id })
						if err := tx.DeleteEvent(ctx, store.Everything, id, here[id]); err != nil {
							return err
						}
					}
					return nil
				})
			})
		times := map[string]int{}
		for _, e := range met {
			if times[e.ID]++; times[e.ID] > 1 {
				t.Fatalf("%s was met twice", e.ID)
			}
		}
		for _, id := range stayed {
			if times[id] != 1 {
				t.Fatalf("%s, which was there all the time, was missed", id)
			}
		}
	})
}
