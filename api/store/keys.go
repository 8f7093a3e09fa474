package store

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"strings"
	"time"
)

// SecretHash is the SHA-256 of a key's secret.
type SecretHash [sha256.Size]byte

// SecretPrefix starts every secret, so that one that leaked is recognised.
const SecretPrefix = "swk_"

// NewSecret makes a key's secret from 256 random bits. It is shown once and only
// its hash is kept.
func NewSecret() (string, SecretHash, error) {
	var bits [32]byte
	if _, err := rand.Read(bits[:]); err != nil {
		return "", SecretHash{}, fmt.Errorf("make a secret: %w", err)
	}
	secret := SecretPrefix + base64.RawURLEncoding.EncodeToString(bits[:])
	return secret, HashSecret(secret), nil
}

// HashSecret is the hash of what a caller sent. A secret has 256 random bits, so a
// plain digest is as good as a slow one.
func HashSecret(secret string) SecretHash { return sha256.Sum256([]byte(secret)) }

var keyList = listing[Key]{
	from: "access_keys WHERE 1 = 1",
	columns: "id, name, role, COALESCE((SELECT string_agg(season_id, ',' ORDER BY season_id) FROM key_seasons WHERE key_id = access_keys.id), ''), " +
		"origins, created_by, created_at, expires_at, last_used_at, revoked_at",
	id:    "id",
	see:   ownKeys,
	sorts: map[string]sortBy{"name": {column: "name"}, "created": {"created_at", true}},
	read: func(scan scanner) (k Key, err error) {
		var seasons string
		err = scan(&k.ID, &k.Name, &k.Role, &seasons, asJSON{&k.Origins}, &k.CreatedBy,
			instant{&k.CreatedAt}, maybe{&k.ExpiresAt}, maybe{&k.LastUsedAt}, maybe{&k.RevokedAt})
		if seasons != "" {
			k.Seasons = strings.Split(seasons, ",")
		}
		return k, err
	},
}

// ownKeys is the condition that every season of a key, of which there is one at
// least, is in the scope.
func ownKeys(q *statement, s Scope) {
	if s.All {
		q.add("1 = 1")
		return
	}
	q.add("EXISTS (SELECT 1 FROM key_seasons AS has WHERE has.key_id = access_keys.id) AND " +
		"NOT EXISTS (SELECT 1 FROM key_seasons AS other WHERE other.key_id = access_keys.id AND NOT (")
	q.scope("other.season_id", s)
	q.add("))")
}

// CreateKey writes a new key; ID and CreatedAt are given by the store. Its seasons
// must exist and be in scope, and a scope that is not all makes no key for all
// seasons: ErrNotFound.
func (t *Tx) CreateKey(ctx context.Context, s Scope, new Key, hash SecretHash) (Key, error) {
	if len(new.Seasons) == 0 && !s.All {
		return Key{}, fmt.Errorf("make a key for all seasons: %w", ErrNotFound)
	}
	for _, id := range new.Seasons {
		if _, err := t.Season(ctx, s.owned(), id); err != nil {
			return Key{}, fmt.Errorf("find the season of the key: %w", err)
		}
	}
	new.ID, new.CreatedAt, new.LastUsedAt, new.RevokedAt = NewID(), t.now(), nil, nil
	q := statement{}
	q.add("INSERT INTO access_keys (id, name, role, origins, created_by, created_at, expires_at, secret_sha256) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
		new.ID, new.Name, new.Role, jsonText(new.Origins), new.CreatedBy, micros(new.CreatedAt), perhaps(new.ExpiresAt), hash[:])
	if _, err := t.exec(ctx, q); err != nil {
		return Key{}, fmt.Errorf("write the key: %w", err)
	}
	seasons := batch{head: "INSERT INTO key_seasons (key_id, season_id) VALUES ", width: 2, tail: " ON CONFLICT DO NOTHING"}
	for _, id := range new.Seasons {
		seasons.add(new.ID, id)
	}
	if err := seasons.write(ctx, t); err != nil {
		return Key{}, fmt.Errorf("write the seasons of the key: %w", err)
	}
	return keyList.get(ctx, &t.Reader, Everything, new.ID)
}

// KeyBySecretHash returns the key of a secret if it is neither revoked nor
// expired, else ErrNotFound.
func (r *Reader) KeyBySecretHash(ctx context.Context, hash SecretHash) (Key, error) {
	q := statement{}
	q.add("SELECT secret_sha256, "+keyList.columns+" FROM access_keys WHERE secret_sha256 = ? AND revoked_at IS NULL", hash[:])
	type found struct {
		kept []byte
		key  Key
	}
	f, err := one(ctx, r, q, func(scan scanner) (f found, err error) {
		f.key, err = keyList.read(func(to ...any) error { return scan(append([]any{&f.kept}, to...)...) })
		return f, err
	})
	if err != nil {
		return Key{}, err
	}
	if subtle.ConstantTimeCompare(f.kept, hash[:]) != 1 {
		return Key{}, ErrNotFound
	}
	if f.key.ExpiresAt != nil && !r.now().Before(*f.key.ExpiresAt) {
		return Key{}, ErrNotFound
	}
	return f.key, nil
}

// TouchKey notes that a key was used, at most once a minute.
func (s *Store) TouchKey(ctx context.Context, id string) error {
	now := s.now()
	q := statement{}
	q.add("SELECT id FROM access_keys WHERE id = ? AND COALESCE(last_used_at, 0) <= ?", id, micros(now.Add(-time.Minute)))
	due, err := all(ctx, &s.Reader, q, func(scan scanner) (id string, err error) { return id, scan(&id) })
	if err != nil || len(due) == 0 {
		return err
	}
	return s.InTx(ctx, func(t *Tx) error {
		q := statement{}
		q.add("UPDATE access_keys SET last_used_at = ? WHERE id = ?", micros(now), id)
		_, err := t.exec(ctx, q)
		return err
	})
}

// RevokeKey ends a key, at once and for good. A caller whose scope is not all may
// only revoke keys whose seasons are all its own; else ErrNotFound. Revoking again
// changes nothing.
func (t *Tx) RevokeKey(ctx context.Context, s Scope, id string) (Key, error) {
	if _, err := keyList.get(ctx, &t.Reader, s.owned(), id); err != nil {
		return Key{}, err
	}
	q := statement{}
	q.add("UPDATE access_keys SET revoked_at = ? WHERE id = ? AND revoked_at IS NULL", micros(t.now()), id)
	if _, err := t.exec(ctx, q); err != nil {
		return Key{}, fmt.Errorf("revoke the key: %w", err)
	}
	return keyList.get(ctx, &t.Reader, Everything, id)
}

// Keys lists keys, revoked and expired ones too. A caller whose scope is not all
// sees keys whose seasons are all its own. Sorts: id, name, created.
func (r *Reader) Keys(ctx context.Context, s Scope, p Page) (List[Key], error) {
	return keyList.page(ctx, r, s.owned(), Filter{}, p)
}
