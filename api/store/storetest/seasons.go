package storetest

import (
	"context"
	"errors"
	"testing"

	"sheetwash/api/store"
)

func seasons(t *testing.T, s *store.Store) {
	ctx := context.Background()
	made := Season(t, s, "2026")
	if made.Revision != 1 || made.ID == "" || made.CreatedAt.IsZero() || made.UpdatedAt != made.CreatedAt {
		t.Errorf("a new season is %+v", made)
	}
	if got, err := s.Season(ctx, store.Everything, made.ID); err != nil || got != made {
		t.Errorf("read back: %+v, %v; want %+v", got, err, made)
	}
	changed := made
	changed.Name, changed.Units, changed.Published = "2026, revised", "us", true
	Write(t, s, func(ctx context.Context, tx *store.Tx) error {
		got, err := tx.UpdateSeason(ctx, store.Everything, changed)
		if got.Revision != 2 || got.Name != changed.Name || !got.Published || got.Units != "us" {
			t.Errorf("the changed season is %+v", got)
		}
		return err
	})
	refuse(t, s, "an old revision", store.ErrRevision, func(tx *store.Tx) error {
		_, err := tx.UpdateSeason(ctx, store.Everything, changed)
		return err
	})
	refuse(t, s, "no such season", store.ErrNotFound, func(tx *store.Tx) error {
		_, err := tx.UpdateSeason(ctx, store.Everything, store.Season{ID: store.NewID(), Revision: 1})
		return err
	})
	refuse(t, s, "deleting an old revision", store.ErrRevision, func(tx *store.Tx) error {
		return tx.DeleteSeason(ctx, store.Everything, made.ID, 1)
	})
	refuse(t, s, "being published gives no right to delete", store.ErrNotFound, func(tx *store.Tx) error {
		return tx.DeleteSeason(ctx, store.Scope{Published: true}, made.ID, 2)
	})
	Write(t, s, func(ctx context.Context, tx *store.Tx) error {
		return tx.DeleteSeason(ctx, store.Everything, made.ID, 2)
	})
	if _, err := s.Season(ctx, store.Everything, made.ID); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("a deleted season answers %v", err)
	}
	full := Season(t, s, "with a dataset")
	Datasets(t, s, full, "full", 1)
	refuse(t, s, "deleting a season with datasets", store.ErrConflict, func(tx *store.Tx) error {
		return tx.DeleteSeason(ctx, store.Everything, full.ID, 1)
	})
}

func events(t *testing.T, s *store.Store) {
	ctx := context.Background()
	season := Season(t, s, "events")
	var made store.Event
	Write(t, s, func(ctx context.Context, tx *store.Tx) (err error) {
		made, err = tx.CreateEvent(ctx, store.Everything, store.Event{SeasonID: season.ID, Name: "Pell Farm", Date: "2026-06-01", Place: "Pell", Crew: "teal", Simulator: "trailer"})
		return err
	})
	if got, err := s.Event(ctx, store.Everything, made.ID); err != nil || got != made || got.Revision != 1 {
		t.Errorf("read back: %+v, %v; want %+v", got, err, made)
	}
	changed := made
	changed.Date, changed.Crew = "2026-06-02", "slate"
	Write(t, s, func(ctx context.Context, tx *store.Tx) (err error) {
		changed, err = tx.UpdateEvent(ctx, store.Everything, changed)
		return err
	})
	if changed.Revision != 2 || changed.Crew != "slate" || changed.CreatedAt != made.CreatedAt {
		t.Errorf("the changed event is %+v", changed)
	}
	refuse(t, s, "an event of no season", store.ErrNotFound, func(tx *store.Tx) error {
		_, err := tx.CreateEvent(ctx, store.Everything, store.Event{SeasonID: store.NewID()})
		return err
	})
	refuse(t, s, "an old revision", store.ErrRevision, func(tx *store.Tx) error {
		_, err := tx.UpdateEvent(ctx, store.Everything, made)
		return err
	})
	refuse(t, s, "deleting a season with an event", store.ErrConflict, func(tx *store.Tx) error {
		return tx.DeleteSeason(ctx, store.Everything, season.ID, 1)
	})
	d, rows := Dataset(season.ID, "of the event")
	d.EventID = made.ID
	Write(t, s, func(ctx context.Context, tx *store.Tx) error {
		_, _, err := tx.InsertDataset(ctx, store.Everything, d, rows)
		return err
	})
	refuse(t, s, "deleting an event with a dataset", store.ErrConflict, func(tx *store.Tx) error {
		return tx.DeleteEvent(ctx, store.Everything, made.ID, 2)
	})
	var empty store.Event
	Write(t, s, func(ctx context.Context, tx *store.Tx) (err error) {
		if empty, err = tx.CreateEvent(ctx, store.Everything, store.Event{SeasonID: season.ID, Name: "nothing came"}); err != nil {
			return err
		}
		return tx.DeleteEvent(ctx, store.Everything, empty.ID, 1)
	})
	if _, err := s.Event(ctx, store.Everything, empty.ID); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("a deleted event answers %v", err)
	}
}

// refuse checks that a transaction fails with an error.
func refuse(t *testing.T, s *store.Store, what string, want error, do func(*store.Tx) error) {
	t.Helper()
	if err := s.InTx(context.Background(), do); !errors.Is(err, want) {
		t.Errorf("%s: %v, want %v", what, err, want)
	}
}

func audit(t *testing.T, s *store.Store) {
	ctx := context.Background()
	season := Season(t, s, "audited")
	Write(t, s, func(ctx context.Context, tx *store.Tx) error {
		for _, action := range []string{"season.create", "season.publish", "dataset.delete"} {
			if err := tx.AppendAudit(ctx, store.AuditEntry{SeasonID: season.ID, Caller: "operator", Action: action, Object: season.ID}); err != nil {
				return err
			}
		}
		return tx.AppendAudit(ctx, store.AuditEntry{Caller: "operator", Action: "key.create"})
	})
	own := store.Scope{Seasons: []string{season.ID}}
	list, err := s.Audit(ctx, own, store.Filter{}, store.Page{Limit: 2, Sort: "-id"})
	if err != nil || len(list.Rows) != 2 || !list.More || list.Rows[0].Action != "dataset.delete" || list.Rows[0].At.IsZero() {
		t.Fatalf("the newest of the log are %+v, %v", list, err)
	}
	list, err = s.Audit(ctx, own, store.Filter{}, store.Page{Limit: 2, Sort: "-id", After: list.Next})
	if err != nil || len(list.Rows) != 1 || list.More || list.Rows[0].Action != "season.create" {
		t.Errorf("the oldest of the log are %+v, %v", list, err)
	}
}

// strangeTexts checks that both databases refuse the same texts, in reads and
// writes, before they see them.
func strangeTexts(t *testing.T, s *store.Store) {
	for _, text := range []string{"a\x00b", "caf\xe9"} {
		refuse(t, s, "writing", store.ErrText, func(tx *store.Tx) error {
			_, err := tx.CreateSeason(context.Background(), store.Season{Name: text})
			return err
		})
		if _, err := s.Season(context.Background(), store.Everything, text); !errors.Is(err, store.ErrText) {
			t.Errorf("reading %q: %v, want ErrText", text, err)
		}
	}
	quoted := Season(t, s, `'; DROP TABLE seasons; -- ? $1 "ß" 雨`)
	if got, err := s.Season(context.Background(), store.Everything, quoted.ID); err != nil || got != quoted {
		t.Errorf("a text of SQL came back as %+v, %v", got, err)
	}
}

func rollback(t *testing.T, s *store.Store) {
	stop := errors.New("stop")
	var made store.Season
	refuse(t, s, "a failing transaction", stop, func(tx *store.Tx) (err error) {
		if made, err = tx.CreateSeason(context.Background(), store.Season{Name: "never"}); err != nil {
			return err
		}
		if _, err = tx.Season(context.Background(), store.Everything, made.ID); err != nil {
			t.Errorf("a transaction does not see what it wrote: %v", err)
		}
		return stop
	})
	if _, err := s.Season(context.Background(), store.Everything, made.ID); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("what was rolled back answers %v", err)
	}
}
