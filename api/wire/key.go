package wire

import "time"

// Key is a key of a caller, without its secret.
type Key struct {
	ID         string     `json:"id"`
	Name       string     `json:"name"`
	Role       string     `json:"role" enums:"reader,recorder,manager"`
	Seasons    []string   `json:"seasons"` // empty: all
	Origins    []string   `json:"origins"` // that a browser may call from
	CreatedAt  time.Time  `json:"created_at" format:"date-time"`
	ExpiresAt  *time.Time `json:"expires_at" format:"date-time" extensions:"x-nullable"`
	LastUsedAt *time.Time `json:"last_used_at" format:"date-time" extensions:"x-nullable"`
	RevokedAt  *time.Time `json:"revoked_at" format:"date-time" extensions:"x-nullable"`
	Links      Links      `json:"links"`
} // @name Key

// NewKey is a key to be made.
type NewKey struct {
	Name      string     `json:"name" example:"basin dashboard"`
	Role      string     `json:"role" enums:"reader,recorder,manager"`
	Seasons   []string   `json:"seasons,omitempty"` // empty: all that the maker may
	Origins   []string   `json:"origins,omitempty"`
	ExpiresAt *time.Time `json:"expires_at,omitempty" format:"date-time"`
} // @name NewKey

// MadeKey is a new key with its secret, which is shown this once.
type MadeKey struct {
	Key
	Secret string `json:"secret"`
} // @name MadeKey
