package storetest

import (
	"context"
	"errors"
	"reflect"
	"testing"
	"time"

	"sheetwash/api/store"
)

func secret(t *testing.T) store.SecretHash {
	t.Helper()
	text, hash, err := store.NewSecret()
	if err != nil {
		t.Fatal(err)
	}
	// 32 bytes in base64 without padding are 43 characters.
	if len(text) != len(store.SecretPrefix)+43 || store.HashSecret(text) != hash {
		t.Errorf("a secret has %d characters", len(text))
	}
	return hash
}

func keys(t *testing.T, s *store.Store) {
	ctx := context.Background()
	hash, old := secret(t), secret(t)
	past := time.Now().Add(-time.Minute).UTC().Truncate(time.Microsecond)
	var made, expired store.Key
	Write(t, s, func(ctx context.Context, tx *store.Tx) (err error) {
		made, err = tx.CreateKey(ctx, store.Everything, store.Key{Name: "dashboard", Role: store.RoleReader, Origins: []string{"https://example.org"}}, hash)
		if err != nil {
			return err
		}
		expired, err = tx.CreateKey(ctx, store.Everything, store.Key{Name: "old", Role: store.RoleManager, ExpiresAt: &past}, old)
		return err
	})
	if !made.Scope().All || made.CreatedAt.IsZero() || !expired.ExpiresAt.Equal(past) {
		t.Errorf("the keys are %+v and %+v", made, expired)
	}
	if got, err := s.KeyBySecretHash(ctx, hash); err != nil || !reflect.DeepEqual(got, made) {
		t.Errorf("the key of the secret is %+v, %v; want %+v", got, err, made)
	}
	for name, wrong := range map[string]store.SecretHash{"expired": old, "unknown": secret(t), "empty": {}} {
		if _, err := s.KeyBySecretHash(ctx, wrong); !errors.Is(err, store.ErrNotFound) {
			t.Errorf("a secret that is %s answers %v", name, err)
		}
	}
	var first *time.Time
	for range 2 { // the second time within a minute is not written
		if err := s.TouchKey(ctx, made.ID); err != nil {
			t.Fatal(err)
		}
		got, err := s.KeyBySecretHash(ctx, hash)
		if err != nil || got.LastUsedAt == nil || first != nil && !first.Equal(*got.LastUsedAt) {
			t.Errorf("the used key is %+v, %v", got, err)
		}
		first = got.LastUsedAt
	}
	var revoked *time.Time
	for range 2 { // revoking again changes nothing
		Write(t, s, func(ctx context.Context, tx *store.Tx) error {
			got, err := tx.RevokeKey(ctx, store.Everything, made.ID)
			if got.RevokedAt == nil || revoked != nil && !revoked.Equal(*got.RevokedAt) {
				t.Errorf("the revoked key is %+v", got)
			}
			revoked = got.RevokedAt
			return err
		})
	}
	if _, err := s.KeyBySecretHash(ctx, hash); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("a revoked key answers %v", err)
	}
	refuse(t, s, "revoking a key that is not there", store.ErrNotFound, func(tx *store.Tx) error {
		_, err := tx.RevokeKey(ctx, store.Everything, store.NewID())
		return err
	})
}

// seasonKeys checks that a manager of some seasons makes, sees and revokes keys of
// these seasons alone.
func seasonKeys(t *testing.T, s *store.Store) {
	ctx := context.Background()
	a, b := Season(t, s, "keys a"), Season(t, s, "keys b")
	own := store.Scope{Seasons: []string{a.ID}, Published: true}
	ids := map[string]string{}
	Write(t, s, func(ctx context.Context, tx *store.Tx) error {
		for name, seasons := range map[string][]string{"a": {a.ID}, "a and b": {a.ID, b.ID}, "all": nil} {
			k, err := tx.CreateKey(ctx, store.Everything, store.Key{Name: name, Role: store.RoleRecorder, Seasons: seasons}, secret(t))
			if err != nil {
				return err
			}
			if len(k.Seasons) != len(seasons) || k.Scope().All != (seasons == nil) {
				t.Errorf("key %q is for %v", name, k.Seasons)
			}
			ids[name] = k.ID
		}
		return nil
	})
	if got, err := s.Keys(ctx, own, store.Page{Limit: 100, Sort: "name"}); err != nil || len(got.Rows) != 1 || got.Rows[0].ID != ids["a"] {
		t.Errorf("the manager of one season sees %+v, %v", got.Rows, err)
	}
	if got, err := s.Keys(ctx, store.Scope{}, store.Page{Limit: 100}); err != nil || len(got.Rows) != 0 {
		t.Errorf("the scope of nothing sees %+v, %v", got.Rows, err)
	}
	for _, name := range []string{"a and b", "all"} {
		refuse(t, s, "revoking the key of "+name, store.ErrNotFound, func(tx *store.Tx) error {
			_, err := tx.RevokeKey(ctx, own, ids[name])
			return err
		})
	}
	for name, seasons := range map[string][]string{"b": {b.ID}, "a and b": {a.ID, b.ID}, "all seasons": nil, "no such season": {store.NewID()}} {
		refuse(t, s, "making a key of "+name, store.ErrNotFound, func(tx *store.Tx) error {
			_, err := tx.CreateKey(ctx, own, store.Key{Role: store.RoleReader, Seasons: seasons}, secret(t))
			return err
		})
	}
	Write(t, s, func(ctx context.Context, tx *store.Tx) error {
		_, err := tx.RevokeKey(ctx, own, ids["a"])
		return err
	})
	// A key whose only season is deleted must not become a key for all seasons.
	Write(t, s, func(ctx context.Context, tx *store.Tx) error { return tx.DeleteSeason(ctx, store.Everything, a.ID, 1) })
	list, err := s.Keys(ctx, store.Everything, store.Page{Limit: 1000})
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range list.Rows {
		if k.ID == ids["a"] && k.Scope().All {
			t.Error("the key of a deleted season became a key for all")
		}
	}
}
